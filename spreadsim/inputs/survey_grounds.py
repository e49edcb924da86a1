"""The ground that a record or an event of a survey is about, as shares of the cells of a site."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, crs_of, mover
from spreadsim.inputs.gis import installed
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.hosts import cells_of
from spreadsim.inputs.local_plane import local_metres
from spreadsim.inputs.shares import shares_of, window_of
from spreadsim.inputs.site import Site
from spreadsim.inputs.survey import Event, Record

_LONGEST = 200_000  # characters of a footprint
_LARGE = 20  # cells in the radius of a disc from which on cells are in or out as a whole
_MOST_CELLS = 20_000_000  # of the places of all records together


class Ground(NamedTuple):
    """Cells (row x nx + column, row 0 in the north) and the share of each that belongs to it, above 0."""

    cells: np.ndarray
    shares: np.ndarray


class Grounds:
    """Finds the ground of records on a site.

    Parameters
    ----------
    site : Site
        Where.
    corner : two floats, or None
        Longitude and latitude of its south-west corner, if it has no reference system.
    check : Check
        Where to note places that can't be told.
    """

    def __init__(self, site: Site, corner: tuple[float, float] | None, check: Check) -> None:
        self.site, self.corner, self.check = site, corner, check
        self._known: dict[Record, Ground | None] = {}
        self._units: dict[str, Ground] = {}

    def check_all(self, records: Iterable[Record]) -> None:
        """Note positions that can't be told on the site, and footprints that are none; keep the rest."""
        with_position = next((one for one in records if one.xy is None and (one.position or one.footprint)), None)
        if with_position is not None and self.corner is None and self.site.crs is None:
            remedy = "a site with crs and origin, or corner = (longitude, latitude) of its south-west corner"
            self.check.add(with_position.place, Said("a place in longitude and latitude"), remedy)
            return
        cells = 0
        for record in records:
            ground = self._known[record] = self._place(record)
            cells += 0 if ground is None else len(ground.cells)
            if cells > _MOST_CELLS:
                found = Said(f"places that cover more than {_MOST_CELLS:,} cells, up to here")
                self.check.add(record.place, found, "smaller uncertainties and footprints, or fewer records")
                return

    def of_record(self, record: Record) -> Ground | None:
        """Give where a record may lie as shares of cells (y, x); None where it says no place, or one off the site."""
        return self._known.get(record)

    def of_event(self, event: Event) -> Ground | None:
        """Give the ground of an event: of footprints, else of its units, else of the places of its records."""
        for having in ("footprint", "unit", "place"):
            parts = [self._part(one, having) for one in event.records]
            held = {id(part): part for part in parts if part is not None and len(part.cells)}  # a unit once only
            if held:
                return _together(list(held.values()))
        return None

    def _part(self, record: Record, having: str) -> Ground | None:
        if having == "unit":
            return self._unit(record.unit) if record.unit and self.site.unit_names else None
        if having == "footprint" and not record.footprint:
            return None
        return self._known.get(record)

    def _unit(self, name: str) -> Ground:
        plain = " ".join(name.lower().split())
        if plain not in self._units:
            names = [" ".join(one.lower().split()) for one in self.site.unit_names]
            share = self.site.plantable * (self.site.unit == names.index(plain) + 1)
            self._units[plain] = _of_layer(share)
        return self._units[plain]

    def _place(self, record: Record) -> Ground | None:
        if record.footprint:
            return self._footprint(record)
        if record.xy is not None:
            x, y = record.xy
        elif record.position is not None:
            east, north = self._metres(np.array([record.position[0]]), np.array([record.position[1]]))
            x, y = float(east[0]), float(north[0])
        else:
            return None
        return self._disc(x, y, record.uncertainty or 0.0)

    def _disc(self, x: float, y: float, radius: float) -> Ground | None:
        """Give the cells within a radius of a point, at least its own; None off the site, or if it may be anywhere."""
        site = self.site
        whole = Grid(0.0, 0.0, site.cell_size, site.ny, site.nx)
        if not radius <= math.hypot(site.width, site.height):
            return None
        if radius > 0.5 * site.cell_size:
            found = window_of((x - radius, y - radius, x + radius, y + radius), whole)
            if found is None:
                return None
            return self._in_window(_shares_of_disc(x, y, radius, found[0]), found[1])
        if math.isfinite(x + y) and whole.contains(x, y):
            cell = cells_of(np.array([x]), np.array([y]), site.ny, site.nx, site.cell_size)
            return Ground(cell, np.ones(1))
        return None

    def _in_window(self, share: np.ndarray, at: tuple[slice, slice]) -> Ground | None:
        """Give the ground of a part of the site's layers."""
        row, column = np.nonzero(share > 0)
        cells = (row + at[0].start) * self.site.nx + column + at[1].start
        return Ground(cells, share[row, column]) if len(cells) else None

    def _footprint(self, record: Record) -> Ground | None:
        place = f"{record.place}, footprintWKT"
        if not installed(self.check, place, "shapely"):
            return None
        import shapely

        try:
            shape = shapely.from_wkt(record.footprint[:_LONGEST])
        except (shapely.GEOSException, TypeError, ValueError):
            shape = None
        right = shape is not None and shape.geom_type in ("Polygon", "MultiPolygon") and shape.is_valid
        if not right or len(record.footprint) > _LONGEST:
            allowed = "a valid polygon in well-known text, longitude first: POLYGON ((-123.1 49.2, ...))"
            self.check.add(place, record.footprint, allowed)
            return None
        moved = shapely.transform(shape, lambda xy: np.column_stack(self._metres(xy[:, 0], xy[:, 1])))
        if not np.isfinite(moved.bounds).all():
            return None
        whole = Grid(0.0, 0.0, self.site.cell_size, self.site.ny, self.site.nx)
        found = window_of(moved.bounds, whole)
        return None if found is None else self._in_window(shares_of([moved], found[0]), found[1])

    def _metres(self, longitude: np.ndarray, latitude: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give metres from the south-west corner; infinite where a place can't be told."""
        lost = np.full(len(longitude), np.inf)
        if self.corner is not None:
            return local_metres(longitude, latitude, self.corner)
        crs = crs_of(self.site.crs, self.check, "site.crs")
        if crs is None:
            return lost, lost
        x, y = mover(DEGREES, crs)(longitude, latitude)
        return x - self.site.origin[0], y - self.site.origin[1]


def _shares_of_disc(x: float, y: float, radius: float, part: Grid) -> np.ndarray:
    """Give which share of each cell a disc covers, to a few percent: of 5 x 5 points a cell, of its middle if large."""
    fine = 5 if radius < _LARGE * part.size else 1
    step = part.size / fine
    east = part.west + (np.arange(part.nx * fine) + 0.5) * step - x
    north = part.south + (np.arange(part.ny * fine)[::-1] + 0.5) * step - y
    inside = east**2 + north[:, None] ** 2 <= radius**2
    shares: np.ndarray = inside.reshape(part.ny, fine, part.nx, fine).mean(axis=(1, 3))
    return shares


def _of_layer(share: np.ndarray) -> Ground:
    cells = np.flatnonzero(share > 0)
    return Ground(cells, share.ravel()[cells])


def _together(parts: list[Ground]) -> Ground:
    """Put grounds together, the larger share where several have some."""
    if len(parts) == 1:
        return parts[0]
    cells, which = np.unique(np.concatenate([part.cells for part in parts]), return_inverse=True)
    shares = np.zeros(len(cells))
    np.maximum.at(shares, which.ravel(), np.concatenate([part.shares for part in parts]))
    return Ground(cells, shares)
