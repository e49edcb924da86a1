"""Smooth noise and scattered places, of plain uniform draws only: numpy promises the same stream for these."""

from __future__ import annotations

import numpy as np


def smooth_noise(draw: np.random.Generator, shape: tuple[int, int], size: float) -> np.ndarray:
    """Give noise from 0 to 1 with features of some size.

    Parameters
    ----------
    draw : Generator
        Source of uniform numbers.
    shape : tuple of two ints
        Rows and columns.
    size : float
        Of a feature, in cells.

    Returns
    -------
    float64 (y, x)
    """
    step = max(size, 1.0)
    knots = draw.random((int(shape[0] / step) + 2, int(shape[1] / step) + 2))
    y, x = np.arange(shape[0]) / step, np.arange(shape[1]) / step
    i, j = y.astype(int)[:, None], x.astype(int)[None, :]
    v, u = (_ease(part) for part in (y[:, None] - i, x[None, :] - j))
    upper = knots[i, j] * (1 - u) + knots[i, j + 1] * u
    lower = knots[i + 1, j] * (1 - u) + knots[i + 1, j + 1] * u
    blended: np.ndarray = upper * (1 - v) + lower * v
    return blended


def scatter(draw: np.random.Generator, wanted: int, weight: np.ndarray, cell: float) -> tuple[np.ndarray, np.ndarray]:
    """Draw places with some room between them, denser where the weight is higher.

    Parameters
    ----------
    draw : Generator
        Source of uniform numbers.
    wanted : int
        How many places.
    weight : float64 (y, x)
        0: none there.
    cell : float
        Side of a cell, m.

    Returns
    -------
    x, y : float64 (wanted,)
        m from the south-west corner. No two are nearer than half the mean distance, as far as there is room: the
        distance shrinks where darts go on missing, so that it always ends.
    """
    open_cells = np.flatnonzero(weight.ravel() > 0)
    if wanted == 0 or not len(open_cells):
        return np.zeros(0), np.zeros(0)
    ny, nx = weight.shape
    steps = np.cumsum(weight.ravel()[open_cells])
    gap = 0.5 * float(np.sqrt(len(open_cells) * cell**2 / wanted))
    kept: dict[tuple[int, int], list[tuple[float, float]]] = {}
    places: list[tuple[float, float]] = []
    side = gap  # of the squares by which neighbours are found; it stays as the gap shrinks
    while len(places) < wanted:
        u = draw.random((2 * wanted, 3))
        chosen = open_cells[np.minimum(np.searchsorted(steps, u[:, 0] * steps[-1], "right"), len(steps) - 1)]
        row, column = np.divmod(chosen, nx)
        inner = 0.02 + 0.96 * u[:, 1:]  # so that a place written in centimetres stays in its cell
        xs, ys = (column + inner[:, 0]) * cell, (ny - 1 - row + inner[:, 1]) * cell
        for x, y in zip(xs.tolist(), ys.tolist(), strict=True):
            if len(places) == wanted:
                break
            square = (int(x / side), int(y / side))
            near = (
                one
                for a in (square[0] - 1, square[0], square[0] + 1)
                for b in (square[1] - 1, square[1], square[1] + 1)
                for one in kept.get((a, b), ())
            )
            if all((x - a) ** 2 + (y - b) ** 2 >= gap**2 for a, b in near):
                kept.setdefault(square, []).append((x, y))
                places.append((x, y))
        gap *= 0.8
    found = np.array(places)
    return found[:, 0], found[:, 1]


def with_mean(field: np.ndarray, mean: float, where: np.ndarray) -> np.ndarray:
    """Lift or lower noise and cut it off at 0 and 1 so that its mean is as asked.

    Parameters
    ----------
    field : float64 (y, x)
        Around 0.
    mean : float
        0-1.
    where : bool (y, x)
        The cells that the mean is of.

    Returns
    -------
    float64 (y, x)
    """
    low, high = -1.0 - float(np.abs(field).max()), 2.0 + float(np.abs(field).max())
    for _ in range(60):
        middle = (low + high) / 2
        if np.clip(field[where] + middle, 0, 1).mean() < mean:
            low = middle
        else:
            high = middle
    lifted: np.ndarray = np.clip(field + high, 0, 1)
    return lifted


def _ease(t: np.ndarray) -> np.ndarray:
    eased: np.ndarray = t * t * (3.0 - 2.0 * t)
    return eased
