"""Finding what nobody knew: by scouting, and on the way to other work."""

import math
from typing import Any

from spreadsim.model.draws import FIND_HOST, FIND_MAT, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBING,
    EFFORT,
    EMPTY,
    N_UNKNOWN,
    N_UNKNOWN_HOSTS,
    QUEUE,
    UNKNOWN,
    UNKNOWN_HOSTS,
    VISITED,
)
from spreadsim.model.kernels.mat import cover, make_known


@inner
def detection(effort: Any, time_constant: Any, missed: Any) -> Any:
    """Chance that a search finds a thing: 1 - exp(-effort / time constant), less the share that looks like litter."""
    return (1.0 - missed) * (1.0 - math.exp(-effort / time_constant))


@inner
def find(
    key: Any, ground: Any, state: Any, vine: Any, scouting: Any, searched: Any, season: Any, now: Any, on_the_way: Any
) -> None:
    """Look for unknown mat and hosts with this season's effort; the luck of a season is one number per patch or host.

    `scouting` is the scout treatment's numbers, `searched` whether effort was spent, `on_the_way` the chance that a
    crew finds what stands in a 10 m block where it worked (0: not yet asked).
    """
    boost = scouting.leaf_off_boost if season % 4 == 0 else 1.0
    found_cells = 0
    for i in range(state.count[N_UNKNOWN]):
        c = state.lists[UNKNOWN, i]
        cell = state.cells[c]
        if state.kinds[c] == EMPTY or cell.known:
            continue
        chance = 0.0
        if searched and state.books[EFFORT, ground.cells[c].unit] > 0.0:
            seen = math.sqrt(cover(ground, state, vine, c, now) / vine.max_cover)
            effort = state.books[EFFORT, ground.cells[c].unit] * boost * scouting.clumping_factor * seen
            chance = detection(effort, scouting.search_time_constant_mat, scouting.cryptic_share)
        if on_the_way > 0.0 and state.lists[VISITED, ground.cells[c].block] == season + 1:
            chance = 1.0 - (1.0 - chance) * (1.0 - on_the_way)
        if chance > 0.0 and uniform(key, FIND_MAT, state.pasts[cell.slot].origin, season, 0) < chance:
            # a patch is found as a whole: first mark its origin, below the rest of it
            state.lists[QUEUE, found_cells] = state.pasts[cell.slot].origin
            found_cells += 1
    _spread_finds(ground, state, found_cells)

    kept = 0
    for i in range(state.count[N_UNKNOWN_HOSTS]):
        j = state.lists[UNKNOWN_HOSTS, i]
        host = state.hosts[j]
        c = ground.hosts[j].cell
        if host.state == CLIMBING and host.known == 0:
            chance = 0.0
            if searched and state.books[EFFORT, ground.cells[c].unit] > 0.0:
                effort = state.books[EFFORT, ground.cells[c].unit] * boost * scouting.clumping_factor
                chance = detection(effort, scouting.search_time_constant_climbing, scouting.cryptic_share)
            if on_the_way > 0.0 and state.lists[VISITED, ground.cells[c].block] == season + 1:
                chance = 1.0 - (1.0 - chance) * (1.0 - on_the_way)
            if chance > 0.0 and uniform(key, FIND_HOST, j, season, 0) < chance:
                host.known = 1
        if host.state == CLIMBING and host.known == 0:
            state.lists[UNKNOWN_HOSTS, kept] = j
            kept += 1
        else:
            host.unlisted = 0
    state.count[N_UNKNOWN_HOSTS] = kept


@inner
def _spread_finds(ground: Any, state: Any, found: Any) -> None:
    """Make every cell of a found origin known, and drop from the list what is known or gone."""
    for i in range(found):
        state.care[state.lists[QUEUE, i]].found = 1
    kept = 0
    for i in range(state.count[N_UNKNOWN]):
        c = state.lists[UNKNOWN, i]
        cell = state.cells[c]
        lives = state.kinds[c] != EMPTY
        if lives and cell.known == 0 and state.care[state.pasts[cell.slot].origin].found == 1:
            make_known(ground, state, c)
        if lives and cell.known == 0:
            state.lists[UNKNOWN, kept] = c
            kept += 1
        else:
            cell.unlisted = 0
    state.count[N_UNKNOWN] = kept
    for i in range(found):
        state.care[state.lists[QUEUE, i]].found = 0
