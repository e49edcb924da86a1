"""Which share of each cell polygons cover, exactly."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from spreadsim.inputs.ground_grid import Box, Grid

_AT_ONCE = 200_000  # edges split at lines of the grid at a time, so that memory stays small
_ROUNDING = 1e-9  # of a cell


def shares_of(polygons: Any, grid: Grid, weights: np.ndarray | None = None) -> np.ndarray:
    """Give the share of each cell that polygons cover, summed over them.

    The area is summed along the edges, each cut where it crosses a line of the grid (Green's theorem): exact but for
    rounding, holes and parts included, in time that goes by the length of the outlines.

    Parameters
    ----------
    polygons : array of shapely geometries
        Valid polygons; anything else in it counts for nothing. What reaches over the grid is cut off.
    grid : Grid
        Where; in the coordinates of the polygons.
    weights : array (n,), optional
        What the share of each polygon counts; 1 if not given.

    Returns
    -------
    float64 (y, x)
        0 to 1 if polygons don't overlap; row 0 in the north.
    """
    import shapely

    sums = np.zeros((grid.ny, grid.nx + 1))
    given = np.atleast_1d(np.asarray(polygons, dtype=object))
    weight = np.ones(len(given)) if weights is None else np.asarray(weights, dtype=np.float64)
    parts, owner = shapely.get_parts(_cut(given, grid), return_index=True)
    flat = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
    parts, owner = shapely.orient_polygons(parts[flat], exterior_cw=True), owner[flat]
    rings, part = shapely.get_rings(parts, return_index=True)
    xy, ring = shapely.get_coordinates(rings, return_index=True)
    points = np.clip(grid.in_cells(xy), 0.0, (grid.nx, grid.ny))
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    factor = weight[owner[part[ring]]] if len(ring) else np.zeros(0)
    for some in np.array_split(edge, max(1, len(edge) // _AT_ONCE)):
        for start, end, which in _split(points[some], points[some + 1]):
            _add(sums, start, end, factor[some[which]])
    shares: np.ndarray = np.cumsum(sums, axis=1)[::-1, : grid.nx]
    shares[shares < _ROUNDING] = 0.0  # else rounding would leave slivers of mat to the right of it, or on a barrier
    if weights is None:
        shares[np.abs(shares - 1.0) < _ROUNDING] = 1.0
    return shares


def window_of(box: Box, grid: Grid) -> tuple[Grid, tuple[slice, slice]] | None:
    """Give the part of a grid that a box touches, and where it lies in the layers; None if it touches none."""
    ends = np.nan_to_num(np.array(box, dtype=np.float64).reshape(2, 2), nan=-np.inf)
    low, high = grid.in_cells(ends)
    west, south = np.clip(np.floor(low), 0, (grid.nx, grid.ny)).astype(int)
    east, north = np.clip(np.ceil(high), 0, (grid.nx, grid.ny)).astype(int)
    if west >= east or south >= north:
        return None
    corner = (grid.west + west * grid.size, grid.south + south * grid.size)
    part = Grid(*corner, grid.size, int(north - south), int(east - west), grid.crs)
    return part, (slice(grid.ny - int(north), grid.ny - int(south)), slice(int(west), int(east)))


def length_in_cells(polygons: Any, grid: Grid) -> float:
    """Give the length of all outlines in sides of a cell: what `shares_of` takes time and memory for."""
    import shapely

    return float(np.nansum(shapely.length(polygons))) / grid.size


def _cut(polygons: np.ndarray, grid: Grid) -> np.ndarray:
    """Cut polygons off at the edges of the grid."""
    import shapely

    west, south, east, north = grid.bounds
    ends = shapely.bounds(polygons)
    with np.errstate(invalid="ignore"):
        over = (ends[:, 0] < west) | (ends[:, 1] < south) | (ends[:, 2] > east) | (ends[:, 3] > north)
    if not over.any():
        return polygons
    cut = polygons.copy()
    cut[over] = shapely.intersection(polygons[over], shapely.box(west, south, east, north))
    return cut


def _split(start: np.ndarray, end: np.ndarray) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Cut edges (n, 2) where they cross lines of the grid; give starts, ends and the edge of each piece."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    crossed = np.maximum(np.ceil(high) - 1 - np.floor(low), 0).astype(np.int64)  # whole numbers strictly between
    total = np.cumsum(crossed.sum(axis=1) + 2)
    most = 2 * _AT_ONCE
    cuts = np.searchsorted(total, np.arange(most, total[-1] if len(total) else 0, most))
    for some in np.split(np.arange(len(start)), cuts):
        if not len(some):
            continue
        times, which = [np.zeros(len(some)), np.ones(len(some))], [some, some]
        for axis in (0, 1):
            count = crossed[some, axis]
            owner = np.repeat(some, count)
            nth = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
            line = np.floor(low[owner, axis]) + 1 + nth
            times.append((line - start[owner, axis]) / (end[owner, axis] - start[owner, axis]))
            which.append(owner)
        time, edge = np.concatenate(times), np.concatenate(which)
        order = np.lexsort((time, edge))
        time, edge = time[order], edge[order]
        points = start[edge] + time[:, None] * (end[edge] - start[edge])
        points[time == 1] = end[edge[time == 1]]
        same = np.flatnonzero(edge[1:] == edge[:-1])
        yield points[same], points[same + 1], edge[same]


def _add(sums: np.ndarray, start: np.ndarray, end: np.ndarray, factor: np.ndarray) -> None:
    """Add pieces that lie in one cell each: the height of a piece counts for all that lies to the right of it."""
    ny, nx = sums.shape[0], sums.shape[1] - 1
    middle = (start + end) / 2
    column = np.clip(np.floor(middle[:, 0]).astype(np.int64), 0, nx - 1)
    row = np.clip(np.floor(middle[:, 1]).astype(np.int64), 0, ny - 1)
    rise = (end[:, 1] - start[:, 1]) * factor
    into = middle[:, 0] - column
    flat, cell = sums.ravel(), row * (nx + 1) + column
    np.add.at(flat, cell, rise * (1 - into))
    np.add.at(flat, cell + 1, rise * into)
