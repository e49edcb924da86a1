"""Cells that the front will enter: those of the season at hand in a heap, later ones in a chain by season.

Most arrivals are moved up several times before they come; in a chain that costs nothing but two links.
"""

import math
from typing import Any

import numpy as np

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    ADVANCING,
    BUCKETS,
    GROWTH,
    HEAP,
    IN_HEAP,
    N_HEAP,
    SIDE,
    YEARS,
)
from spreadsim.model.kernels.light import slowness


@inner
def season_of(plan: Any, time: Any) -> Any:
    """The season that a growth time lies in, its end included."""
    year = math.floor(time)
    if time <= year:
        year -= 1
    if year < 0:
        return 0
    quarter = 0
    while time > year + plan.seasonal[GROWTH, quarter + 1]:
        quarter += 1
    return 4 * year + quarter


@inner
def entry_time(ground: Any, state: Any, c: Any, arrival: Any, slow: Any) -> Any:
    """When the front enters a cell: half a crossing before its arrival, not before the cell was cleared."""
    return max(arrival - ground.numbers[SIDE] * slow / 2.0, state.cleared[c])


@inner
def expect(ground: Any, plan: Any, state: Any, c: Any, slow: Any, arrival: Any, via: Any) -> None:
    """Let an empty cell of this slowness wait for the front that comes by a move, if none comes earlier.

    Of two that come at once the first in the order of moves counts. What enters after the last year is left out.
    """
    wait = state.waits[c]
    before = state.expected[c]
    if arrival > before or (arrival == before and via > wait.via):
        return
    entry = entry_time(ground, state, c, arrival, slow)
    if before == np.inf:
        if entry > plan.switches[YEARS]:
            return
        state.cells[c].stale = 0
    state.expected[c] = arrival
    wait.via = via
    season = season_of(plan, entry)
    if before < np.inf:
        if wait.season == IN_HEAP:
            place = state.links[c].after
            if entry < state.heap_keys[place]:
                _rise(state, place, c, entry)
            return
        if season >= wait.season:
            return
        _unchain(state, c)
    if season <= state.count[ADVANCING]:
        _push(state, c, entry)
    else:
        _chain(state, c, season)


@inner
def _push(state: Any, c: Any, entry: Any) -> None:
    state.waits[c].season = IN_HEAP
    state.count[N_HEAP] += 1
    _rise(state, state.count[N_HEAP] - 1, c, entry)


@inner
def _chain(state: Any, c: Any, season: Any) -> None:
    first = state.lists[BUCKETS, season]
    state.waits[c].season = season
    state.links[c].after = first
    state.links[c].before = -1
    if first >= 0:
        state.links[first].before = c
    state.lists[BUCKETS, season] = c


@inner
def _unchain(state: Any, c: Any) -> None:
    link = state.links[c]
    if link.before >= 0:
        state.links[link.before].after = link.after
    else:
        state.lists[BUCKETS, state.waits[c].season] = link.after
    if link.after >= 0:
        state.links[link.after].before = link.before


@inner
def take_up(ground: Any, plan: Any, state: Any, vine: Any, season: Any) -> None:
    """Put the cells chained for a season on the heap, but for those that were covered meanwhile for longer."""
    c = state.lists[BUCKETS, season]
    state.lists[BUCKETS, season] = -1
    while c >= 0:
        after = state.links[c].after
        entry = entry_time(ground, state, c, state.expected[c], slowness(ground, vine, c))
        later = season_of(plan, entry)
        if later <= season:
            _push(state, c, entry)
        elif entry <= plan.switches[YEARS]:
            _chain(state, c, later)
        else:
            state.expected[c] = np.inf
        c = after


@inner
def take_least(state: Any) -> Any:
    """Take the cell that is entered first off the heap."""
    c = state.lists[HEAP, 0]
    _fill(state, 0)
    return c


@inner
def withdraw(state: Any, c: Any) -> None:
    """Let a cell wait no more: something else came to it first."""
    state.expected[c] = np.inf
    if state.waits[c].season == IN_HEAP:
        _fill(state, state.links[c].after)
    else:
        _unchain(state, c)


@inner
def forget_front(plan: Any, state: Any) -> None:
    """Let no cell wait any more."""
    for i in range(state.count[N_HEAP]):
        state.expected[state.lists[HEAP, i]] = np.inf
    for season in range(4 * plan.switches[YEARS]):
        c = state.lists[BUCKETS, season]
        state.lists[BUCKETS, season] = -1
        while c >= 0:
            state.expected[c] = np.inf
            c = state.links[c].after


@inner
def _fill(state: Any, place: Any) -> None:
    """Put the last of the heap into a place that was left."""
    state.count[N_HEAP] -= 1
    n = state.count[N_HEAP]
    if place < n:
        c, key = state.lists[HEAP, n], state.heap_keys[n]
        _sink(state, place, c, key)
        _rise(state, state.links[c].after, c, key)


@inner
def _put(state: Any, place: Any, c: Any, key: Any) -> None:
    state.lists[HEAP, place] = c
    state.heap_keys[place] = key
    state.links[c].after = place


@inner
def _rise(state: Any, place: Any, c: Any, key: Any) -> None:
    while place > 0:
        above = (place - 1) >> 1
        if state.heap_keys[above] <= key:
            break
        _put(state, place, state.lists[HEAP, above], state.heap_keys[above])
        place = above
    _put(state, place, c, key)


@inner
def _sink(state: Any, place: Any, c: Any, key: Any) -> None:
    n = state.count[N_HEAP]
    while True:
        below = 2 * place + 1
        if below >= n:
            break
        if below + 1 < n and state.heap_keys[below + 1] < state.heap_keys[below]:
            below += 1
        if state.heap_keys[below] >= key:
            break
        _put(state, place, state.lists[HEAP, below], state.heap_keys[below])
        place = below
    _put(state, place, c, key)
