"""Mats mapped as discs: which share of each cell they cover."""

from __future__ import annotations

import numpy as np

_COARSEST = 20  # samples along a cell's side, at least
_FINEST = 200
_SMALL = 0.1  # radius over cell size below which a disc is put into one cell whole


def cover_of_discs(discs: np.ndarray, ny: int, nx: int, cell_size: float) -> np.ndarray:
    """Give the mean cover of each cell under a set of discs.

    Cells wholly inside a disc take its cover; others are sampled on a grid fine enough for the disc (a
    twentieth of its radius), the highest cover counting where discs overlap.

    Parameters
    ----------
    discs : float64 (n, 4)
        x, y (m from the south-west corner), radius (m) and cover (0-1); may reach over the edge.
    ny, nx : int
        Rows and columns.
    cell_size : float
        m.

    Returns
    -------
    float64 (y, x)
        Cover, row 0 in the north.
    """
    cover = np.zeros((ny, nx))
    touched: dict[tuple[int, int], list[int]] = {}
    for index, (x, y, radius, share) in enumerate(discs):
        if radius < _SMALL * cell_size:
            _add_small(cover, x, y, np.pi * radius**2 * share, cell_size)
            continue
        rows, columns, near, far = _distances(x, y, radius, ny, nx, cell_size)
        inside = far <= radius
        at = (rows[inside], columns[inside])
        cover[at] = np.maximum(cover[at], share)
        for row, column in zip(rows[~inside & (near < radius)], columns[~inside & (near < radius)], strict=True):
            touched.setdefault((int(row), int(column)), []).append(index)
    for (row, column), which in touched.items():
        over = discs[which]
        sampled = _sample(over, row, column, ny, cell_size, float(cover[row, column]))
        cover[row, column] = max(cover[row, column], sampled)
    return cover


def _add_small(cover: np.ndarray, x: float, y: float, area: float, cell_size: float) -> None:
    ny, nx = cover.shape
    row, column = ny - 1 - int(np.floor(y / cell_size)), int(np.floor(x / cell_size))
    if 0 <= row < ny and 0 <= column < nx:
        cover[row, column] = min(1.0, cover[row, column] + area / cell_size**2)


def _distances(
    x: float, y: float, radius: float, ny: int, nx: int, cell_size: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give the cells around a disc, and how far their nearest and farthest points are from its centre."""
    west, east = _span(x - radius, x + radius, nx, cell_size)
    south, north = _span(y - radius, y + radius, ny, cell_size)
    up, column = (a.ravel() for a in np.mgrid[south : north + 1, west : east + 1])
    nearest = [np.maximum(np.abs(m - (k + 0.5) * cell_size) - cell_size / 2, 0) for m, k in ((x, column), (y, up))]
    farthest = [np.abs(m - (k + 0.5) * cell_size) + cell_size / 2 for m, k in ((x, column), (y, up))]
    return ny - 1 - up, column, np.hypot(*nearest), np.hypot(*farthest)


def _span(low: float, high: float, cells: int, cell_size: float) -> tuple[int, int]:
    return max(0, int(np.floor(low / cell_size))), min(cells - 1, int(np.floor(high / cell_size)))


def _sample(discs: np.ndarray, row: int, column: int, ny: int, cell_size: float, already: float) -> float:
    """Give the mean over a cell of the highest cover at each of its sample points."""
    samples = int(np.clip(np.ceil(20 * cell_size / discs[:, 2].min()), _COARSEST, _FINEST))
    steps = (np.arange(samples) + 0.5) / samples
    xs = (column + steps) * cell_size
    ys = (ny - 1 - row + steps) * cell_size
    best = np.full((samples, samples), already)
    for x, y, radius, share in discs:
        inside = (ys[:, None] - y) ** 2 + (xs[None, :] - x) ** 2 <= radius**2
        best[inside] = np.maximum(best[inside], share)
    return float(best.mean())
