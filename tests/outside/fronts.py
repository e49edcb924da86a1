"""Arrivals of the mat on a site, as the kernels give them."""

import math

import numpy as np

from . import drivers
from .helpers import key_of, make_world, mapped, open_site

# 2.75 %: by how much a way of sides, diagonals and knight's moves can be longer than the straight one.
# It is longest halfway between a side and a knight's move, atan(1/2)/2 off both: 1 / cos of that.
METRIC = 1.0 / math.cos(math.atan(0.5) / 2.0)


def spread(shares, cell_size, *, until=1000.0, years=1000, seasons=1, canopy=None, plantable=None, **numbers):
    """Let mat spread from infested shares until a time, of a run of so many years.

    Returns the world, and arrivals (y, x) in years (infinite: not reached).
    """
    shares = np.asarray(shares, dtype=float)
    layers = {"mat": mapped(shares)}
    if canopy is not None:
        layers["canopy"] = canopy
    if plantable is not None:
        layers["plantable"] = plantable
    site = open_site(len(shares), cell_size, **layers)
    world = make_world(site, years=years, **numbers)
    drivers.begin(key_of(1), world.ground, world.plan, world.state, world.vines)
    for end in until * np.arange(1, seasons + 1) / seasons:
        drivers.advance(world.ground, world.plan, world.state, world.vines, end)
    return world, arrivals(world)


def arrivals(world):
    """Arrival of the front at every cell (y, x), yr; infinite where there is no mat."""
    state = world.state
    rows, columns = world.ground.shape[:2]
    arrival = state.stands["arrival"][
        state.cells["slot"]
    ]  # of a cell that never changed the last one's, left out below
    return np.where(state.kinds > 0, arrival, np.inf).reshape(rows, columns)


def area(world, now):
    """Infested area at a time, m2."""
    out = np.zeros(world.state.cells.size)
    drivers.infested(world.ground, world.state, world.vines, now, out)
    return out.sum() * world.ground.numbers[0] ** 2
