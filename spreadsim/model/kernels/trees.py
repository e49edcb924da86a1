"""Trees fall, climbed ones more often."""

import math
from typing import Any

from spreadsim.model.draws import FAIL, FALLING, TREES_ENTITY, poisson, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBERS,
    CLIMBING,
    FALLEN,
    FALLEN_HOSTS,
    N_CLIMBERS,
    N_FALLEN,
    N_FALLEN_HOSTS,
    N_TREES,
    TREES,
)


@inner
def bring_down(state: Any, j: Any) -> None:
    """Let a standing host fall."""
    host = state.hosts[j]
    if host.state != FALLEN:
        if host.touched == 0:
            host.touched = 1
            # apart from those that carry the vine or were worked: most of these stand where nobody will ever look
            state.lists[FALLEN_HOSTS, state.count[N_FALLEN_HOSTS]] = j
            state.count[N_FALLEN_HOSTS] += 1
        host.state = FALLEN
        state.count[N_FALLEN] += 1


@inner
def fell(key: Any, ground: Any, vine: Any, state: Any, season: Any) -> None:
    """A year's falls: any tree at the base rate, climbing ones at their extra rate as well.

    The first kind is drawn as a number for the site, so that clean trees cost nothing.
    """
    trees = ground.shape[N_TREES]
    for i in range(poisson(key, TREES_ENTITY, season, 0, trees * vine.tree_failure_base)):
        bring_down(state, ground.lists[TREES, math.floor(uniform(key, FALLING, i, season, 0) * trees)])
    chance = 1.0 - math.exp(-vine.tree_failure_base * (vine.tree_failure_factor - 1.0))
    for i in range(state.count[N_CLIMBERS]):
        j = state.lists[CLIMBERS, i]
        if ground.hosts[j].tree and state.hosts[j].state == CLIMBING and uniform(key, FAIL, j, season, 0) < chance:
            bring_down(state, j)
