"""The yearly record, and the maps."""

import math
from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBED,
    CLIMBERS,
    CLIMBING,
    FALLEN_COUNT,
    FRUITING,
    FUND_LEFT,
    INFESTED_AREA,
    KNOWN_AREA,
    KNOWN_FRUITING,
    MAT_AREA,
    N_CLIMBERS,
    N_FALLEN,
    N_TOUCHED,
    NATIVE,
    ONE_MORE,
    PLANTABLE_SUM,
    RECORDED,
    RUN_NATIVES,
    SIDE,
    SOURCE_GONE,
    SOURCES_STANDING,
)
from spreadsim.model.kernels.mat import odds_at, share
from spreadsim.model.kernels.natives import change_natives

COVER_STEPS = 10000.0


@inner
def record(ground: Any, plan: Any, state: Any, vine: Any, tally: Any, row: Any, now: Any, at_start: Any) -> None:
    """Write the state at a year's end, and let natives change: one look at each cell. At the start nothing changes."""
    yearly = tally.yearly[row]
    slot = tally.map_slot[row]
    natives = not at_start and plan.switches[RUN_NATIVES] != 0
    h = ground.numbers[SIDE]
    gain = 1.0 - math.exp(-1.0 / vine.native_recovery_time)
    infested = 0.0
    mat = 0.0
    known = 0.0
    lost = 0.0
    for i in range(state.count[N_TOUCHED]):
        stand = state.stands[i]
        thick = 0.0
        steps = 0
        if stand.infested:
            part = up_to_date(ground, state, vine, i, now, at_start)
            thick = vine.max_cover * part * (1.0 / (1.0 + stand.odds))
            infested += part * stand.area
            mat += thick * stand.area
            if stand.known:
                known += part * stand.area
            if part > 0.0:
                steps = int(thick * COVER_STEPS + 0.5) + 1
            if tally.cover.shape[0] > 0:
                tally.cover[row, stand.cell] = thick
        if slot >= 0:
            state.seen[slot, i] = steps
        if natives:
            change_natives(stand, vine, thick, gain)
        lost += stand.area * (1.0 - stand.native)
    state.count[RECORDED] = row
    tally.touched[row] = state.count[N_TOUCHED]
    yearly[INFESTED_AREA] = infested
    yearly[MAT_AREA] = mat
    yearly[KNOWN_AREA] = known
    yearly[NATIVE] = 1.0 - lost / (h * h * ground.numbers[PLANTABLE_SUM])
    for i in range(state.count[N_CLIMBERS]):
        host = state.hosts[state.lists[CLIMBERS, i]]
        if host.state == CLIMBING:
            yearly[CLIMBED] += 1.0
            if row == 0 and host.fruited_when_mapped:
                yearly[FRUITING] += 1.0
                yearly[KNOWN_FRUITING] += 1.0 * host.known
    yearly[FALLEN_COUNT] = state.count[N_FALLEN]
    for k in range(ground.sources.shape[0]):
        if state.books[SOURCE_GONE, k] > now:
            yearly[SOURCES_STANDING] += 1.0
    for f in range(plan.funds.size):
        tally.funds[row, f] = state.books[FUND_LEFT, f]


@inner
def up_to_date(ground: Any, state: Any, vine: Any, i: Any, now: Any, at_start: Any) -> Any:
    """Bring the density of an infested cell up to a year's end; its infested share then. At the start it is so."""
    stand = state.stands[i]
    if stand.changed:
        past = state.pasts[i]
        if past.since < now:
            stand.odds = odds_at(ground, state, vine, i, now)
            past.since = now
        stand.changed = past.since > now or past.disturbed > now
    elif not at_start:
        stand.odds *= stand.step
    if stand.full:
        return 1.0
    part = share(ground, stand, vine, now)
    if part >= 1.0:
        stand.full = 1
    return part


@inner
def add_maps(state: Any, tally: Any, years: Any) -> None:
    """Add what was seen of each cell at the years' ends to the sums: cell by cell, since these lie far apart."""
    first = 0
    for i in range(state.count[N_TOUCHED]):
        while first <= years and tally.touched[first] <= i:
            first += 1
        sums = tally.sums[state.stands[i].cell]
        for row in range(first, years + 1):
            slot = tally.map_slot[row]
            if slot >= 0:
                steps = state.seen[slot, i]
                if steps > 0:
                    sums[slot] += ONE_MORE - 1 + steps
