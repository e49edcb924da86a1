"""The order of a season, and one run from start to end."""

from typing import Any

from spreadsim.model.kernels.birds import fruit
from spreadsim.model.kernels.compiling import entry, inner
from spreadsim.model.kernels.events import befall
from spreadsim.model.kernels.film import look
from spreadsim.model.kernels.front import forget_front
from spreadsim.model.kernels.hosts import climb, set_first_climbed
from spreadsim.model.kernels.layout import (
    ASKED,
    AT_RISK,
    BOUNDARY,
    BUCKETS,
    EMPTY,
    END_YEAR,
    FALLEN_HOSTS,
    FAULT,
    FIRST_YEAR,
    FRONT,
    FRUIT,
    FUND_LEFT,
    GROWTH,
    MAPPED,
    N_AT_RISK,
    N_BLOCKS,
    N_BOUNDARY,
    N_FALLEN_HOSTS,
    N_MAPPED,
    N_SEEDLINGS,
    N_TOUCHED,
    N_TOUCHED_HOSTS,
    NEVER,
    ROOTING,
    RUN_BIRDS,
    RUN_CLIMBING,
    RUN_EVENTS,
    RUN_MAT,
    RUN_SEEDLINGS,
    RUN_TREES,
    RUN_WORK,
    SOURCE_GONE,
    STARTED,
    TOUCHED,
    TOUCHED_HOSTS,
    VISITED,
    YEARS,
)
from spreadsim.model.kernels.mat import advance, await_front, cover, first_arrival, infest, make_known
from spreadsim.model.kernels.natives import native_target
from spreadsim.model.kernels.patches import mark_gone
from spreadsim.model.kernels.record import add_maps, record
from spreadsim.model.kernels.seedlings import root
from spreadsim.model.kernels.trees import fell
from spreadsim.model.kernels.work import work


@entry
def run(key: Any, ground: Any, plan: Any, state: Any, vines: Any, treatments: Any, tally: Any) -> Any:
    """One replicate under one strategy; 0, or 1 if the seedling list was too short: then nothing went to the maps.

    `vines` and `treatments` hold this replicate's numbers in their first row. The state must be fresh, or put back
    by `put_back`; a run that doesn't begin with the first year goes on with what an earlier one left.
    """
    vine = vines[0]
    first = plan.switches[FIRST_YEAR]
    if first == 0:
        begin(key, ground, plan, state, vine, tally)
    record(ground, plan, state, vine, tally, first, 1.0 * first, True)
    look(ground, state, vine, tally.film, 4 * first, 1.0 * first)
    for year in range(first, plan.switches[END_YEAR]):
        for quarter in range(4):
            _season(key, ground, plan, state, vine, treatments, tally, year, quarter)
            if state.count[FAULT] != 0:
                return 1
            if quarter < 3:
                look(ground, state, vine, tally.film, 4 * year + quarter + 1, year + plan.seasonal[GROWTH, quarter + 1])
        end = year + 1.0
        if plan.switches[RUN_TREES]:
            fell(key, ground, vine, state, 4 * year + 3)
        record(ground, plan, state, vine, tally, year + 1, end, False)
        look(ground, state, vine, tally.film, 4 * year + 4, end)
    if tally.sums.size > 0:
        add_maps(state, tally, plan.switches[END_YEAR])
    return 0


@inner
def _season(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, year: Any, quarter: Any
) -> None:
    season = 4 * year + quarter
    start = year + plan.seasonal[GROWTH, quarter]
    end = year + plan.seasonal[GROWTH, quarter + 1]
    if plan.switches[RUN_EVENTS]:
        befall(key, ground, plan, state, vine, year, quarter, start)
    if plan.switches[RUN_WORK] and plan.tasks.size > 0:
        work(key, ground, plan, state, vine, treatments, tally, year, season, start)
    if plan.switches[RUN_MAT]:
        advance(ground, plan, state, vine, season)
    if plan.switches[RUN_CLIMBING]:
        climb(key, ground, vine, state, season, start, end)
    if plan.switches[RUN_BIRDS] and plan.seasonal[FRUIT, quarter] > 0.0:
        fruit(key, ground, plan, state, vine, tally, year, season, start, end)
    if plan.switches[RUN_SEEDLINGS]:
        root(ground, plan, state, vine, tally, year, season, end)


@inner
def begin(key: Any, ground: Any, plan: Any, state: Any, vine: Any, tally: Any) -> None:
    """Lay out what was mapped."""
    for i in range(ground.shape[N_MAPPED]):
        c = ground.lists[MAPPED, i]
        arrival = first_arrival(ground, vine, c)
        infest(ground, plan, state, vine, c, FRONT, arrival, 0.0, 1.0)
        state.pasts[state.cells[c].slot].origin = c
        make_known(ground, state, c)
        state.stands[state.cells[c].slot].native = native_target(vine, cover(ground, state, vine, c, 0.0))
    for i in range(ground.shape[N_BOUNDARY]):
        c = ground.lists[BOUNDARY, i]
        if state.kinds[c] == EMPTY:
            await_front(ground, plan, state, vine, c)
    set_first_climbed(key, ground, vine, state)
    for k in range(ground.sources.shape[0]):
        state.books[SOURCE_GONE, k] = NEVER
    for f in range(plan.funds.size):
        state.books[FUND_LEFT, f] = plan.funds[f].amount


@entry
def put_back(ground: Any, plan: Any, state: Any) -> None:
    """Make the state fresh again, by list: what was not touched isn't looked at."""
    forget_front(plan, state)
    for i in range(state.count[N_SEEDLINGS]):
        state.care[state.seedlings[i].cell].seedling = -1
    for i in range(state.count[N_TOUCHED]):
        c = state.lists[TOUCHED, i]
        mark_gone(ground, state, c)
        fresh_cell(state, c)
    for i in range(state.count[N_AT_RISK]):
        state.hosts[state.lists[AT_RISK, i]].at_risk = 0
    for i in range(state.count[N_TOUCHED_HOSTS]):
        fresh_host(state, state.lists[TOUCHED_HOSTS, i])
    for i in range(state.count[N_FALLEN_HOSTS]):
        fresh_host(state, state.lists[FALLEN_HOSTS, i])
    state.lists[ROOTING, : 4 * plan.switches[YEARS]] = -1
    state.lists[VISITED, : ground.shape[N_BLOCKS]] = 0
    state.lists[ASKED, : ground.sources.shape[0]] = 0
    state.lists[STARTED, : plan.tasks.size] = 0
    state.count[:] = 0


@inner
def fresh_cell(state: Any, c: Any) -> None:
    """An empty cell of which nothing is known."""
    cell = state.cells[c]
    state.kinds[c] = EMPTY
    state.expected[c] = NEVER
    state.cleared[c] = -NEVER
    cell.planted = 0
    cell.known = 0
    cell.slot = -1
    cell.unlisted = 0
    cell.stale = 0
    care = state.care[c]
    care.covered = -NEVER
    care.worked = 0
    care.task = -1
    care.clean = 0
    care.seedling = -1


@inner
def fresh_host(state: Any, j: Any) -> None:
    """A bare host that nobody worked."""
    host = state.hosts[j]
    host.state = 0
    host.fruit = NEVER
    host.ring = -NEVER
    host.wait = -1.0
    host.leaving = -1.0
    host.crop_season = 0
    host.bore = 0
    host.task = -1
    host.clean = 0
    host.season = 0
    host.visits = 0
    host.done = 0
    host.known = 0
    host.fruited_when_mapped = 0
    host.worked = 0
    host.listed = 0
    host.touched = 0
    host.unlisted = 0


@entry
def make_fresh(state: Any) -> None:
    """Set up new memory."""
    for c in range(state.cells.size):
        fresh_cell(state, c)
        state.care[c].found = 0
    for j in range(state.hosts.size):
        fresh_host(state, j)
        state.hosts[j].at_risk = 0
    state.lists[ROOTING, :] = -1
    state.lists[BUCKETS, :] = -1
    state.lists[VISITED, :] = 0
    state.lists[ASKED, :] = 0
    state.lists[STARTED, :] = 0
    state.count[:] = 0
