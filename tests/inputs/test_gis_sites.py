"""Sites of GIS files: areas, rules of resampling, and words for what is wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely

from spreadsim.inputs import Site
from tests.inputs.making import SOUTH, WEST, box, disc, geojson, gpkg, points, problems, read, tif

EDGE = shapely.Polygon(
    [(WEST + 3, SOUTH + 1), (WEST + 93, SOUTH + 11), (WEST + 80, SOUTH + 90), (WEST + 2, SOUTH + 60)]
)
BOUNDARY = 'boundary = "edge.gpkg"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    gpkg(tmp_path / "edge.gpkg", [EDGE.difference(disc(50, 40, 8))])
    return tmp_path


def said(site: Site) -> str:
    return "\n".join(site.remarks)


def test_a_boundary_gives_grid_ground_and_reference_system(folder: Path) -> None:
    site = read(folder, BOUNDARY)
    assert site.crs == "EPSG:32610" and site.origin == (WEST + 2, SOUTH) and (site.ny, site.nx) == (45, 46)
    assert site.plantable.sum() * 4 == pytest.approx(EDGE.difference(disc(50, 40, 8)).area, rel=1e-9)
    assert "the middle of the site lies at 48.75" in said(site)


def test_a_boundary_in_degrees_has_the_area_of_the_ellipsoid(tmp_path: Path) -> None:
    ring = shapely.Polygon([(-122.4, 49.2), (-122.398, 49.2005), (-122.3985, 49.202), (-122.4005, 49.2015)])
    geojson(tmp_path / "edge.geojson", [ring])
    words = problems(tmp_path, 'boundary = "edge.geojson"')
    assert '"EPSG:32610" would do, or "auto" chooses' in words
    site = read(tmp_path, 'boundary = "edge.geojson"\ncrs = "auto"\n')
    true = abs(pyproj.Geod(ellps="WGS84").geometry_area_perimeter(ring)[0])
    scale = pyproj.Proj("EPSG:32610").get_factors(-122.4, 49.2).areal_scale
    assert site.crs == "EPSG:32610"
    assert site.plantable.sum() * 4 == pytest.approx(true * scale, rel=1e-4)


def test_mats_are_exact_by_area_and_the_higher_cover_counts(folder: Path) -> None:
    shapes, covers = [disc(30, 30, 12), disc(40, 30, 10), disc(85, 50, 20)], [80, 50, 30]
    gpkg(folder / "mats.gpkg", shapes, {"cover": covers})
    ground = EDGE.difference(disc(50, 40, 8))
    a, b, c = (shape.intersection(ground) for shape in shapes)
    site = read(folder, BOUNDARY + 'mats = { file = "mats.gpkg", scale = "percent" }')
    expected = 0.8 * a.area + 0.5 * b.difference(a).area + 0.3 * c.area
    assert (site.mat * site.plantable).sum() * 4 == pytest.approx(expected, rel=1e-9)
    assert "m2 of mat (area x cover)" in said(site)
    assert 'write mats = { file = "mats.gpkg", scale = "percent" }' in problems(folder, BOUNDARY + 'mats = "mats.gpkg"')


def test_hosts_come_with_their_fields(folder: Path) -> None:
    fields = {"State": ["climbing", "Fruiting", None], "height": [12.0, np.nan, 3.0], "known": [True, False, True]}
    gpkg(folder / "hosts.gpkg", points((30, 30), (40, 50), (50, 40)), fields)
    site = read(folder, BOUNDARY + 'hosts = "hosts.gpkg"')
    assert site.hosts.x.tolist() == [28, 38, 48] and site.hosts.y.tolist() == [30, 50, 40]
    assert site.hosts.state.tolist() == [1, 2, 0] and site.hosts.height.tolist() == [12, 18, 3]
    assert site.hosts.known.tolist() == [True, False, True]
    assert "of 3 hosts 1 stand outside the boundary or on a barrier" in said(site) or "cannot grow" in said(site)


def test_hosts_off_the_site_are_named_or_left_out(folder: Path) -> None:
    gpkg(folder / "hosts.gpkg", points((30, 30), (300, 30)))
    words = problems(folder, BOUNDARY + 'hosts = "hosts.gpkg"')
    assert 'layer "data", feature 2: found (500300.0, 5400030.0)' in words and "clip = true" in words
    site = read(folder, BOUNDARY + 'hosts = { file = "hosts.gpkg", clip = true }')
    assert len(site.hosts) == 1 and "1 of 2 points lie off the site, left out as told" in said(site)


def test_coordinates_that_are_swapped_or_in_degrees(folder: Path) -> None:
    gpkg(folder / "swapped.gpkg", [shapely.Point(SOUTH + 30, WEST + 30)])
    assert "they look swapped" in problems(folder, BOUNDARY + 'hosts = "swapped.gpkg"')
    x, y = pyproj.Transformer.from_crs(32610, 4326, always_xy=True).transform(WEST + 30, SOUTH + 30)
    gpkg(folder / "degrees.gpkg", [shapely.Point(x, y)])
    assert "they look like degrees" in problems(folder, BOUNDARY + 'hosts = "degrees.gpkg"')
    geojson(folder / "latitude.geojson", [shapely.Point(y, x)])
    assert "they look swapped" in problems(folder, BOUNDARY + 'hosts = "latitude.geojson"')
    geojson(folder / "metres.geojson", points((30, 30)))
    assert "they look like metres or feet" in problems(folder, BOUNDARY + 'hosts = "metres.geojson"')


def test_units_overlap_with_a_remark(folder: Path) -> None:
    gpkg(folder / "units.gpkg", [box(0, 0, 50, 100), box(40, 0, 100, 100)], {"name": ["west", "east"]})
    site = read(folder, BOUNDARY + 'unit = "units.gpkg"')
    assert site.unit_names == ("west", "east") and 'units "west" and "east" overlap by 1,000 m2' in said(site)
    assert set(site.unit[:, :24].ravel()) == {1} and set(site.unit[:, 24:].ravel()) == {2}


def test_a_crossing_is_named_where_it_is(folder: Path) -> None:
    gpkg(
        folder / "mats.gpkg",
        [shapely.Polygon([(WEST, SOUTH), (WEST + 20, SOUTH + 20), (WEST + 20, SOUTH), (WEST, SOUTH + 20)])],
        {"cover": [0.5]},
    )
    assert "found an outline that crosses itself at (500010, 5400010)" in problems(
        folder, BOUNDARY + 'mats = "mats.gpkg"'
    )


def test_rasters_are_averages_by_area(folder: Path) -> None:
    values = np.random.default_rng(2).random((40, 40))
    tif(folder / "canopy.tif", values, 2.5)
    site = read(folder, BOUNDARY + 'canopy = "canopy.tif"\ncell_size = 5\n')
    assert site.canopy == pytest.approx(values.reshape(20, 2, 20, 2).mean(axis=(1, 3))[-site.ny :, : site.nx], abs=1e-9)
    assert "averages by area" in said(site)


def test_percent_is_explained_and_not_divided(folder: Path) -> None:
    tif(folder / "canopy.tif", np.full((10, 10), 60, dtype="uint8"))
    assert 'write canopy = { file = "canopy.tif", scale = "percent" }' in problems(
        folder, BOUNDARY + 'canopy = "canopy.tif"'
    )
    site = read(folder, BOUNDARY + 'canopy = { file = "canopy.tif", scale = "percent" }')
    assert site.canopy == pytest.approx(0.6)


def test_no_data_is_unknown_and_said(folder: Path) -> None:
    values = np.full((10, 10), 0.4, dtype="float32")
    values[:, 5:] = -1
    tif(folder / "canopy.tif", values, nodata=-1)
    site = read(folder, BOUNDARY + 'canopy = "canopy.tif"')
    assert site.canopy == pytest.approx(0.4, abs=1e-6) and "taken as the mean of the rest (0.4)" in said(site)
    told = read(folder, BOUNDARY + 'canopy = { file = "canopy.tif", unknown = 0.9 }')
    assert told.canopy[:, -10:] == pytest.approx(0.9) and "as 0.9, as told" in said(told)


def test_sensitive_ground_is_what_any_pixel_or_polygon_touches(folder: Path) -> None:
    values = np.zeros((100, 100), dtype="uint8")
    values[50, 50] = 1
    tif(folder / "sensitive.tif", values, 1.0)
    site = read(folder, BOUNDARY + 'sensitive = "sensitive.tif"\ncell_size = 4\n')
    assert site.sensitive.sum() == 1
    gpkg(folder / "no.gpkg", [box(10, 10, 10.5, 20)])
    both = read(folder, BOUNDARY + 'sensitive = "sensitive.tif"\nno_spray = "no.gpkg"\ncell_size = 4\n')
    assert both.sensitive.sum() == 4


def test_too_many_cells_are_refused_before_memory_is_taken(tmp_path: Path) -> None:
    gpkg(tmp_path / "edge.gpkg", [box(0, 0, 2_000_000, 2_000_000)])
    assert "1,000,000,000,000 cells" in problems(tmp_path, BOUNDARY)


def test_a_raster_that_claims_a_million_million_cells(folder: Path) -> None:
    import rasterio
    from rasterio.transform import from_origin

    profile = {
        "driver": "GTiff",
        "count": 1,
        "dtype": "uint8",
        "crs": "EPSG:32610",
        "SPARSE_OK": True,
        "tiled": True,
        "BIGTIFF": "YES",
    }
    place = from_origin(WEST, SOUTH + 100, 1e-4, 1e-4)
    with rasterio.open(
        folder / "huge.tif",
        "w",
        width=1_000_000,
        height=1_000_000,
        transform=place,
        blockxsize=4096,
        blockysize=4096,
        **profile,
    ):
        pass
    assert "pixels on the site, allowed at most 50,000,000" in problems(folder, BOUNDARY + 'canopy = "huge.tif"')
