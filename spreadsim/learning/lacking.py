"""What the map lacked and the survey missed again, laid out in a world."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from spreadsim.inputs import Site
from spreadsim.learning.finding import chance_host, chance_mat
from spreadsim.learning.measure import Measure
from spreadsim.learning.overlooked import RADIUS, SHARE, Rates
from spreadsim.learning.recorded import filled
from spreadsim.learning.worlds import World


def patches_lacking(
    world: World, rates: Rates, measure: Measure, site: Site, years: float, luck: np.random.Generator
) -> tuple[Any, Any]:
    """Give cells and cover of patches that the map lacked and that the survey missed.

    A Poisson number of them, each anywhere on ground that the vine can grow on and that is no part of the map's mats,
    in proportion to the chance of missing it there; as large as the front makes a patch of 1 m in the time since the
    map, at half of the greatest cover, as `Overlooked` takes them.

    Parameters
    ----------
    world, rates
        The world, and how much the map lacked in it on average.
    measure, site
        Of the survey, and the ground.
    years
        From map to survey.
    luck
        Of this pick.
    """
    fresh = np.flatnonzero((site.plantable.ravel() > 0) & ~measure.zones.old)
    missed = 1.0 - chance_mat(world.scouting, measure.effort.of(world.scouting, fresh), SHARE)
    mean = rates.patches * float(missed.mean()) if len(fresh) else 0.0
    chosen = _some(fresh, missed, mean, luck)
    cells, covers = [np.zeros(0, "i8")], [np.zeros(0)]
    ground = math.pi * (RADIUS + world.front_speed * years) ** 2
    cover = SHARE * greatest(world)
    for cell in chosen.tolist():
        row, column = divmod(cell, site.nx)
        dx, dy = luck.random(2).tolist()
        x, y = (column + dx) * site.cell_size, (site.ny - row - 1 + dy) * site.cell_size
        some, its = filled(site, x, y, ground * cover, cover)
        new = ~measure.zones.old[some]
        cells.append(some[new])
        covers.append(its[new])
    return np.concatenate(cells), np.concatenate(covers)


def hosts_lacking(world: World, rates: Rates, measure: Measure, site: Site, luck: np.random.Generator) -> Any:
    """Give the numbers of hosts, mapped bare, that were climbed when the map was made and that the survey missed."""
    bare = np.flatnonzero(site.hosts.state == 0)
    missed = 1.0 - chance_host(world.scouting, measure.effort.of(world.scouting, measure.host_cell[bare]))
    mean = rates.hosts * float(missed.mean()) if len(bare) else 0.0
    return np.unique(_some(bare, missed, mean, luck))


def _some(places: Any, weight: Any, mean: float, luck: np.random.Generator) -> Any:
    count = int(luck.poisson(mean))
    if not count:
        return places[:0]
    sums = np.cumsum(weight)
    return places[np.searchsorted(sums / sums[-1], luck.random(count), side="right")]


def greatest(world: World) -> float:
    """Give the greatest cover of mat in a world, from a cell that is below it."""
    below = np.flatnonzero((world.share > 0) & (world.share < 1))
    return float(world.cover[below[0]] / world.share[below[0]]) if len(below) else 1.0
