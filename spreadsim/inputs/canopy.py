"""Canopy cover from mapped trees, where there is no canopy layer."""

from __future__ import annotations

import numpy as np

from spreadsim.inputs.hosts import cells_of


def canopy_from_trees(
    x: np.ndarray, y: np.ndarray, ny: int, nx: int, cell_size: float, crown_radius: float, window: float
) -> np.ndarray:
    """Give canopy cover as 1 - exp(-C), C being the area of crowns over the area of ground around.

    The form allows for crowns that overlap at random: Crookston & Stage 1999, Percent canopy cover and stand
    structure statistics, USDA Forest Service RMRS-GTR-24 (from memory). C is the mean over a square window
    around each cell, cut off at the edges of the site.

    Parameters
    ----------
    x, y : arrays
        Trees, m from the south-west corner.
    ny, nx : int
        Rows and columns.
    cell_size, crown_radius, window : float
        Side of a cell, radius of a crown and side of the window, m.

    Returns
    -------
    float64 (y, x)
        Cover, 0-1, row 0 in the north.
    """
    trees = np.bincount(cells_of(x, y, ny, nx, cell_size), minlength=ny * nx).reshape(ny, nx)
    half = max(0, round((window / cell_size - 1) / 2))
    ground = _window_sum(np.ones((ny, nx)), half) * cell_size**2
    crowns = _window_sum(trees.astype(np.float64), half) * np.pi * crown_radius**2
    cover: np.ndarray = -np.expm1(-crowns / ground)
    return cover


def _window_sum(values: np.ndarray, half: int) -> np.ndarray:
    """Sum over squares of 2 half + 1 cells; whole numbers stay exact."""
    for axis in (0, 1):
        length = values.shape[axis]
        total = np.concatenate([np.zeros_like(values.take([0], axis)), values.cumsum(axis)], axis)
        index = np.arange(length)
        high, low = np.minimum(index + half + 1, length), np.maximum(index - half, 0)
        values = total.take(high, axis) - total.take(low, axis)
    return values
