"""Shapes and rasters that no GIS would write: each ends in a site or an `InputError`, in little time and memory."""

from __future__ import annotations

import copy
import json
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio

from spreadsim.inputs import InputError
from tests.inputs.making import SOUTH, WEST, read, tif

TOML = f'crs = "EPSG:32610"\nwidth = 40\nheight = 40\norigin = [{WEST}, {SOUTH}]\n'
_HERE = {"type": "name", "properties": {"name": "EPSG:32610"}}
_RING = [[WEST + x, SOUTH + y] for x, y in ((5, 5), (30, 5), (30, 30), (5, 30), (5, 5))]
_HOLE = [[WEST + x, SOUTH + y] for x, y in ((10, 10), (10, 20), (20, 20), (10, 10))]
_SHAPES: tuple[dict[str, Any], ...] = (
    {"type": "Polygon", "coordinates": [_RING, _HOLE]},
    {"type": "MultiPolygon", "coordinates": [[_RING], [[[x + 3, y] for x, y in _HOLE]]]},
    {"type": "Point", "coordinates": _RING[0]},
    {"type": "MultiPoint", "coordinates": _RING[:1]},
    {"type": "LineString", "coordinates": _RING},
    {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [_RING]}]},
)
_LINES = {
    "mats": 'mats = "a.geojson"',
    "hosts": 'hosts = "a.geojson"',
    "unit": 'unit = "a.geojson"',
    "barriers": 'barriers = "a.geojson"',
    "no_spray": 'no_spray = { file = "a.geojson" }',
    "sources": 'sources = "a.geojson"',
    "boundary": 'boundary = "a.geojson"',
}
_ODD = (1e308, -1e308, 1e-308, float("nan"), float("inf"), -0.0, 0, 10**400, "5", None, True, [], {}, [[]], 5e5, 2**63)
_FIELDS = (0.5, "0.5", 50, "x", None, [1], {"a": 1}, -1, 1e308, "", "=1+1", "b" * 5000, "\u202e\0")


def mutated(shape: dict[str, Any], rng: np.random.Generator) -> Any:
    """Change one to three things of a geometry: numbers, rings, depth, dimensions, kind."""
    made = copy.deepcopy(shape)
    for _ in range(int(rng.integers(1, 4))):
        way = int(rng.integers(8))
        if way == 0:
            made["type"] = str(rng.choice([*(one["type"] for one in _SHAPES), "Curve", ""]))
            continue
        where = _lists(made)
        if not where:
            continue
        some = where[int(rng.integers(len(where)))]
        at = int(rng.integers(len(some)))
        if way == 1:
            some[at] = _ODD[int(rng.integers(len(_ODD)))]
        elif way == 2:
            some[at] = []
        elif way == 3:
            del some[at]
        elif way == 4:
            some.append(copy.deepcopy(some[at]))
        elif way == 5:
            some[at] = nested(some[at], int(rng.choice([1, 2, 50, 250])))
        elif way == 6:
            some.extend([7.5] * int(rng.integers(1, 4)))
        else:
            some.reverse()
    return made


def nested(value: Any, depth: int) -> Any:
    """Put a value into lists in lists."""
    for _ in range(depth):
        value = [value]
    return value


def _lists(value: Any) -> list[list[Any]]:
    """All lists with something in them, not going deeper than some thousand."""
    found, waiting = [], [value]
    while waiting and len(found) < 5000:
        one = waiting.pop()
        if isinstance(one, list) and one:
            found.append(one)
            waiting.extend(one)
        elif isinstance(one, dict):
            waiting.extend(one.values())
    return found


def attempt(folder: Path, line: str) -> bool:
    """Read a site; whether it is one. Anything but a site or an `InputError` fails the test."""
    try:
        read(folder, line if line.startswith("boundary") else TOML + line)
        return True
    except InputError as error:
        assert error.problems and all(0 < len(problem) < 3000 for problem in error.problems)
        return False


def shapes(folder: Path, cases: int, seed: int) -> tuple[int, int]:
    rng = np.random.default_rng(seed)
    good = 0
    for case in range(cases):
        key = list(_LINES)[case % len(_LINES)]
        features = []
        for _ in range(int(rng.integers(1, 4))):
            fitting = _SHAPES[2:4] if key in ("hosts", "sources") else _SHAPES[:2]
            some = fitting if rng.random() < 0.8 else _SHAPES
            shape = some[int(rng.integers(len(some)))]
            fields = {"cover": 0.5, "name": "a", "radius": 2, "hosts": 1}
            if rng.random() < 0.3:
                fields[str(rng.choice(list(fields)))] = _FIELDS[int(rng.integers(len(_FIELDS)))]  # type: ignore[assignment]
            features.append(
                {
                    "type": "Feature",
                    "properties": fields,
                    "geometry": mutated(shape, rng) if rng.random() < 0.6 else shape,
                }
            )
        whole: dict[str, Any] = {"type": "FeatureCollection", "features": features}
        if rng.random() < 0.8:
            whole["crs"] = _HERE
        (folder / "a.geojson").write_text(json.dumps(whole), encoding="utf-8")
        good += attempt(folder, _LINES[key])
    return good, cases - good


def rasters(folder: Path, cases: int, seed: int) -> tuple[int, int]:
    """Places, kinds of numbers, bands and values that make no sense; then the file cut short or renamed."""
    rng = np.random.default_rng(seed)
    good = 0
    for _ in range(cases):
        kind = str(rng.choice(["uint8", "int16", "float32", "float64", "complex64", "uint32"]))
        values = (rng.random((int(rng.choice([1, 2])), *rng.integers(1, 30, 2))) * rng.choice([1, 1, 300])).astype(kind)
        values = values.real.astype(kind)
        if kind.startswith("float"):
            values.flat[int(rng.integers(values.size))] = rng.choice([np.nan, np.inf, 1e38, -1.0])
        numbers = rng.choice([0.0, 1.0, -2.0, 1e-9, 1e12, 1e300, 3.5], 4) * rng.choice([1, 1, -1], 4)
        straight = rng.random() < 0.5
        place = rasterio.Affine(2, 0, WEST, 0, -2, SOUTH + 40)
        if not straight:
            place = rasterio.Affine(numbers[0], numbers[1], WEST, numbers[2], numbers[3], SOUTH)
        crs = str(rng.choice(["EPSG:32610", "EPSG:4326", "EPSG:3857", "EPSG:32733"])) if rng.random() < 0.9 else None
        path = folder / f"a.{rng.choice(['tif', 'tiff'])}"
        path.unlink(missing_ok=True)
        tif(path, values, transform=place, crs=crs, nodata=None if rng.random() < 0.7 else 0)
        if rng.random() < 0.3:
            data = path.read_bytes()
            path.write_bytes(data[: int(rng.integers(len(data)))])
        key = str(rng.choice(["canopy", "plantable", "unit", "access", "wetness", "sensitive", "mat"]))
        good += attempt(folder, f'{key} = {{ file = "{path.name}", band = {int(rng.integers(1, 3))} }}')
    return good, cases - good


@pytest.mark.filterwarnings("ignore")
def test_odd_shapes_and_rasters_end_in_a_site_or_an_input_error(tmp_path: Path) -> None:
    assert min(shapes(tmp_path, 70, 1)) > 0 and min(rasters(tmp_path, 40, 1)) > 0


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(("make", "cases"), [(shapes, 1100), (rasters, 400)])
def test_fifteen_hundred_odd_shapes_and_rasters(tmp_path: Path, make: Any, cases: int) -> None:
    tracemalloc.start()
    try:
        good, bad = make(tmp_path, cases, 2)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert min(good, bad) > cases / 50 and peak < 500e6
