"""Seedlings on their way to a patch: shed, dormant, killed by work, rooted."""

import math
from typing import Any

from spreadsim.model.draws import KILL_SEEDLING, LIFE, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    EMPTY,
    FAULT,
    FOUNDER,
    GROWTH,
    N_SEEDLINGS,
    NEW_PATCHES,
    ROOTING,
    YEARS,
)
from spreadsim.model.kernels.mat import infest, list_unknown

MOST_SEASONS = 2048  # more than a run can have


@inner
def shed(
    key: Any, plan: Any, state: Any, vine: Any, entity: Any, season: Any, number: Any, c: Any, by_bird: Any
) -> None:
    """Enter a seed that will be a patch if nothing stops it; one that the last year does not see is left out."""
    dormant = -vine.seed_bank_life * math.log(uniform(key, LIFE, entity, season, number))
    roots = season + max(1, math.floor(4.0 * (dormant + vine.years_seed_to_patch) + 0.5))
    germinates = season + 1 + math.floor(4.0 * dormant)
    if roots >= 4 * plan.switches[YEARS] and germinates >= 4 * plan.switches[YEARS]:
        return
    i = state.count[N_SEEDLINGS]
    if i >= state.seedlings.size:
        # the caller enlarges the memory and runs the replicate again
        state.count[FAULT] = 1
        return
    state.count[N_SEEDLINGS] = i + 1
    seedling = state.seedlings[i]
    seedling.cell = c
    seedling.germinates = germinates
    seedling.shed = season
    seedling.number = number
    seedling.entity = entity
    seedling.alive = 1
    seedling.by_bird = 1 if by_bird else 0
    seedling.rooted = 0
    seedling.next_in_cell = state.care[c].seedling
    state.care[c].seedling = i
    seedling.next_in_season = -1
    if roots < 4 * plan.switches[YEARS]:
        seedling.next_in_season = state.lists[ROOTING, roots]
        state.lists[ROOTING, roots] = i


@inner
def stays_bare(plan: Any, state: Any, i: Any) -> Any:
    """Whether no cover lay on a seedling when it germinated or was laid on it later: either ends after that moment."""
    season = state.seedlings[i].germinates
    start = season // 4 + plan.seasonal[GROWTH, season % 4]
    return state.care[state.seedlings[i].cell].covered <= start


@inner
def has_seedling(plan: Any, state: Any, c: Any, season: Any) -> Any:
    """Whether a germinated seedling stands in the cell."""
    i = state.care[c].seedling
    while i >= 0:
        seedling = state.seedlings[i]
        if seedling.alive and seedling.germinates <= season and stays_bare(plan, state, i):
            return True
        i = state.seedlings[i].next_in_cell
    return False


@inner
def kill_seedlings(key: Any, state: Any, c: Any, season: Any, kill: Any) -> None:
    """Work on a cell kills germinated seedlings there."""
    i = state.care[c].seedling
    while i >= 0:
        seedling = state.seedlings[i]
        if seedling.alive and seedling.germinates <= season:
            number = seedling.number * MOST_SEASONS + seedling.shed
            if uniform(key, KILL_SEEDLING, seedling.entity, season, number) < kill:
                seedling.alive = 0
        i = seedling.next_in_cell


@inner
def root(ground: Any, plan: Any, state: Any, vine: Any, tally: Any, year: Any, season: Any, end: Any) -> None:
    """Seedlings due this season become patches where the ground is free; bird-borne ones go first."""
    for turn in range(2):
        by_bird = 1 - turn
        i = state.lists[ROOTING, season]
        while i >= 0:
            seedling = state.seedlings[i]
            c = seedling.cell
            if seedling.by_bird == by_bird and seedling.alive:
                seedling.alive = 0
                if state.kinds[c] == EMPTY and state.care[c].covered <= end and stays_bare(plan, state, i):
                    seedling.rooted = 1
                    infest(ground, plan, state, vine, c, FOUNDER, end, end, vine.density_on_arrival)
                    state.pasts[state.cells[c].slot].origin = c
                    state.cells[c].known = 0
                    list_unknown(state, c)
                    if by_bird:
                        tally.yearly[year + 1, NEW_PATCHES] += 1.0
            i = seedling.next_in_season
