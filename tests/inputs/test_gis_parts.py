"""Features and files of a site that go together: areas by hand, and words for what does not fit."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import h5py
import numpy as np
import pyproj
import pytest
import shapely
import xarray as xr

from spreadsim.cli import main
from spreadsim.inputs import Site
from tests.inputs.making import SOUTH, UTM, WEST, box, disc, geojson, gpkg, points, problems, read, tif

EDGE = 'boundary = "edge.gpkg"\n'
GIS = ("rasterio", "pyogrio", "shapely", "pyproj", "defusedxml")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A square of 100 m with a boundary."""
    gpkg(tmp_path / "edge.gpkg", [box(0, 0, 100, 100)])
    return tmp_path


def said(site: Site) -> str:
    return "\n".join(site.remarks)


def test_barriers_are_cut_out_by_area(folder: Path) -> None:
    path, pond = shapely.LineString([(WEST, SOUTH + 5), (WEST + 90, SOUTH + 77)]).buffer(1.3), disc(60, 30, 9)
    gpkg(folder / "barriers.gpkg", [path, pond, box(99, 99, 300, 300)])
    site = read(folder, EDGE + 'barriers = "barriers.gpkg"')
    left = box(0, 0, 100, 100).difference(shapely.union_all([path, pond, box(99, 99, 300, 300)]))
    assert site.plantable.sum() * 4 == pytest.approx(left.area, rel=1e-9)
    assert site.plantable[-16, 30] == 0  # in the pond: 61 m east, 31 m north
    gpkg(folder / "all.gpkg", [box(-1, -1, 101, 101)])
    assert "found no ground on the site" in problems(folder, EDGE + 'barriers = "all.gpkg"')


def test_mat_on_a_barrier_or_over_the_boundary_is_left_out_and_counted(folder: Path) -> None:
    gpkg(folder / "barriers.gpkg", [box(40, 40, 60, 60)])
    gpkg(folder / "mats.gpkg", [box(50, 50, 70, 70), box(90, 0, 110, 10)], {"cover": [0.5, 1.0]})
    site = read(folder, EDGE + 'barriers = "barriers.gpkg"\nmats = "mats.gpkg"')
    assert (site.mat * site.plantable).sum() * 4 == pytest.approx(0.5 * 300 + 100)
    assert "150 m2 of mat (area x cover) off the site or on ground that the vine cannot grow on" in said(site)


def test_holes_stay_open(folder: Path) -> None:
    ring = shapely.Polygon(disc(50, 50, 30).exterior, [disc(55, 50, 11).exterior])
    gpkg(folder / "mats.gpkg", [ring, disc(55, 50, 4)], {"cover": [0.8, 0.3]})
    site = read(folder, EDGE + 'mats = "mats.gpkg"')
    assert (site.mat * site.plantable).sum() * 4 == pytest.approx(0.8 * ring.area + 0.3 * disc(55, 50, 4).area)
    assert site.mat[-26, 31] == 0  # between hole and island


def test_sources_across_the_boundary_keep_their_places(folder: Path) -> None:
    gpkg(folder / "sources.gpkg", points((-40, 20), (130.5, 250)), {"Hosts": [3, 0.5]})
    site = read(folder, EDGE + 'sources = "sources.gpkg"')
    assert site.sources.x.tolist() == [-40, 130.5] and site.sources.y.tolist() == [20, 250]
    assert site.sources.hosts.tolist() == [3, 0.5]
    geojson(folder / "one.geojson", [shapely.MultiPoint([(-123.0005, 48.7533)])])
    site = read(folder, EDGE + 'sources = "one.geojson"')
    assert site.sources.hosts.tolist() == [1] and -60 < site.sources.x[0] < -20  # 0.0005 degrees, some 37 m


def test_mats_that_are_points_have_a_radius_or_an_area(folder: Path) -> None:
    gpkg(folder / "mats.gpkg", points((30, 30), (70, 60)), {"radius": [10, 5], "cover": ["60%", "0.5"]})
    site = read(folder, EDGE + 'mats = "mats.gpkg"')
    true = math.pi * (100 * 0.6 + 25 * 0.5)
    assert site.mat.sum() * 4 == pytest.approx(true, rel=0.01)  # discs are sampled
    gpkg(folder / "area.gpkg", points((30, 30), (70, 60)), {"area": [math.pi * 100, math.pi * 25], "cover": [0.6, 0.5]})
    assert np.allclose(read(folder, EDGE + 'mats = "area.gpkg"').mat, site.mat)
    feet = read(folder, 'units = "us"\n' + EDGE + 'mats = "area.gpkg"\ncell_size = 6\n')
    assert feet.mat.sum() * feet.cell_size**2 == pytest.approx(true * 0.3048**2, rel=0.03)
    gpkg(folder / "bad.gpkg", points((30, 30), (70, 60)), {"area": [-3.0, 5.0], "cover": [0.6, 0.5]})
    assert 'layer "data", feature 1: found area -3, allowed an area' in problems(folder, EDGE + 'mats = "bad.gpkg"')
    gpkg(folder / "no.gpkg", points((30, 30)), {"cover": [0.6]})
    assert 'found no field "radius"' in problems(folder, EDGE + 'mats = "no.gpkg"')
    gpkg(folder / "both.gpkg", [*points((30, 30)), box(0, 0, 9, 9)], {"cover": [0.6, 0.5], "radius": [3, 3]})
    assert "points and other shapes" in problems(folder, EDGE + 'mats = "both.gpkg"')


def test_fields_are_found_by_the_names_that_are_told(folder: Path) -> None:
    theirs = {"Status": ["climbing", "bare"], "Ht_m": [9.0, 4.0], "Stat": ["x", "y"]}
    gpkg(folder / "hosts.gpkg", points((30, 30), (70, 60)), theirs)
    assert "is not used: if it is the state, write fields" in said(read(folder, EDGE + 'hosts = "hosts.gpkg"'))
    mapped = 'hosts = { file = "hosts.gpkg", fields = { state = "status", height = "Ht_m" } }'
    site = read(folder, EDGE + mapped)
    assert site.hosts.state.tolist() == [1, 0] and site.hosts.height.tolist() == [9, 4]
    words = problems(folder, EDGE + mapped.replace("Ht_m", "Height").replace("state =", "stand ="))
    assert 'fields.height: found "Height", allowed a field of the file: Status, Ht_m, Stat' in words
    assert 'fields.stand: found "stand", allowed names of ours: state, kind' in words
    gpkg(folder / "units.gpkg", [box(0, 0, 50, 100), box(50, 0, 100, 100)], {"Block": ["A", "B"]})
    assert 'found no field "name"' in problems(folder, EDGE + 'unit = "units.gpkg"')
    units = read(folder, EDGE + 'unit = { file = "units.gpkg", fields = { name = "block" } }')
    assert units.unit_names == ("A", "B")
    gpkg(folder / "mats.gpkg", [box(0, 0, 10, 10)], {"Density": ["2"]})
    told = 'mats = { file = "mats.gpkg", fields = { cover = "density" }, scale = "daubenmire" }'
    assert "found" in problems(folder, EDGE + 'mats = "mats.gpkg"')
    assert read(folder, EDGE + told).mat.sum() * 4 == pytest.approx(15)  # Daubenmire's class 2: 5 to 25 %, middle 15


def test_units_that_overlap_go_to_the_larger_share(folder: Path) -> None:
    shapes = [box(0, 0, 51, 100), box(49, 0, 100, 100), box(0, 0, 1, 1)]
    gpkg(folder / "units.gpkg", shapes, {"name": ["west", "east", "dot"]})
    site = read(folder, EDGE + 'unit = "units.gpkg"\ncell_size = 4\n')
    # the cells from 48 to 52 m: three quarters west, three quarters east: the first
    assert site.unit[0].tolist() == [1] * 13 + [2] * 12
    assert 'units "west" and "east" overlap by 200 m2' in said(site)
    assert 'units with no cell of the site, off it or smaller than a cell: "dot"' in said(site)


def test_features_without_a_system_are_asked_for_one(folder: Path) -> None:
    with pytest.warns(UserWarning, match="crs"):
        gpkg(folder / "hosts.gpkg", points((30, 30)), crs=None)
    words = problems(folder, EDGE + 'hosts = "hosts.gpkg"')
    assert f'hosts.gpkg: crs: found nothing, allowed one: write hosts = {{ file = "...", crs = "{UTM}" }}' in words
    told = EDGE + f'hosts = {{ file = "hosts.gpkg", crs = "{UTM}" }}'
    assert read(folder, told).hosts.x.tolist() == [30]


def test_degrees_said_to_be_metres_are_told(tmp_path: Path) -> None:
    gpkg(tmp_path / "edge.gpkg", [shapely.box(-123.001, 48.75, -123.0, 48.751)])
    words = problems(tmp_path, EDGE)
    assert "they look like degrees" in words and 'crs = "EPSG:4326"' in words
    mended = f'boundary = {{ file = "edge.gpkg", crs = "EPSG:4326" }}\ncrs = "{UTM}"\n'
    assert read(tmp_path, mended).plantable.sum() * 4 == pytest.approx(73.5 * 111.2, rel=0.01)  # by 111.2 km a degree


@pytest.fixture
def layered(tmp_path: Path) -> Path:
    """Layers in NetCDF of ten by ten cells of 4 m, with a place in UTM."""
    side = np.arange(10) * 4.0 + 2
    canopy = np.linspace(0, 1, 100).reshape(10, 10)
    dataset = xr.Dataset(
        {"canopy": (("y", "x"), canopy), "crs": ((), 0, {"crs_wkt": pyproj.CRS(UTM).to_wkt()})},
        coords={"y": SOUTH + side[::-1], "x": WEST + side},
    )
    dataset.to_netcdf(tmp_path / "layers.nc", engine="h5netcdf")
    return tmp_path


def test_layers_of_netcdf_and_files_of_a_gis_share_the_grid(layered: Path) -> None:
    gpkg(layered / "mats.gpkg", [box(4, 8, 12, 20)], {"cover": [0.5]})
    gpkg(layered / "hosts.gpkg", points((3, 39)), {"state": ["fruiting"]})
    tif(layered / "wet.tif", np.full((40, 40), 0.25), 1.0, north=SOUTH + 40)
    toml = 'layers = "layers.nc"\nmats = "mats.gpkg"\nhosts = "hosts.gpkg"\nwetness = "wet.tif"\n'
    site = read(layered, toml)
    assert (site.ny, site.nx, site.cell_size, site.origin) == (10, 10, 4, (WEST, SOUTH))
    assert site.canopy[0, 0] == 0 and site.canopy[-1, -1] == 1 and (site.wetness == 0.25).all()
    rows, columns = np.nonzero(site.mat)
    assert set(rows) == {5, 6, 7} and set(columns) == {1, 2} and np.allclose(site.mat[rows, columns], 0.5)
    assert (site.hosts.x[0], site.hosts.y[0]) == (3, 39)
    tif(layered / "canopy.tif", np.full((40, 40), 0.5), 1.0, north=SOUTH + 40)
    words = problems(layered, toml + 'canopy = "canopy.tif"\n')
    assert 'canopy: found "canopy.tif", allowed none, since the layers have canopy' in words


@pytest.mark.parametrize("name", ["rain", "wetness"])
def test_a_layers_file_may_hold_other_things_and_no_terabyte(tmp_path: Path, name: str) -> None:
    with h5py.File(tmp_path / "layers.nc", "w") as file:
        for axis, count in (("y", 10), ("x", 10), ("b", 10**6), ("a", 10**6)):
            file.create_dataset(axis, data=np.arange(count)[::-1] * 4.0)
            file[axis].make_scale(axis)
        small = file.create_dataset("canopy", data=np.full((10, 10), 0.5))
        large = file.create_dataset(name, (10**6, 10**6), "f8", chunks=(1000, 1000))
        for variable, axes in ((small, "yx"), (large, "ba")):
            for k, axis in enumerate(axes):
                variable.dims[k].attach_scale(file[axis])
    if name == "rain":  # none of ours: never read
        assert (read(tmp_path, 'layers = "layers.nc"').canopy == 0.5).all()
    else:
        words = problems(tmp_path, 'layers = "layers.nc"')
        assert "wetness: found 1,000,000 x 1,000,000 numbers (8,000.0 GB of memory), allowed at most" in words


@pytest.fixture
def no_gis(monkeypatch: pytest.MonkeyPatch) -> None:
    """Block every library of the extra."""
    for name in [name for name in sys.modules if name.split(".")[0] in GIS] + list(GIS):
        monkeypatch.setitem(sys.modules, name, None)


@pytest.mark.parametrize(
    ("line", "missing"),
    [
        ('hosts = "hosts.gpkg"', "no shapely and no pyproj"),
        ('unit = "units.geojson"', "no shapely and no pyproj"),
        ('canopy = "canopy.tif"', "no shapely and no pyproj and no rasterio"),
        ('hosts = "walk.gpx"', "no shapely and no pyproj"),
    ],
)
def test_without_the_extra_the_message_names_it(tmp_path: Path, no_gis: None, line: str, missing: str) -> None:
    words = problems(tmp_path, "width = 8\nheight = 4\n" + line)
    assert f"found {missing} on this machine" in words
    assert "python -m pip install 'spreadsim[gis]'; CSV and NetCDF need none" in words


def test_without_the_extra_csv_and_netcdf_work(layered: Path, no_gis: None) -> None:
    (layered / "hosts.csv").write_text("x,y,state\n3,5,fruiting\n")
    (layered / "mats.csv").write_text("x,y,radius,cover\n20,20,4,0.5\n")
    site = read(layered, 'layers = "layers.nc"\nhosts = "hosts.csv"\nmats = "mats.csv"\n')
    assert site.crs is not None and "UTM zone 10N" in site.crs and len(site.hosts) == 1
    assert site.mat.sum() * 16 == pytest.approx(math.pi * 16 * 0.5, rel=0.01)


def test_without_the_extra_the_command_says_it_and_ends_with_2(
    tmp_path: Path, no_gis: None, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "site.toml").write_text('boundary = "edge.gpkg"\n')
    experiment = 'title = "t"\nvine = "wintercreeper"\n[site]\nfile = "site.toml"\n'
    (tmp_path / "experiment.toml").write_text(experiment)
    assert main(["check", str(tmp_path / "experiment.toml")]) == 2
    words = "".join(capsys.readouterr())
    assert "spreadsim[gis]" in words and "Traceback" not in words
