"""Mat that a survey records, as cells and their cover."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from spreadsim.inputs import Site
from spreadsim.inputs.survey import Record
from spreadsim.inputs.survey_grounds import Ground
from spreadsim.learning.overlooked import RADIUS
from spreadsim.learning.records import middle_of
from spreadsim.learning.worlds import World

AS_BEFORE = float("nan")  # cover of a cell of which a record says only that mat is there
CLOSED = 1.0


def mat_of(record: Record, ground: Ground, living: float | None, site: Site, old: Any) -> tuple[Any, Any]:
    """Give the cells that a record of mat is about, and the cover of each.

    An outline gives them all. A point among the mats of the map says that mat is there, and how much where it fits into
    the cell; one away from them is a patch of the area that is said, on the ground nearest to the point, or one of
    which only the place is known.

    Parameters
    ----------
    record, ground
        What was found, and where.
    living
        m2 of cover that it says; None: nothing.
    site
        The ground.
    old
        (cells,), whether a cell is counted to the mats of the map.

    Returns
    -------
    cells, cover
        Cover is `AS_BEFORE` where only mat is said.
    """
    cover = CLOSED if record.cover is None else record.cover.middle
    if record.footprint:
        open_ground = site.plantable.ravel()[ground.cells] > 0
        return ground.cells[open_ground], np.clip(cover * ground.shares[open_ground], 1e-3, 1.0)
    middle = middle_of(ground, record, site)
    if old[middle].any():
        told = living is not None and tells_ground(record, ground, living, site)
        return middle, np.full(len(middle), max((living or 0.0) / _room(site, middle[0]), 1e-3) if told else AS_BEFORE)
    if living is None:
        return middle, np.full(len(middle), AS_BEFORE)
    cells, covers = filled(site, *place_of(site, int(middle[0])), living, max(cover, 1e-3))
    return (cells, covers) if len(cells) else (middle, np.full(len(middle), AS_BEFORE))


def typical(world: World, patch: Any, found: Any, area: Any) -> tuple[float, float]:
    """Give the living cover (m2) and the cover of a new patch as people find them in a world.

    The average of its new patches, each by its chance of being found; one of 1 m around where it has none (assumed).

    Parameters
    ----------
    world
        Where nothing is said of a patch but its place.
    patch, found
        (cells with mat,), number of the new patch or -1, and the chance that it is found.
    area
        (cells of the site,), m2 that mat can cover.
    """
    new = patch >= 0
    ground = np.bincount(patch[new], area[world.cells[new]])
    living = np.bincount(patch[new], area[world.cells[new]] * world.cover[new])
    weight = np.zeros(len(ground))
    np.maximum.at(weight, patch[new], found[new])
    if not weight.any():
        return math.pi * RADIUS**2, CLOSED
    return float(weight @ living / weight.sum()), float(weight @ living / (weight @ ground))


def place_of(site: Site, cell: int) -> tuple[float, float]:
    """Give the middle of a cell, m from the south-west corner."""
    row, column = divmod(cell, site.nx)
    return (column + 0.5) * site.cell_size, (site.ny - row - 0.5) * site.cell_size


def tells_ground(record: Record, ground: Ground, living: float | None, site: Site) -> bool:
    """Tell whether a record of mat says which ground it is: by an outline, or as no more than a cell holds."""
    if record.footprint:
        return True
    return living is not None and living <= _room(site, middle_of(ground, record, site)[0]) * (1.0 + 1e-6)


def _room(site: Site, cell: int) -> float:
    """Give the m2 of a cell that mat can cover."""
    return max(float(site.plantable.ravel()[cell]) * site.cell_size**2, 1e-9)


def filled(site: Site, x: float, y: float, living: float, cover: float) -> tuple[Any, Any]:
    """Lay so many m2 of living cover around a point, at one cover, the nearest ground first.

    Parameters
    ----------
    site
        The ground; where the vine can't grow it isn't laid.
    x, y
        m from the south-west corner.
    living
        m2.
    cover
        0-1; the last cell gets the rest.

    Returns
    -------
    cells, cover
        Of the cells that have some.
    """
    size = site.cell_size
    reach = 2.0 * math.sqrt(max(living, 0.0) / cover) + 3.0 * size
    rows = np.arange(
        max(int((site.height - y - reach) // size), 0), min(int((site.height - y + reach) // size) + 1, site.ny)
    )
    columns = np.arange(max(int((x - reach) // size), 0), min(int((x + reach) // size) + 1, site.nx))
    cells = (rows[:, None] * site.nx + columns).ravel()
    row, column = np.divmod(cells, site.nx)
    apart = np.hypot((column + 0.5) * size - x, (site.ny - row - 0.5) * size - y)
    order = np.lexsort((cells, apart))
    cells = cells[order]
    room = site.plantable.ravel()[cells] * size**2
    cells, room = cells[room > 0], room[room > 0]
    before = np.cumsum(room * cover) - room * cover
    used = before < living
    share = np.minimum((living - before[used]) / (room[used] * cover), 1.0)
    return cells[used], np.maximum(cover * share, 1e-3)
