"""The yearly record, and the maps."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBED,
    CLIMBERS,
    CLIMBING,
    FALLEN_COUNT,
    FRUITING,
    FUND_LEFT,
    INFESTED,
    INFESTED_AREA,
    KNOWN_AREA,
    KNOWN_FRUITING,
    MAT_AREA,
    N_CLIMBERS,
    N_FALLEN,
    N_INFESTED,
    N_TOUCHED,
    NATIVE,
    PLANTABLE_SUM,
    SIDE,
    SOURCE_GONE,
    SOURCES_STANDING,
    TOUCHED,
)

COVER_STEPS = 10000.0


@inner
def record(ground: Any, plan: Any, state: Any, tally: Any, row: Any, now: Any) -> None:
    """Write the state at a year's end (row 0: the start), as surveyed."""
    yearly = tally.yearly[row]
    h = ground.numbers[SIDE]
    slot = tally.map_slot[row]
    for i in range(state.count[N_INFESTED]):
        c = state.lists[INFESTED, i]
        area = h * h * ground.cells[c].plantable
        part = state.cells[c].share
        thick = state.cells[c].cover
        yearly[INFESTED_AREA] += part * area
        yearly[MAT_AREA] += thick * area
        if state.cells[c].known:
            yearly[KNOWN_AREA] += part * area
        if slot >= 0 and part > 0.0:
            tally.occupied[slot, c] += 1
            tally.cover_sum[slot, c] += int(thick * COVER_STEPS + 0.5)
        if tally.cover.shape[0] > 0:
            tally.cover[row, c] = thick
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
    lost = 0.0
    for i in range(state.count[N_TOUCHED]):
        c = state.lists[TOUCHED, i]
        lost += ground.cells[c].plantable * (1.0 - state.cells[c].native)
    yearly[NATIVE] = 1.0 - lost / ground.numbers[PLANTABLE_SUM]
