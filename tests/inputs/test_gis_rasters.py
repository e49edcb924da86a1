"""Rasters in other grids and reference systems, against cells sampled here, and against sums done by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
from rasterio.transform import Affine

from spreadsim.inputs import Site
from tests.inputs.making import SOUTH, UTM, WEST, box, gpkg, problems, read, tif

TOML = f'crs = "{UTM}"\nwidth = 60\nheight = 40\ncell_size = 4\norigin = [{WEST}, {SOUTH}]\n'
NY, NX, SIZE = 10, 15, 4.0
POINTS = 24  # along a side of a cell, where it is sampled here
SMALL = f'crs = "{UTM}"\nwidth = 8\nheight = 4\ncell_size = 2\norigin = [{WEST}, {SOUTH}]\n'  # 2 rows of 4 cells


def said(site: Site) -> str:
    return "\n".join(site.remarks)


def placed(angle: float, shear: float, pixel: float, count: int, south_up: bool = False) -> Affine:
    """Give a raster of `count` x `count` pixels around the middle of the site, turned and sheared by degrees."""
    turn, lean = np.radians(angle), np.tan(np.radians(shear))
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ [[1, lean], [0, 1]]
    matrix = matrix @ np.diag([pixel, pixel if south_up else -pixel])
    x, y = np.array([WEST + 30, SOUTH + 20]) - matrix @ [count / 2, count / 2]
    return Affine(matrix[0, 0], matrix[0, 1], x, matrix[1, 0], matrix[1, 1], y)


def sampled(values: np.ndarray, place: Affine, crs: str = UTM) -> np.ndarray:
    """Look pixels up at many points of each cell (y, x, points); NaN off the raster."""
    step = (np.arange(POINTS) + 0.5) / POINTS * SIZE
    x = WEST + np.add.outer(np.arange(NX) * SIZE, step)[None, :, None, :]
    y = SOUTH + np.add.outer((NY - 1 - np.arange(NY)) * SIZE, step)[:, None, :, None]
    x, y = (np.broadcast_to(part, (NY, NX, POINTS, POINTS)).ravel() for part in (x, y))
    x, y = pyproj.Transformer.from_crs(UTM, crs, always_xy=True).transform(x, y)
    matrix = np.linalg.inv([[place.a, place.b], [place.d, place.e]])
    column, row = np.floor(matrix @ np.stack([x - place.c, y - place.f])).astype(int)
    inside = (column >= 0) & (row >= 0) & (column < values.shape[1]) & (row < values.shape[0])
    found = np.full(x.size, np.nan)
    found[inside] = values[row[inside], column[inside]]
    return found.reshape(NY, NX, -1)


def own(folder: Path, name: str, values: np.ndarray, place: Affine, **options: Any) -> Path:
    return tif(folder / name, values, **{"crs": UTM, **options, "transform": place})


@pytest.mark.parametrize(
    ("angle", "shear", "pixel", "south_up"),
    [(30, 0, 4.0, False), (45, 0, 1.5, False), (-110, 25, 5.0, False), (20, 0, 9.0, True)],
)
def test_turned_and_sheared_rasters_are_averages_by_area(
    tmp_path: Path, angle: float, shear: float, pixel: float, south_up: bool
) -> None:
    count = int(130 / pixel)
    values = np.random.default_rng(7).random((count, count))
    place = placed(angle, shear, pixel, count, south_up)
    own(tmp_path, "canopy.tif", values, place)
    expected = sampled(values, place).mean(axis=2)
    # edges of pixels are 4 or 24 samples off at most: a 60th of a cell for each edge that crosses it
    assert read(tmp_path, TOML + 'canopy = "canopy.tif"').canopy == pytest.approx(expected, abs=0.03)
    assert expected.std() > 0.05  # a wrong place would show


@pytest.mark.parametrize("turned", [False, True])
def test_south_up_and_quarter_turned_rasters_are_exact(tmp_path: Path, turned: bool) -> None:
    values = np.random.default_rng(3).random((20, 30))  # pixels of 2 m, row 0 in the north
    if turned:  # rows go east, columns go north
        stored, place = values[::-1].T, Affine(0, 2, WEST, 2, 0, SOUTH)
    else:
        stored, place = values[::-1], Affine(2, 0, WEST, 0, 2, SOUTH)
    own(tmp_path, "canopy.tif", stored, place)
    expected = values.reshape(10, 2, 15, 2).mean(axis=(1, 3))
    assert read(tmp_path, TOML + 'canopy = "canopy.tif"').canopy == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("crs", "pixel"), [("EPSG:4326", 2.5e-5), ("EPSG:32611", 3.0), ("EPSG:3005", 3.0)])
def test_rasters_in_another_system_lie_where_they_belong(tmp_path: Path, crs: str, pixel: float) -> None:
    x, y = pyproj.Transformer.from_crs(UTM, crs, always_xy=True).transform(WEST + 30, SOUTH + 20)
    place = Affine(pixel, 0, x - 30 * pixel, 0, -pixel, y + 30 * pixel)
    values = np.random.default_rng(5).random((60, 60))
    own(tmp_path, "canopy.tif", values, place, crs=crs)
    site = read(tmp_path, TOML + 'canopy = "canopy.tif"')
    assert site.canopy == pytest.approx(sampled(values, place, crs).mean(axis=2), abs=0.04)
    assert f"in {pyproj.CRS(crs).name} brought onto cells of 4 m" in said(site)


@pytest.mark.parametrize("angle", [0, 33])
def test_units_are_the_number_with_the_largest_area(tmp_path: Path, angle: float) -> None:
    count = 20
    values = np.random.default_rng(2).integers(1, 5, (count, count)).astype("int16")
    place = placed(angle, 0, 6.5, count)
    own(tmp_path, "unit.tif", values, place)
    found = sampled(values, place)
    shares = np.stack([(found == number).mean(axis=2) for number in range(5)], axis=2)
    largest, second = np.sort(shares, axis=2)[..., -1], np.sort(shares, axis=2)[..., -2]
    clear = largest - second > 0.08  # nearly equal shares may fall either way
    site = read(tmp_path, TOML + 'unit = "unit.tif"\nunit_names = ["a", "b", "c", "d"]')
    assert clear.mean() > 0.8 and (site.unit == shares.argmax(axis=2))[clear].all()


def test_sensitive_ground_of_a_turned_raster_misses_nothing(tmp_path: Path) -> None:
    values = (np.random.default_rng(4).random((40, 40)) < 0.03).astype("uint8")
    place = placed(40, 0, 3.0, 40)
    own(tmp_path, "sensitive.tif", values, place)
    site = read(tmp_path, TOML + 'sensitive = "sensitive.tif"')
    touched = np.nan_to_num(sampled(values.astype(float), place)).max(axis=2) > 0
    around = np.pad(touched, 1)
    near = np.max([around[i : i + NY, k : k + NX] for i in range(3) for k in range(3)], axis=0)
    assert site.sensitive[touched].all() and not site.sensitive[~near].any() and 0 < touched.mean() < 0.5


def test_every_layer_has_its_rule(tmp_path: Path) -> None:
    """Two rows of four cells of 2 m, of pixels of 1 m; each layer once, by sums done by hand."""
    layers = {
        "access": [[1, 2, 3, 3, 1, 1, 5, 5]] * 2 + [[3, 2, 3, 3, 1, 1, 5, 5]] * 2,
        "wetness": [[0, 1, 0.5, 0.5, 0, 0, 1, 1]] * 4,
        "mat": [[0.4, 0.8, 0, 0, 1, 1, 0, 0.2]] * 4,
        "plantable": [[1, 1, 1, 0, 0, 0, 1, 1]] * 4,
        "unit": [[1, 1, 2, 2, 2, 2, 0, 0], [1, 2, 2, 2, 1, 2, 0, 0]] * 2,
    }
    for name, rows in layers.items():
        kind = "int16" if name == "unit" else "float64"
        tif(tmp_path / f"{name}.tif", np.array(rows, kind), 1.0, north=SOUTH + 4)
    named = "".join(f'{name} = "{name}.tif"\n' for name in layers)
    site = read(tmp_path, SMALL + 'unit_names = ["a", "b"]\n' + named)
    assert site.access == pytest.approx(np.array([[1.5, 3, 1, 5], [2.5, 3, 1, 5]]))
    assert site.wetness == pytest.approx(np.array([[0.5, 0.5, 0, 1]] * 2))
    assert site.plantable == pytest.approx(np.array([[1, 0.5, 0, 1]] * 2))
    assert site.mat == pytest.approx(np.array([[0.6, 0, 0, 0.1]] * 2))
    assert site.unit.tolist() == [[1, 2, 2, 0]] * 2
    assert "8 m2 of mat where the vine cannot grow, left out" in said(site)
    assert site.mat.dtype == np.float64 and "unit: pixels of 1 x 1 brought onto" in said(site)


def test_what_no_raster_says_is_filled_by_the_rule_of_its_layer(tmp_path: Path) -> None:
    for name, inside in {"access": 2, "wetness": 0.5, "plantable": 1, "unit": 1, "mat": 0.3, "sensitive": 0}.items():
        values = np.full((4, 8), inside, "float32")
        values[:, 4:] = -9999
        tif(tmp_path / f"{name}.tif", values, 1.0, north=SOUTH + 4, nodata=-9999)

    def layer(name: str) -> tuple[list[float], str]:
        site = read(tmp_path, SMALL + f'{name} = "{name}.tif"')
        return np.asarray(getattr(site, name))[0].tolist(), said(site)

    assert layer("access")[0] == [2, 2, 1, 1] and "as factor 1" in layer("access")[1]
    assert layer("wetness")[0] == [0.5] * 4 and "taken as the mean of the rest (0.5)" in layer("wetness")[1]
    assert layer("plantable")[0] == [1, 1, 0, 0] and "no data on 50 % of the site" in layer("plantable")[1]
    assert layer("unit")[0] == [1, 1, 0, 0] and "as in no unit" in layer("unit")[1]
    assert layer("mat")[0] == pytest.approx([0.3, 0.3, 0, 0]) and "nobody may have looked" in layer("mat")[1]
    assert layer("sensitive")[0] == [0, 0, 1, 1] and "as sensitive, to be safe" in layer("sensitive")[1]


def test_no_data_can_be_said_in_three_ways(tmp_path: Path) -> None:
    values = np.array([[0.25, 0.25, 7, 7]] * 4)
    tif(tmp_path / "odd.tif", values, 2.0, north=SOUTH + 4)
    words = problems(tmp_path, SMALL + 'canopy = "odd.tif"')
    assert "values from 0.25 to 7" in words and 'scale = "percent"' in words  # 7 may be percent
    values[:, 2:] = -3
    tif(tmp_path / "odd.tif", values, 2.0, north=SOUTH + 4)
    assert "if -3 stands for no data, write nodata = -3" in problems(tmp_path, SMALL + 'canopy = "odd.tif"')
    told = read(tmp_path, SMALL + 'canopy = { file = "odd.tif", nodata = -3, unknown = 0.5 }')
    assert told.canopy.tolist() == [[0.25, 0.25, 0.5, 0.5]] * 2
    with rasterio.open(tmp_path / "odd.tif", "r+") as file:
        file.write_mask(np.array([[True, True, False, False]] * 4))
    assert read(tmp_path, SMALL + 'canopy = "odd.tif"').canopy == pytest.approx(0.25)
    values[:] = np.nan
    tif(tmp_path / "nan.tif", values, 2.0, north=SOUTH + 4)
    assert "no pixel with data on the site" in problems(tmp_path, SMALL + 'canopy = "nan.tif"')


def test_scale_and_offset_of_a_band_count(tmp_path: Path) -> None:
    tif(tmp_path / "c.tif", np.full((2, 4), 40, "uint8"), 2.0, north=SOUTH + 4)
    with rasterio.open(tmp_path / "c.tif", "r+") as file:
        file.scales, file.offsets = (0.01,), (0.2,)
    assert read(tmp_path, SMALL + 'canopy = "c.tif"').canopy == pytest.approx(0.6)


def test_bands_are_chosen_and_one_for_transparency_is_none(tmp_path: Path) -> None:
    two = np.stack([np.full((2, 4), 0.2), np.full((2, 4), 0.7)])
    tif(tmp_path / "two.tif", two, 2.0, north=SOUTH + 4)
    assert "found 2 bands" in problems(tmp_path, SMALL + 'canopy = "two.tif"')
    assert read(tmp_path, SMALL + 'canopy = { file = "two.tif", band = 2 }').canopy == pytest.approx(0.7)
    assert "band: found 3" in problems(tmp_path, SMALL + 'canopy = { file = "two.tif", band = 3 }')
    shown = np.stack([np.ones((2, 4), "uint8"), np.array([[255, 255, 0, 0]] * 2, "uint8")])
    tif(tmp_path / "alpha.tif", shown, 2.0, north=SOUTH + 4, photometric="minisblack", alpha="yes")
    assert read(tmp_path, SMALL + 'plantable = "alpha.tif"').plantable[0].tolist() == [1, 1, 0, 0]


def test_a_raster_without_a_system_is_asked_for_one(tmp_path: Path) -> None:
    tif(tmp_path / "c.tif", np.full((2, 4), 0.5), 2.0, north=SOUTH + 4, crs=None)
    words = problems(tmp_path, SMALL + 'canopy = "c.tif"')
    assert f'c.tif: crs: found nothing, allowed one: write canopy = {{ file = "...", crs = "{UTM}" }}' in words
    assert read(tmp_path, SMALL + f'canopy = {{ file = "c.tif", crs = "{UTM}" }}').canopy == pytest.approx(0.5)
    place = "width = 8\nheight = 4\ncell_size = 2\n"
    tif(tmp_path / "c.tif", np.full((2, 4), 0.5), 2.0, west=0.0, north=4.0, crs=None)
    assert read(tmp_path, place + 'canopy = "c.tif"').canopy == pytest.approx(0.5)  # nothing says one: all in metres


def test_a_raster_elsewhere_or_without_a_place_is_said(tmp_path: Path) -> None:
    tif(tmp_path / "far.tif", np.full((2, 4), 0.5), 2.0, west=WEST + 1e5)
    assert "lies nowhere on the site" in problems(tmp_path, SMALL + 'canopy = "far.tif"')
    own(tmp_path, "none.tif", np.full((2, 4), 0.5), Affine.identity())
    assert "not georeferenced" in problems(tmp_path, SMALL + 'canopy = "none.tif"')


def test_plantable_ground_of_a_raster_and_of_the_boundary_multiply(tmp_path: Path) -> None:
    tif(tmp_path / "p.tif", np.full((2, 4), 0.5), 2.0, north=SOUTH + 4)
    gpkg(tmp_path / "edge.gpkg", [box(0, 0, 3, 4)])
    site = read(tmp_path, 'boundary = "edge.gpkg"\nplantable = "p.tif"\n')
    assert site.plantable.tolist() == [[0.5, 0.25]] * 2
