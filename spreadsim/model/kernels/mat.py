"""The mat: arrival times of its front, thickening behind it, and the cover that follows."""

import math
from typing import Any

import numpy as np

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.front import entry_time, expect, take_least, take_up, withdraw
from spreadsim.model.kernels.layout import (
    ADVANCING,
    AT_RISK,
    EMPTY,
    FOUNDER,
    FRONT,
    HOSTS_BY_CELL,
    INFESTED,
    N_AT_RISK,
    N_CLEARED,
    N_HEAP,
    N_INFESTED,
    N_TOUCHED,
    N_UNKNOWN,
    OFFSETS,
    PASSED,
    REACH,
    RECORDED,
    SIDE,
    TOUCHED,
    UNKNOWN,
    WIDTH,
)
from spreadsim.model.kernels.light import slowness, thickening
from spreadsim.model.kernels.patches import mark_gone, mark_known

ACROSS, NOWHERE = 16, 17  # in place of a move
FIRST_KNIGHT = 8  # moves before it are to the eight neighbours


@inner
def share(ground: Any, stand: Any, vine: Any, now: Any) -> Any:
    """Part of an infested cell that the front has crossed, 0 to 1."""
    h = ground.numbers[SIDE]
    s = stand.slow
    if stand.founder:
        radius = math.sqrt(vine.founder_area / math.pi) + max(0.0, now - stand.arrival) / s
        return min(1.0, math.pi * (radius * radius) / (h * h))
    return min(1.0, max(0.0, 0.5 + (now - stand.arrival) / (h * s)))


@inner
def last_change(state: Any, i: Any) -> Any:
    """When the odds of stand i were brought up to date."""
    return state.pasts[i].since if state.stands[i].changed else 1.0 * state.count[RECORDED]


@inner
def odds_at(ground: Any, state: Any, vine: Any, i: Any, now: Any) -> Any:
    """Odds against the densest mat of stand i, 1 / density - 1: they fall exponentially from their last change."""
    stand = state.stands[i]
    since = last_change(state, i)
    released = max(0.0, min(now, state.pasts[i].disturbed) - since)
    tau = max(0.0, now - since) + (vine.release_factor - 1.0) * released
    if tau == 1.0:
        return stand.odds * stand.step
    return stand.odds * math.exp(-thickening(ground, vine, stand.cell) * tau)


@inner
def density(ground: Any, state: Any, vine: Any, c: Any, now: Any) -> Any:
    """Density of an infested cell relative to the densest mat: a logistic from its last change."""
    return 1.0 / (1.0 + odds_at(ground, state, vine, state.cells[c].slot, now))


@inner
def set_density(state: Any, i: Any, dense: Any, now: Any) -> None:
    """Let an infested cell thicken from this density on."""
    stand = state.stands[i]
    stand.odds = 1.0 / dense - 1.0
    stand.changed = 1
    state.pasts[i].since = now


@inner
def cover(ground: Any, state: Any, vine: Any, c: Any, now: Any) -> Any:
    """Living cover of a cell, 0 if it is empty."""
    if state.kinds[c] == EMPTY:
        return 0.0
    thick = density(ground, state, vine, c, now)
    return vine.max_cover * share(ground, state.stands[state.cells[c].slot], vine, now) * thick


@inner
def mapped_share(ground: Any, vine: Any, c: Any) -> Any:
    """Infested share of a cell at the start: where the mat stands it is as dense as it gets."""
    return min(1.0, ground.cells[c].mapped / vine.max_cover)


@inner
def first_arrival(ground: Any, vine: Any, c: Any) -> Any:
    """When the front was at the centre of a mapped cell, had it come at its own speed.

    A cell in part infested: as if crossed along a side. A full one: as far behind as the nearest edge among its
    neighbours, each taken to be crossed along the way to it, which is WIDTH cell sides long in it.
    """
    h = ground.numbers[SIDE]
    part = mapped_share(ground, vine, c)
    behind = part - 0.5
    if part >= 1.0:
        behind = REACH[15]
        for k in range(16):
            if (ground.cells[c].moves >> k) & 1:
                other = mapped_share(ground, vine, c + ground.lists[OFFSETS, k])
                if other < 1.0:
                    behind = min(behind, REACH[k] + (other - 0.5) * WIDTH[k])
    return -behind * h * slowness(ground, vine, c)


@inner
def cleared_between(ground: Any, state: Any, c: Any, k: Any) -> Any:
    """Last clearing of the ground that move k from a cell passes: the front can't have passed it before."""
    if PASSED[k, 0] < 0 or state.count[N_CLEARED] == 0:
        return -np.inf
    a = c + ground.lists[OFFSETS, PASSED[k, 0]]
    b = c + ground.lists[OFFSETS, PASSED[k, 1]]
    if k >= FIRST_KNIGHT:
        return max(state.cleared[a], state.cleared[b])
    # a diagonal has a way on either side, unless there is a barrier
    if ground.cells[a].plantable <= 0.0:
        return state.cleared[b]
    if ground.cells[b].plantable <= 0.0:
        return state.cleared[a]
    return min(state.cleared[a], state.cleared[b])


@inner
def passage(ground: Any, state: Any, vine: Any, n: Any, c: Any, k: Any, s_c: Any, cleared: Any) -> Any:
    """Arrival at empty cell c by the front of infested cell n along move k; `cleared`: the ground between."""
    h = ground.numbers[SIDE]
    s = s_c + slowness(ground, vine, n)
    d = REACH[k]
    cleared = max(state.cleared[c], cleared)
    return max(state.push[n] + d * h * s / 2.0, cleared + (d - 0.5) * h * s / 2.0)


@inner
def expected(ground: Any, state: Any, vine: Any, c: Any) -> Any:
    """Least arrival at empty cell c, and the move to the neighbour that gives it, ACROSS the boundary, or NOWHERE."""
    best = np.inf
    via = NOWHERE
    s_c = slowness(ground, vine, c)
    moves = ground.cells[c].moves
    for k in range(16):
        if (moves >> k) & 1:
            n = c + ground.lists[OFFSETS, k]
            if state.expected[n] == -np.inf:
                arrival = passage(ground, state, vine, n, c, k, s_c, cleared_between(ground, state, c, k))
                if arrival < best:
                    best = arrival
                    via = k
    if ground.cells[c].boundary:
        # mat that stood at the boundary from the start has half a cell to go, from the start or from the clearing
        half = ground.numbers[SIDE] * s_c / 2.0
        arrival = max(half, state.cleared[c] + half)
        if arrival < best:
            best = arrival
            via = ACROSS
    return best, via


@inner
def touch(ground: Any, state: Any, c: Any) -> None:
    """Note that a cell changes: it gets a row of its own, and is put back after the run."""
    cell = state.cells[c]
    if cell.slot < 0:
        cell.slot = state.count[N_TOUCHED]
        state.lists[TOUCHED, cell.slot] = c
        state.count[N_TOUCHED] += 1
        h = ground.numbers[SIDE]
        stand = state.stands[cell.slot]
        stand.cell = c
        stand.infested = 0
        stand.known = 0
        state.pasts[cell.slot].disturbed = -np.inf
        stand.native = 1.0
        stand.area = h * h * ground.cells[c].plantable


@inner
def infest(
    ground: Any, plan: Any, state: Any, vine: Any, c: Any, kind: Any, arrival: Any, since: Any, dense: Any
) -> None:
    """Make an empty cell infested and tell its neighbours and hosts. Known and origin are the caller's."""
    touch(ground, state, c)
    cell = state.cells[c]
    if state.expected[c] < np.inf:
        withdraw(state, c)
    state.kinds[c] = kind
    state.expected[c] = -np.inf
    state.push[c] = arrival
    slow = slowness(ground, vine, c)
    stand = state.stands[cell.slot]
    stand.infested = 1
    stand.founder = 1 if kind == FOUNDER else 0
    stand.full = 0
    stand.arrival = arrival
    stand.slow = slow
    stand.step = math.exp(-thickening(ground, vine, c))
    set_density(state, cell.slot, dense, since)
    state.pasts[cell.slot].place = state.count[N_INFESTED]
    state.lists[INFESTED, state.count[N_INFESTED]] = c
    state.count[N_INFESTED] += 1
    for i in range(ground.cells[c].first_host, ground.cells[c].after_hosts):
        watch(state, ground.lists[HOSTS_BY_CELL, i])
    moves = ground.cells[c].moves
    h = ground.numbers[SIDE]
    quickest = 1.0 / vine.front_speed + slow
    for k in range(16):
        if (moves >> k) & 1:
            n = c + ground.lists[OFFSETS, k]
            # most neighbours are passed over by what the way would take through full light
            if arrival + REACH[k] * h * quickest / 2.0 > state.expected[n]:
                continue
            s_n = slowness(ground, vine, n)
            there = arrival + REACH[k] * h * (s_n + slow) / 2.0
            if there > state.expected[n]:
                continue
            if state.count[N_CLEARED] > 0:
                # the set of moves is symmetric, so the way from c to n costs what the way from n to c does
                there = passage(ground, state, vine, c, n, k, s_n, cleared_between(ground, state, c, k))
            back = 7 - k if k < FIRST_KNIGHT else 23 - k
            expect(ground, plan, state, n, s_n, there, back)


@inner
def watch(state: Any, j: Any) -> None:
    """A bare host stands in mat: look at it every season."""
    host = state.hosts[j]
    if host.at_risk == 0:
        host.at_risk = 1
        state.lists[AT_RISK, state.count[N_AT_RISK]] = j
        state.count[N_AT_RISK] += 1


@inner
def make_known(ground: Any, state: Any, c: Any) -> None:
    """Let the steward know of an infested cell."""
    if state.cells[c].known == 0:
        state.cells[c].known = 1
        state.stands[state.cells[c].slot].known = 1
        mark_known(ground, state, c)


@inner
def list_unknown(state: Any, c: Any) -> None:
    """An infested cell that nobody knows can be found."""
    if state.cells[c].unlisted == 0:
        state.cells[c].unlisted = 1
        state.lists[UNKNOWN, state.count[N_UNKNOWN]] = c
        state.count[N_UNKNOWN] += 1


@inner
def clear(ground: Any, plan: Any, state: Any, vine: Any, c: Any, now: Any) -> None:
    """Empty an infested cell."""
    cell = state.cells[c]
    state.kinds[c] = EMPTY
    state.expected[c] = np.inf
    state.cleared[c] = now
    stand = state.stands[cell.slot]
    stand.infested = 0
    stand.known = 0
    state.count[N_CLEARED] += 1
    last = state.lists[INFESTED, state.count[N_INFESTED] - 1]
    place = state.pasts[cell.slot].place
    state.lists[INFESTED, place] = last
    state.pasts[state.cells[last].slot].place = place
    state.count[N_INFESTED] -= 1
    if cell.known:
        cell.known = 0
        mark_gone(ground, state, c)
    delay(ground, state, c)
    await_front(ground, plan, state, vine, c)


@inner
def await_front(ground: Any, plan: Any, state: Any, vine: Any, c: Any) -> None:
    """Work out afresh when the front comes to an empty cell that is not waited for."""
    arrival, via = expected(ground, state, vine, c)
    if via != NOWHERE:
        expect(ground, plan, state, c, slowness(ground, vine, c), arrival, via)


@inner
def delay(ground: Any, state: Any, c: Any) -> None:
    """Note that the front may come later to a cell and its neighbours than was expected: clearing, cover, a weak edge.

    Ground that a move passes lies next to where the move ends, so neighbours are all that can be meant.
    """
    state.cells[c].stale = 1
    moves = ground.cells[c].moves
    for k in range(16):
        if (moves >> k) & 1:
            state.cells[c + ground.lists[OFFSETS, k]].stale = 1


@inner
def advance(ground: Any, plan: Any, state: Any, vine: Any, season: Any) -> None:
    """Let the front move on to the season's end.

    What was expected is never later than it comes: clearing and treatment only delay arrivals, and mark them stale,
    so that a stale cell that comes up is looked at afresh and put back if it was too early.
    """
    state.count[ADVANCING] = season
    take_up(ground, plan, state, vine, season)
    while state.count[N_HEAP] > 0:
        entry = state.heap_keys[0]
        c = take_least(state)
        cell = state.cells[c]
        arrival = state.expected[c]
        via = state.waits[c].via
        state.expected[c] = np.inf
        if cell.stale:
            cell.stale = 0
            arrival, via = expected(ground, state, vine, c)
            if via == NOWHERE:
                continue
            slow = slowness(ground, vine, c)
            if entry_time(ground, state, c, arrival, slow) > entry:
                expect(ground, plan, state, c, slow, arrival, via)
                continue
        origin = c
        known = 1
        if via != ACROSS:
            source = state.cells[c + ground.lists[OFFSETS, via]]
            origin = state.pasts[source.slot].origin
            known = source.known
        infest(ground, plan, state, vine, c, FRONT, arrival, entry, vine.density_on_arrival)
        state.pasts[cell.slot].origin = origin
        if known:
            make_known(ground, state, c)
        else:
            cell.known = 0
            list_unknown(state, c)
    state.count[ADVANCING] = season + 1
