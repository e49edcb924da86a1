"""Hours and money: what a crew has, who can pay for a target, and why hours were left."""

import math
from typing import Any

import numpy as np

from spreadsim.model.draws import TURNOUT, WEATHER, poisson_quantile, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBERS,
    CLIMBING,
    EFFORT,
    FIT_DAYS,
    FIT_USED,
    FRUITING_KNOWN,
    FUND_LEFT,
    GROUND_LEFT,
    HELD_BACK,
    HOURS_LEFT,
    KEPT_BACK,
    N_CLIMBERS,
    NO_FIT_DAY,
    NO_SEASON,
    NO_TARGET,
    NO_TASK,
    TASK_LEFT,
    TOO_FEW,
    WORKED,
)

NO_HOURS, NOT_ALLOWED = -1, -2


@inner
def begin_season(
    key: Any, ground: Any, plan: Any, state: Any, treatments: Any, tally: Any, year: Any, season: Any, now: Any
) -> Any:
    """Set out the season's hours and what is known of fruiting; the days fit to spray."""
    quarter = season % 4
    for k in range(plan.crews.size):
        crew = plan.crews[k]
        luck = uniform(key, TURNOUT, crew.name, season, 0)
        turnout = max(0.0, crew.turnout + math.sqrt(3.0) * crew.turnout_spread * (2.0 * luck - 1.0))
        there = crew.first_season <= season <= crew.last_season
        state.books[HOURS_LEFT, k] = crew.hours[quarter] * turnout if there else 0.0
        state.books[FIT_USED, k] = 0.0
        state.books[WORKED, k] = 0.0
        state.lists[KEPT_BACK, k] = 0
        tally.available[year, quarter, k] = state.books[HOURS_LEFT, k]
    for t in range(plan.tasks.size):
        task = plan.tasks[t]
        hours = 0.0
        for k in range(plan.crews.size):
            if (task.crews >> k) & 1 and (plan.crews[k].may >> task.treatment) & 1:
                hours += state.books[HOURS_LEFT, k]
        state.books[TASK_LEFT, t] = min(task.share * hours, task.cap)
        if quarter == 0:
            state.books[GROUND_LEFT, t] = task.new_ground
    state.books[EFFORT, :] = 0.0
    state.lists[FRUITING_KNOWN, : plan.unit_area.size + 1] = 0
    for i in range(state.count[N_CLIMBERS]):
        j = state.lists[CLIMBERS, i]
        host = state.hosts[j]
        if host.known and host.state == CLIMBING and host.fruit <= now:
            state.lists[FRUITING_KNOWN, ground.cells[ground.hosts[j].cell].unit] += 1
            state.lists[FRUITING_KNOWN, plan.unit_area.size] += 1
    return fit_days(key, plan, year, season)


@inner
def fit_days(key: Any, plan: Any, year: Any, season: Any) -> Any:
    """Days fit to spray: of one of the weather years, the same for all seasons of a year; else Poisson."""
    if plan.weather.shape[0] > 0:
        luck = uniform(key, WEATHER, 0, 4 * year, 1)
        return plan.weather[int(luck * plan.weather.shape[0]), season % 4]
    return poisson_quantile(uniform(key, WEATHER, 0, season, 0), plan.seasonal[FIT_DAYS, season % 4]) * 1.0


@inner
def money_for(plan: Any, state: Any, k: Any, year: Any) -> Any:
    """Money that a crew can be paid from this year; without funds it is no limit."""
    if plan.funds.size == 0:
        return np.inf
    total = 0.0
    for f in range(plan.funds.size):
        fund = plan.funds[f]
        if fund.first_year <= year <= fund.last_year and (fund.crews >> k) & 1:
            total += state.books[FUND_LEFT, f]
    return total


@inner
def pay(plan: Any, state: Any, k: Any, year: Any, money: Any) -> None:
    """Take money from the funds open to a crew, the one that ends first first."""
    for f in range(plan.funds.size):
        fund = plan.funds[f]
        if fund.first_year <= year <= fund.last_year and (fund.crews >> k) & 1:
            part = min(money, state.books[FUND_LEFT, f])
            state.books[FUND_LEFT, f] -= part
            money -= part


@inner
def ahead(plan: Any, state: Any, k: Any) -> Any:
    """What a crew charges for coming at all this season, and what of its minimum is charged and not worked off."""
    crew = plan.crews[k]
    worked = state.books[WORKED, k]
    first = crew.minimum if worked <= 0.0 else 0.0
    return first, max(0.0, crew.minimum - worked * crew.price)


@inner
def charge(plan: Any, state: Any, k: Any, hours: Any) -> Any:
    """Money that more hours add to what a crew charges for the season."""
    if hours <= 0.0:
        return 0.0
    first, credit = ahead(plan, state, k)
    return first + max(0.0, hours * plan.crews[k].price - credit)


@inner
def cost_of(plan: Any, state: Any, k: Any, need: Any, material: Any) -> Any:
    """Money for a crew's hours, those of its leader, and material."""
    crew = plan.crews[k]
    money = charge(plan, state, k, need) + material
    if crew.leader >= 0:
        money += charge(plan, state, crew.leader, need / crew.per_leader)
    return money


@inner
def hours_for(plan: Any, state: Any, k: Any, money: Any) -> Any:
    """Most hours of a crew that money pays, its leader's with them."""
    crew = plan.crews[k]
    first, credit = ahead(plan, state, k)
    rest = money - first
    own_free = credit / crew.price if crew.price > 0.0 else np.inf
    leading, leader_free = 0.0, np.inf  # per hour of the crew, in hours of the crew
    if crew.leader >= 0:
        leading = plan.crews[crew.leader].price / crew.per_leader
        first, credit = ahead(plan, state, crew.leader)
        rest -= first
        if leading > 0.0:
            leader_free = credit / leading
    if rest < 0.0:
        return 0.0
    soon, late = min(own_free, leader_free), max(own_free, leader_free)
    if soon == np.inf:
        return np.inf
    price = crew.price if own_free <= leader_free else leading
    if late == np.inf or rest <= (late - soon) * price:
        return soon + rest / price
    return late + (rest - (late - soon) * price) / (crew.price + leading)


@inner
def hours_of_crew(plan: Any, k: Any, hours: Any, fresh: Any) -> Any:
    """Hours of a crew for work that takes so many at full pace, with the walk to ground not yet visited this season."""
    walk = plan.crews[k].walking if fresh else 0.0
    return hours / plan.crews[k].pace + walk


@inner
def keep_back(plan: Any, state: Any, t: Any, k_treatment: Any, reason: Any) -> None:
    """Note why the crews of a task could not go on."""
    for k in range(plan.crews.size):
        if (plan.tasks[t].crews >> k) & 1 and (plan.crews[k].may >> k_treatment) & 1:
            state.lists[KEPT_BACK, k] |= 1 << reason


@inner
def crew_for(
    plan: Any, state: Any, t: Any, k_treatment: Any, treatment: Any, hours: Any, material: Any, fresh: Any, days: Any,
    limit: Any, year: Any,
) -> Any:  # fmt: skip
    """First crew that may do the treatment and has hours and money for it; NO_HOURS or NOT_ALLOWED."""
    answer = NOT_ALLOWED
    for k in range(plan.crews.size):
        crew = plan.crews[k]
        if (plan.tasks[t].crews >> k) & 1 == 0 or (crew.may >> k_treatment) & 1 == 0:
            continue
        answer = NO_HOURS
        need = hours_of_crew(plan, k, hours, fresh)
        if need > state.books[HOURS_LEFT, k]:
            state.lists[KEPT_BACK, k] |= 1 << TOO_FEW
            continue
        if need > limit:
            state.lists[KEPT_BACK, k] |= 1 << HELD_BACK
            continue
        if crew.leader >= 0 and need / crew.per_leader > state.books[HOURS_LEFT, crew.leader]:
            state.lists[KEPT_BACK, k] |= 1 << HELD_BACK
            continue
        if plan.rules[k_treatment].needs_fit_weather:
            fit = days * treatment.fit_hours_per_day * crew.people
            if state.books[FIT_USED, k] + need > fit:
                state.lists[KEPT_BACK, k] |= 1 << NO_FIT_DAY
                continue
        if cost_of(plan, state, k, need, material) > money_for(plan, state, k, year):
            state.lists[KEPT_BACK, k] |= 1 << HELD_BACK
            continue
        return k
    return answer


@inner
def spend(
    plan: Any, state: Any, tally: Any, t: Any, kind: Any, k: Any, k_treatment: Any, hours: Any, material: Any,
    fresh: Any, year: Any, season: Any,
) -> None:  # fmt: skip
    crew = plan.crews[k]
    need = hours_of_crew(plan, k, hours, fresh)
    pay(plan, state, k, year, cost_of(plan, state, k, need, material))
    state.books[HOURS_LEFT, k] -= need
    state.books[WORKED, k] += need
    if crew.leader >= 0:
        state.books[WORKED, crew.leader] += need / crew.per_leader
        state.books[HOURS_LEFT, crew.leader] -= need / crew.per_leader
        tally.hours[year, season % 4, t, kind, crew.leader] += need / crew.per_leader
    if plan.rules[k_treatment].needs_fit_weather:
        state.books[FIT_USED, k] += need
    # follow-up isn't held to the task's share, but uses it up
    state.books[TASK_LEFT, t] -= need
    tally.hours[year, season % 4, t, kind, k] += need


@inner
def account(plan: Any, state: Any, tally: Any, year: Any, season: Any) -> None:
    """Say why hours were left, crew by crew."""
    for k in range(plan.crews.size):
        left = state.books[HOURS_LEFT, k]
        if left <= 0.0:
            continue
        kept = state.lists[KEPT_BACK, k]
        reason = NO_TASK
        for t in range(plan.tasks.size):
            if (plan.tasks[t].crews >> k) & 1 and (plan.crews[k].may >> plan.tasks[t].treatment) & 1:
                reason = NO_SEASON
        if (kept >> NO_FIT_DAY) & 1:
            reason = NO_FIT_DAY
        elif (kept >> HELD_BACK) & 1:
            reason = HELD_BACK
        elif (kept >> TOO_FEW) & 1:
            reason = TOO_FEW
        elif (kept >> NO_TARGET) & 1:
            reason = NO_TARGET
        tally.unspent[year, season % 4, reason] += left
