"""A season's work: hours go down the list of tasks, follow-up before new ground where it is reserved."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.follow_up import drop_closed, follow_up
from spreadsim.model.kernels.hours import account, begin_season, keep_back
from spreadsim.model.kernels.layout import (
    HELD_BACK,
    KEPT_BACK,
    NO_TARGET,
    RESERVE,
    SCOUT,
    TASK_LEFT,
)
from spreadsim.model.kernels.new_ground import new_cells, new_hosts
from spreadsim.model.kernels.other_work import ask, plant, scout
from spreadsim.model.kernels.scout import find


@inner
def work(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, year: Any, season: Any,
    now: Any,
) -> None:  # fmt: skip
    """Spend the season's hours."""
    days = begin_season(key, ground, plan, state, treatments, tally, year, season, now)
    for t in range(plan.tasks.size):
        if plan.switches[RESERVE]:
            follow_up(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    for t in range(plan.tasks.size):
        new_ground(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
        if not plan.switches[RESERVE]:
            follow_up(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    scouting = treatments[plan.switches[SCOUT]]
    find(key, ground, state, vine, scouting, True, season, now, scouting.incidental_finds)
    drop_closed(state)
    account(plan, state, tally, year, season)


@inner
def new_ground(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    """Take up what no task has open, in the task's order."""
    task = plan.tasks[t]
    if year < task.first_year or year > task.last_year or (task.seasons >> (season % 4)) & 1 == 0:
        return
    if season < task.first_season:
        return
    for k in range(plan.crews.size):
        if (task.crews >> k) & 1 and (plan.crews[k].may >> task.treatment) & 1:
            state.lists[KEPT_BACK, k] |= 1 << NO_TARGET
    if state.books[TASK_LEFT, t] <= 0.0:
        keep_back(plan, state, t, task.treatment, HELD_BACK)
        return
    rules = plan.rules[task.treatment]
    if rules.stems:
        new_hosts(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    elif rules.mat:
        new_cells(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    elif rules.natives:
        plant(ground, plan, state, treatments, tally, t, year, season, now, days)
    elif rules.sources:
        ask(key, ground, plan, state, treatments, tally, t, year, season, now, days)
    else:
        scout(key, ground, plan, state, vine, treatments, tally, t, year, season, now)
