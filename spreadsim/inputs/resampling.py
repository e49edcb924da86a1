"""Resampling the pixels of a raster onto the cells of a site, by area, however the raster lies."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs.ground_grid import Grid

AVERAGE, MAJORITY, HIGHEST = "average", "majority", "highest"
_FEWEST, _MOST = 8, 16  # samples along a side of a cell, where pixels are no smaller
_SAMPLES = 50_000_000  # in all, where that leaves more than the fewest
_A_PIXEL = 2  # samples along a side of a pixel, at least
_TILE = 2048  # samples along a side of what is worked on at a time
_AT_ONCE = 1_000_000  # pixels whose corners are moved together
_ROUNDING = 1e-6  # of a cell: a pixel that ends at the edge of a cell does not reach into it
_LOCAL = 'LOCAL_CS["site",UNIT["metre",1]]'  # for both, where one says no system


class Pixels(NamedTuple):
    """Pixels in memory, and where they lie.

    Attributes
    ----------
    values : float64 (rows, columns)
        NaN where there is no data.
    transform : affine.Affine
        From columns and rows to coordinates.
    crs : pyproj.CRS or None
        Of the coordinates.
    """

    values: np.ndarray
    transform: Any
    crs: Any


def resampled(pixels: Pixels, grid: Grid, rule: str) -> tuple[np.ndarray, np.ndarray]:
    """Bring pixels onto the cells of a grid.

    GDAL weighs pixels by their area in a cell where their edges run along those of the cells, and where it averages.
    Else it takes all that lies in a box around the cell, which at 45 degrees has twice its area, and for the commonest
    number it counts pixels of any share alike. There cells are sampled instead, at 64 points or more (256 on small
    sites, and at least 4 a pixel). The highest is looked up from the pixels' side, so that none is missed.

    Parameters
    ----------
    pixels : Pixels
        With a reference system if the grid has one.
    grid : Grid
        That of the site.
    rule : str
        `AVERAGE`, `MAJORITY` (of equal areas the lowest number), or `HIGHEST` of 0 and 1: 1 if any pixel above 0
        reaches into the cell; a pixel that does not lie along the cells counts as the box around it.

    Returns
    -------
    onto : float64 (y, x)
        NaN where no pixel has data.
    known : float64 (y, x)
        Share of each cell's area with data.
    """
    if rule == AVERAGE and _along(pixels, grid):
        return _averaged(pixels, grid)
    onto, known = _sampled(pixels, grid, rule)
    if rule == HIGHEST:
        onto = np.where(_touched(pixels, grid), 1.0, np.where(known > 0, 0.0, np.nan))
    return onto, known


def _moves(pixels: Pixels, grid: Grid) -> bool:
    """Tell whether the pixels are in another reference system."""
    return pixels.crs is not None and grid.crs is not None and pixels.crs != grid.crs


def _along(pixels: Pixels, grid: Grid) -> bool:
    """Tell whether the edges of pixels run along those of cells."""
    t = pixels.transform
    return not _moves(pixels, grid) and ((t.b == 0 and t.d == 0) or (t.a == 0 and t.e == 0))


def _averaged(pixels: Pixels, grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    from rasterio.enums import Resampling

    onto = _warped(pixels, grid, Resampling.average, np.nan)
    held = pixels._replace(values=np.isfinite(pixels.values).astype(np.float64))
    return onto, np.clip(_warped(held, grid, Resampling.average, None), 0.0, 1.0)


def _warped(pixels: Pixels, grid: Grid, way: Any, nodata: float | None) -> np.ndarray:
    from rasterio.transform import from_origin
    from rasterio.warp import reproject

    onto = np.full(grid.shape, 0.0 if nodata is None else nodata)
    moves = _moves(pixels, grid)
    reproject(
        pixels.values,
        onto,
        src_transform=pixels.transform,
        dst_transform=from_origin(grid.west, grid.bounds[3], grid.size, grid.size),
        src_crs=pixels.crs.to_wkt() if moves else _LOCAL,
        dst_crs=grid.crs.to_wkt() if moves and grid.crs is not None else _LOCAL,
        src_nodata=nodata,
        dst_nodata=nodata,
        resampling=way,
    )
    return onto


def _sampled(pixels: Pixels, grid: Grid, rule: str) -> tuple[np.ndarray, np.ndarray]:
    """Look up pixels at points of each cell, tile by tile; give averages or commonest numbers, and what is known."""
    from rasterio.enums import Resampling

    rows, columns = _reach(pixels, grid)
    k = _samples(pixels, grid, len(rows) * len(columns))
    onto, known = np.full(grid.shape, np.nan), np.zeros(grid.shape)
    side = max(1, _TILE // k)
    for top in rows[::side]:
        for left in columns[::side]:
            ny, nx = min(side, rows.stop - top), min(side, columns.stop - left)
            corner = (grid.west + left * grid.size, grid.bounds[3] - (top + ny) * grid.size)
            fine = Grid(*corner, grid.size / k, ny * k, nx * k, grid.crs)
            found = _warped(pixels, fine, Resampling.nearest, np.nan)
            cells = found.reshape(ny, k, nx, k).swapaxes(1, 2).reshape(ny, nx, k * k)
            count = np.isfinite(cells).sum(axis=2)
            at = (slice(top, top + ny), slice(left, left + nx))
            known[at] = count / k**2
            if rule == MAJORITY:
                onto[at] = _commonest(cells)
            elif rule == AVERAGE:
                with np.errstate(invalid="ignore"):
                    onto[at] = np.where(count > 0, np.nansum(cells, axis=2) / count, np.nan)
    return onto, known


def _reach(pixels: Pixels, grid: Grid) -> tuple[range, range]:
    """Give the rows and columns of cells that a raster may reach into."""
    rows, columns = pixels.values.shape
    along, nil = np.linspace(0, 1, 21), np.zeros(21)
    u, v = np.concatenate([along, along, nil, nil + 1]), np.concatenate([nil, nil + 1, along, along])
    ends = _in_cells(pixels, grid, u * columns, v * rows)
    if not np.isfinite(ends).all():
        return range(grid.ny), range(grid.nx)
    west, south = np.floor(ends.min(axis=0)).clip(1, (grid.nx, grid.ny)).astype(int) - 1
    east, north = np.ceil(ends.max(axis=0)).clip(0, (grid.nx - 1, grid.ny - 1)).astype(int) + 1
    return range(int(grid.ny - north), int(grid.ny - south)), range(int(west), int(east))


def _samples(pixels: Pixels, grid: Grid, cells: int) -> int:
    """Choose how many samples to take along a side of a cell: in all no more than a few a pixel, or `_SAMPLES`."""
    rows, columns = pixels.values.shape
    middle = (columns / 2 + np.array([0.0, 1.0, 0.0]), rows / 2 + np.array([0.0, 0.0, 1.0]))
    ends = _in_cells(pixels, grid, *middle)
    side = float(np.hypot(*(ends[1:] - ends[0]).T).min())  # of a pixel, in cells
    wanted = max(_MOST, math.ceil(min(_A_PIXEL / side, _TILE))) if math.isfinite(side) and side > 0 else _MOST
    bearable = math.sqrt((_SAMPLES + _A_PIXEL**2 * pixels.values.size) / max(1, cells))
    return max(_FEWEST, min(wanted, int(bearable)))


def _in_cells(pixels: Pixels, grid: Grid, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Give columns and rows of a raster as points (n, 2) in cells from the south-west corner of the grid."""
    from spreadsim.inputs.crs import mover

    t = pixels.transform
    x, y = t.a * u + t.b * v + t.c, t.d * u + t.e * v + t.f
    if _moves(pixels, grid) and grid.crs is not None:
        x, y = mover(pixels.crs, grid.crs)(x, y)
    return grid.in_cells(np.column_stack([x, y]))


def _commonest(cells: np.ndarray) -> np.ndarray:
    """Give the commonest number of each cell (y, x, samples), of equals the lowest; NaN where none is known."""
    ordered = np.sort(cells, axis=2)  # what is not known comes last
    place = np.broadcast_to(np.arange(cells.shape[2]), cells.shape)
    begins = np.ones(cells.shape, dtype=bool)
    begins[..., 1:] = ordered[..., 1:] != ordered[..., :-1]
    run = place - np.maximum.accumulate(np.where(begins, place, 0), axis=2)
    longest = np.where(np.isfinite(ordered), run, -1).argmax(axis=2)
    found: np.ndarray = np.take_along_axis(ordered, longest[..., None], axis=2)[..., 0]
    return found


def _touched(pixels: Pixels, grid: Grid) -> np.ndarray:
    """Tell which cells a pixel above 0 reaches into: boxes around the pixels, summed up by their corners."""
    corners = np.zeros((grid.ny + 1, grid.nx + 1))
    row, column = np.nonzero(pixels.values > 0)
    for start in range(0, len(row), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        ends = np.stack([_in_cells(pixels, grid, column[some] + u, row[some] + v) for u in (0, 1) for v in (0, 1)])
        ends = ends[:, np.isfinite(ends).all(axis=(0, 2))]
        first = np.floor(ends.min(axis=0) + _ROUNDING).clip(0, (grid.nx, grid.ny)).astype(int)
        last = np.ceil(ends.max(axis=0) - _ROUNDING).clip(0, (grid.nx, grid.ny)).astype(int)
        for x, y, sign in ((first, first, 1), (first, last, -1), (last, first, -1), (last, last, 1)):
            np.add.at(corners, (y[:, 1], x[:, 0]), sign)
    reached: np.ndarray = corners.cumsum(axis=0).cumsum(axis=1)[: grid.ny, : grid.nx][::-1] > 0.5
    return reached
