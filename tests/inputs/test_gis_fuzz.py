"""Damaged and mislabelled GIS files end in a site or an `InputError`, never in anything else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely

from spreadsim.inputs import InputError
from tests.inputs.making import SOUTH, WEST, box, disc, geojson, gpkg, read, tif

TOML = """
crs = "EPSG:32610"
width = 40
height = 40
origin = [500000, 5400000]
"""


def _tif(path: Path, rng: np.random.Generator) -> str:
    tif(path / "a.tif", rng.random((20, 20)).astype("float32"), 2.0, north=SOUTH + 40, nodata=-1, compress="deflate")
    return 'canopy = "a.tif"'


def _gpkg(path: Path, rng: np.random.Generator) -> str:
    (path / "a.gpkg").unlink(missing_ok=True)
    gpkg(path / "a.gpkg", [box(0, 0, 20, 20), disc(20, 20, 9)], {"cover": [0.5, 0.25]})
    return 'mats = "a.gpkg"'


def _geojson(path: Path, rng: np.random.Generator) -> str:
    geojson(path / "a.geojson", [shapely.Point(-123 + k * 1e-4, 48.7532) for k in range(4)], [{"state": "bare"}] * 4)
    return 'hosts = { file = "a.geojson", clip = true }'


def damaged(data: bytes, rng: np.random.Generator) -> bytes:
    """Cut short, overwrite, take out or double some bytes."""
    way = rng.integers(4)
    at, length = int(rng.integers(len(data))), int(rng.integers(1, 40))
    if way == 0:
        return data[:at]
    if way == 1:
        return data[:at] + rng.bytes(length) + data[at + length :]
    if way == 2:
        return data[:at] + data[at + length :]
    changed = bytearray(data)
    for where in rng.integers(len(data), size=int(rng.integers(1, 30))):
        changed[int(where)] = int(rng.integers(256))
    return bytes(changed)


def fuzz(folder: Path, make: Callable[[Path, np.random.Generator], str], cases: int, seed: int) -> tuple[int, int]:
    rng = np.random.default_rng(seed)
    line = make(folder, rng)
    path = next(folder.glob("a.*"))
    whole = path.read_bytes()
    read(folder, TOML + line)  # undamaged it is a site
    good = bad = 0
    for _ in range(cases):
        path.write_bytes(damaged(whole, rng))
        try:
            read(folder, TOML + line)
            good += 1
        except InputError as error:
            assert error.problems and all(len(problem) < 2000 for problem in error.problems)
            bad += 1
    return good, bad


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("make", [_tif, _gpkg, _geojson])
def test_damaged_files_end_in_a_site_or_an_input_error(tmp_path: Path, make: Callable[..., str]) -> None:
    assert fuzz(tmp_path, make, 60, 1)[1] > 0


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("make", [_tif, _gpkg, _geojson])
def test_a_thousand_damaged_files_of_each_kind(tmp_path: Path, make: Callable[..., str]) -> None:
    assert fuzz(tmp_path, make, 1000, 2)[1] > 100


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("name", "other"), [("x.tif", _gpkg), ("x.gpkg", _tif), ("x.geojson", _gpkg), ("x.gpkg", _geojson)]
)
def test_mislabelled_files(tmp_path: Path, name: str, other: Callable[..., str]) -> None:
    other(tmp_path, np.random.default_rng(0))
    next(tmp_path.glob("a.*")).rename(tmp_path / name)
    key = "canopy" if name.endswith("tif") else "hosts"
    try:
        assert read(tmp_path, TOML + f'{key} = "{name}"').ny == 20
    except InputError as error:
        assert name in str(error)


@pytest.mark.slow
def test_a_million_points(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    gpkg(
        tmp_path / "hosts.gpkg",
        list(shapely.points(WEST + rng.random(1_000_000) * 40, SOUTH + rng.random(1_000_000) * 40)),
    )
    assert len(read(tmp_path, TOML + 'hosts = "hosts.gpkg"').hosts) == 1_000_000
