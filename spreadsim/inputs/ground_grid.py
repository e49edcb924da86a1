"""The grid that a site is brought onto: where it lies, in which reference system, and how large it may be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.inputs.checks import Check
from spreadsim.inputs.site_checks import MOST_CELLS

if TYPE_CHECKING:
    from pyproj import CRS

_BYTES_A_CELL = 200  # of a site while it is read: eight layers of float64, copies and what a raster is read into
Box = tuple[float, float, float, float]  # west, south, east, north


@dataclass(frozen=True)
class Grid:
    """Square cells in rows from the north.

    Attributes
    ----------
    west, south : float
        South-west corner, m.
    size : float
        Side of a cell, m.
    ny, nx : int
        Rows and columns.
    crs : pyproj.CRS or None
        Of the coordinates; None where a site says none.
    """

    west: float
    south: float
    size: float
    ny: int
    nx: int
    crs: CRS | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.ny, self.nx

    @property
    def bounds(self) -> Box:
        """West, south, east and north end, m."""
        return self.west, self.south, self.west + self.nx * self.size, self.south + self.ny * self.size

    def in_cells(self, xy: np.ndarray) -> np.ndarray:
        """Give points (n, 2) in cells from the south-west corner."""
        scaled: np.ndarray = (xy - (self.west, self.south)) / self.size
        return scaled

    def contains(self, x: Any, y: Any) -> Any:
        """Tell which points lie on it, its edges included."""
        west, south, east, north = self.bounds
        return (x >= west) & (x <= east) & (y >= south) & (y <= north)

    @property
    def said(self) -> str:
        """Its extent in words."""
        west, south, east, north = self.bounds
        return f"x {west:.1f} to {east:.1f}, y {south:.1f} to {north:.1f}"

    def far(self, x: float, y: float) -> str:
        """Say how far off the site a point is."""
        west, south, east, north = self.bounds
        beyond = math.hypot(max(west - x, x - east, 0), max(south - y, y - north, 0))
        return f"{beyond / 1000:,.0f} km off the site" if beyond >= 10_000 else f"{beyond:,.1f} m off the site"


def grid_around(box: Box, size: float, crs: CRS | None, check: Check, place: str) -> Grid | None:
    """Lay a grid around a box, its corners at whole multiples of the cell size, so that neighbours' grids fit.

    Parameters
    ----------
    box : tuple of four floats
        West, south, east, north, m.
    size : float
        Side of a cell, m.
    crs : pyproj.CRS or None
        Of the coordinates.
    check : Check
        Where to note a grid that would be too large.
    place : str
        Where the extent comes from.

    Returns
    -------
    Grid or None
    """
    rounding = 1e-6  # of a cell: an edge that lies on a line of the grid begins no new cell
    first = [math.floor(low / size + rounding) for low in box[:2]]
    last = [math.ceil(high / size - rounding) for high in box[2:]]
    nx, ny = (max(1, end - start) for start, end in zip(first, last, strict=True))
    if not enough_room(ny, nx, size, check, place):
        return None
    return Grid(first[0] * size, first[1] * size, size, ny, nx, crs)


def enough_room(ny: int, nx: int, size: float, check: Check, place: str) -> bool:
    """Note a grid with too many cells, with the memory that it would take, before any of it is taken."""
    if ny * nx <= MOST_CELLS:
        return True
    fits = size * math.sqrt(ny * nx / MOST_CELLS)
    area = f"{nx * size:,.0f} x {ny * size:,.0f} m in cells of {size:g} m"
    found = f"{nx * ny:,} cells ({area}, some {ny * nx * _BYTES_A_CELL / 1e9:,.0f} GB of memory)"
    remedy = f"cell_size = {math.ceil(fits):g} would do" if fits <= 100 else "is all of it in one place?"
    check.problems.say(check.thing, place, f"found {found}, allowed at most {MOST_CELLS:,} cells: {remedy}")
    return False
