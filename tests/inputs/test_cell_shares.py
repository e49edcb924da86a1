"""Shares of cells under polygons, against areas by shapely and rasters by GDAL."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import rasterio.features
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from rasterio.transform import from_origin

from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.shares import shares_of, window_of

GRID = Grid(100.0, 200.0, 2.5, 12, 16)


def cells(grid: Grid) -> np.ndarray:
    columns, rows = np.meshgrid(np.arange(grid.nx), np.arange(grid.ny)[::-1])
    west, south = grid.west + columns * grid.size, grid.south + rows * grid.size
    found: np.ndarray = shapely.box(west, south, west + grid.size, south + grid.size)
    return found


@st.composite
def polygons(draw: st.DrawFn) -> Any:
    """Valid polygons and multipolygons with holes, on lines of the grid and off them, over its edge too."""
    step = draw(st.sampled_from([0.3, 1.25, 2.5]))
    place = st.tuples(st.integers(-10, 150), st.integers(-10, 120))
    rings = draw(st.lists(st.lists(place, min_size=3, max_size=9), min_size=1, max_size=4))
    shape: Any = shapely.MultiPolygon()
    for ring in rings:
        part = shapely.make_valid(shapely.Polygon([(100 + x * step, 200 + y * step) for x, y in ring]))
        shape = shapely.symmetric_difference(shape, part)
    return shapely.make_valid(shape)


@settings(max_examples=150, deadline=None)
@given(polygons())
def test_shares_are_areas_over_cells(shape: Any) -> None:
    expected = shapely.area(shapely.intersection(shape, cells(GRID))) / GRID.size**2
    assert shares_of([shape], GRID) == pytest.approx(expected, abs=2e-9)


def test_shares_add_up_with_their_weights() -> None:
    shapes = [shapely.box(100, 200, 110, 205), shapely.Point(120, 215).buffer(6), None, shapely.Point(1, 1)]
    whole = shares_of(shapes, GRID, np.array([0.5, 2.0, 9.0, 9.0]))
    assert whole == pytest.approx(0.5 * shares_of(shapes[:1], GRID) + 2 * shares_of(shapes[1:2], GRID), abs=1e-12)
    assert whole[-1, :4] == pytest.approx(0.5) and whole.sum() * 6.25 == pytest.approx(25 + 2 * shapes[1].area)


def test_a_long_outline_is_worked_through_in_pieces() -> None:
    turn = np.linspace(0, 2 * np.pi, 450_000, endpoint=False)
    wave = 300 + 40 * np.sin(90 * turn)
    shape = shapely.Polygon(np.column_stack([400 + wave * np.cos(turn), 400 + wave * np.sin(turn)]))
    shares = shares_of([shape], Grid(0, 0, 1.0, 800, 800))
    assert shares.min() == 0 and shares.max() == 1 and shares.sum() == pytest.approx(shape.area, rel=1e-9)


def test_gdal_burns_the_same_cells() -> None:
    shape = shapely.Point(118, 216).buffer(11).difference(shapely.Point(121, 214).buffer(3))
    shares = shares_of([shape], GRID)
    fine = rasterio.features.rasterize([shape], (12 * 50, 16 * 50), transform=from_origin(100, 230, 0.05, 0.05))
    assert fine.reshape(12, 50, 16, 50).mean(axis=(1, 3)) == pytest.approx(shares, abs=0.02)
    touched = rasterio.features.rasterize(
        [shape], (12, 16), transform=from_origin(100, 230, 2.5, 2.5), all_touched=True
    )
    assert ((shares > 0) == (touched == 1)).all()


def test_a_window_is_the_same_part_of_the_grid() -> None:
    shape = shapely.Point(111, 209).buffer(4.3)
    part, at = window_of(shape.bounds, GRID)
    whole = np.zeros(GRID.shape)
    whole[at] = shares_of([shape], part)
    assert whole == pytest.approx(shares_of([shape], GRID), abs=1e-12) and part.ny * part.nx < 30
    assert window_of((0, 0, 90, 90), GRID) is None and window_of((np.nan,) * 4, GRID) is None
