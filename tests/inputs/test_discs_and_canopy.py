"""Mapped discs and canopy from trees against geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.inputs.canopy import canopy_from_trees
from spreadsim.inputs.discs import cover_of_discs


@settings(deadline=None, max_examples=60)
@given(
    st.floats(20, 40),
    st.floats(15, 25),
    st.floats(0.05, 12),
    st.floats(0.05, 1),
    st.sampled_from([1.0, 2.0, 5.0]),
)
def test_a_disc_has_its_area(x: float, y: float, radius: float, cover: float, size: float) -> None:
    grid = cover_of_discs(np.array([[x, y, radius, cover]]), int(40 / size), int(60 / size), size)
    assert grid.sum() * size**2 == pytest.approx(np.pi * radius**2 * cover, rel=0.02)
    assert grid.min() >= 0 and grid.max() <= cover + 1e-12


def test_a_disc_lies_where_it_was_mapped() -> None:
    grid = cover_of_discs(np.array([[3.0, 17.0, 2.5, 0.8]]), 20, 20, 1.0)
    rows, columns = np.nonzero(grid)
    assert (columns.min(), columns.max()) == (0, 5)
    assert (rows.min(), rows.max()) == (0, 5)  # y 14.5 to 19.5 of 20 is in the north
    assert grid[2, 3] == 0.8
    assert grid == pytest.approx(grid.T, abs=0.01)


def test_discs_reach_over_the_edge() -> None:
    grid = cover_of_discs(np.array([[0.0, 0.0, 4.0, 1.0]]), 10, 10, 1.0)
    assert grid.sum() == pytest.approx(np.pi * 16 / 4, rel=0.01)


def test_overlapping_discs_count_once() -> None:
    one = np.array([[10.0, 10.0, 4.0, 0.5]])
    twice = cover_of_discs(np.vstack([one, one]), 20, 20, 1.0)
    assert np.array_equal(twice, cover_of_discs(one, 20, 20, 1.0))
    thicker = np.vstack([one, [[10.0, 10.0, 2.0, 0.9]]])
    area = 0.5 * np.pi * (16 - 4) + 0.9 * np.pi * 4
    assert cover_of_discs(thicker, 20, 20, 1.0).sum() == pytest.approx(area, rel=0.01)
    assert np.allclose(cover_of_discs(thicker, 20, 20, 1.0), cover_of_discs(thicker[::-1], 20, 20, 1.0))


def test_two_halves_of_a_cell_are_both_covered() -> None:
    halves = np.array([[-49.0, 5.0, 54.0, 1.0], [59.0, 5.0, 54.0, 1.0]])  # meet at the middle of the cell
    assert cover_of_discs(halves, 1, 1, 10.0)[0, 0] > 0.95


def test_tiny_discs_keep_their_area() -> None:
    grid = cover_of_discs(np.array([[5.0, 5.0, 0.126, 1.0]]), 1, 1, 10.0)
    assert grid[0, 0] * 100 == pytest.approx(np.pi * 0.126**2, rel=1e-12)


def test_canopy_of_a_regular_stand() -> None:
    centres = np.arange(100) + 0.5
    x, y = (part.ravel() for part in np.meshgrid(centres, centres))
    canopy = canopy_from_trees(x, y, 50, 50, 2.0, 0.4, 10.0)
    assert canopy == pytest.approx(1 - np.exp(-np.pi * 0.4**2), rel=1e-12)  # one tree to the m2, edges too


def test_canopy_around_a_tree() -> None:
    canopy = canopy_from_trees(np.array([10.5]), np.array([3.5]), 21, 21, 1.0, 3.0, 5.0)
    rows, columns = np.nonzero(canopy)
    assert (rows.min(), rows.max(), columns.min(), columns.max()) == (15, 19, 8, 12)
    assert canopy[17, 10] == pytest.approx(1 - np.exp(-np.pi * 9 / 25), rel=1e-12)


def test_no_trees_no_canopy() -> None:
    assert not canopy_from_trees(np.array([]), np.array([]), 4, 5, 2.0, 3.0, 30.0).any()
