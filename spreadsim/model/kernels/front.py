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
    N_HEAP,
    SIDE,
    YEARS,
)


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
def expect(ground: Any, plan: Any, state: Any, c: Any, slow: Any, arrival: Any, via: Any) -> None:
    """Let an empty cell of this slowness wait for the front that comes by a move, if none comes earlier.

    Of two that come at once the first in the order of moves counts. What enters after the last year is left out.
    """
    cell = state.cells[c]
    entry = max(arrival - ground.numbers[SIDE] * slow / 2.0, cell.cleared)
    if state.expected[c] < np.inf:
        if arrival > cell.arrival or (arrival == cell.arrival and via > cell.via):
            return
        cell.arrival = arrival
        cell.via = via
        state.expected[c] = arrival
        if entry >= cell.entry:
            return
        if cell.heap_place >= 0:
            cell.entry = entry
            _rise(state, cell.heap_place, c)
            return
        _unchain(plan, state, c)
    elif entry > plan.switches[YEARS]:
        return
    else:
        cell.stale = 0
    state.expected[c] = arrival
    cell.slow = slow
    cell.arrival = arrival
    cell.via = via
    cell.entry = entry
    season = season_of(plan, entry)
    if season <= state.count[ADVANCING]:
        state.count[N_HEAP] += 1
        _rise(state, state.count[N_HEAP] - 1, c)
    else:
        _chain(state, c, season)


@inner
def _chain(state: Any, c: Any, season: Any) -> None:
    first = state.lists[BUCKETS, season]
    state.cells[c].after = first
    state.cells[c].before = -1
    if first >= 0:
        state.cells[first].before = c
    state.lists[BUCKETS, season] = c


@inner
def _unchain(plan: Any, state: Any, c: Any) -> None:
    cell = state.cells[c]
    if cell.before >= 0:
        state.cells[cell.before].after = cell.after
    else:
        state.lists[BUCKETS, season_of(plan, cell.entry)] = cell.after
    if cell.after >= 0:
        state.cells[cell.after].before = cell.before


@inner
def take_up(state: Any, season: Any) -> None:
    """Put the cells chained for a season on the heap."""
    c = state.lists[BUCKETS, season]
    state.lists[BUCKETS, season] = -1
    while c >= 0:
        after = state.cells[c].after
        state.count[N_HEAP] += 1
        _rise(state, state.count[N_HEAP] - 1, c)
        c = after


@inner
def take_least(state: Any) -> Any:
    """Take the cell that is entered first off the heap."""
    c = state.lists[HEAP, 0]
    state.count[N_HEAP] -= 1
    state.cells[c].heap_place = -1
    if state.count[N_HEAP] > 0:
        _sink(state, 0, state.lists[HEAP, state.count[N_HEAP]])
    return c


@inner
def withdraw(plan: Any, state: Any, c: Any) -> None:
    """Let a cell wait no more: something else came to it first."""
    cell = state.cells[c]
    state.expected[c] = np.inf
    place = cell.heap_place
    if place < 0:
        _unchain(plan, state, c)
        return
    cell.heap_place = -1
    state.count[N_HEAP] -= 1
    last = state.lists[HEAP, state.count[N_HEAP]]
    if last != c:
        _sink(state, place, last)
        _rise(state, state.cells[last].heap_place, last)


@inner
def forget_front(plan: Any, state: Any) -> None:
    """Let no cell wait any more."""
    for i in range(state.count[N_HEAP]):
        state.expected[state.lists[HEAP, i]] = np.inf
        state.cells[state.lists[HEAP, i]].heap_place = -1
    for season in range(4 * plan.switches[YEARS]):
        c = state.lists[BUCKETS, season]
        state.lists[BUCKETS, season] = -1
        while c >= 0:
            state.expected[c] = np.inf
            c = state.cells[c].after


@inner
def _rise(state: Any, place: Any, c: Any) -> None:
    while place > 0:
        above = (place - 1) >> 1
        other = state.lists[HEAP, above]
        if state.cells[other].entry <= state.cells[c].entry:
            break
        state.lists[HEAP, place] = other
        state.cells[other].heap_place = place
        place = above
    state.lists[HEAP, place] = c
    state.cells[c].heap_place = place


@inner
def _sink(state: Any, place: Any, c: Any) -> None:
    n = state.count[N_HEAP]
    while True:
        below = 2 * place + 1
        if below >= n:
            break
        if (
            below + 1 < n
            and state.cells[state.lists[HEAP, below + 1]].entry < state.cells[state.lists[HEAP, below]].entry
        ):
            below += 1
        other = state.lists[HEAP, below]
        if state.cells[other].entry >= state.cells[c].entry:
            break
        state.lists[HEAP, place] = other
        state.cells[other].heap_place = place
        place = below
    state.lists[HEAP, place] = c
    state.cells[c].heap_place = place
