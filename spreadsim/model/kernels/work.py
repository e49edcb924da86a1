"""A season's work: hours go down the list of tasks, follow-up before new ground where it is reserved."""

import math
from typing import Any

import numpy as np

from spreadsim.model.draws import CONSENT, SOURCE_ENTITY, TURNOUT, WEATHER, poisson_quantile, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    ASKED,
    CLIMBERS,
    CLIMBING,
    CUT_BASE,
    EFFORT,
    EMPTY,
    FALLEN,
    FIT_DAYS,
    FIT_USED,
    FRUIT,
    FRUITING_KNOWN,
    FUND_LEFT,
    GROUND_LEFT,
    HELD_BACK,
    HOURS_LEFT,
    INFESTED,
    KEPT_BACK,
    N_CLIMBERS,
    N_INFESTED,
    N_OPENED,
    N_OPENED_HOSTS,
    N_TOUCHED,
    N_TOUCHED_HOSTS,
    NO_FIT_DAY,
    NO_SEASON,
    NO_TARGET,
    NO_TASK,
    OPENED,
    OPENED_HOSTS,
    ORDER_ACCESS,
    ORDER_FRUIT,
    ORDER_FRUIT_PER_HOUR,
    ORDER_LARGEST,
    ORDER_OUTLYING,
    ORDER_SWEEP,
    ORDER_UNIT,
    QUEUE,
    RESERVE,
    SCOUT,
    SIDE,
    SOURCE_GONE,
    STARTED,
    TASK_LEFT,
    TOO_FEW,
    TOUCHED,
    TOUCHED_HOSTS,
    VISITED,
)
from spreadsim.model.kernels.mat import cover, touch
from spreadsim.model.kernels.orders import find_patches, heapify, take_first
from spreadsim.model.kernels.scout import find
from spreadsim.model.kernels.seedlings import has_seedling
from spreadsim.model.kernels.treat import treat_cell, treat_host

NEW, FOLLOW_UP = 0, 1
OWN, FOLLOWING, INSTEAD = 0, 1, 2
DONE, SKIPPED, STOPPED = 1, 0, -1
NO_HOURS, NOT_ALLOWED = -1, -2
MOST_SCOUTING = 3.0


@inner
def work(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, year: Any, season: Any,
    now: Any,
) -> None:  # fmt: skip
    """Spend the season's hours."""
    days = _begin(key, ground, plan, state, treatments, tally, year, season, now)
    for t in range(plan.tasks.size):
        if plan.switches[RESERVE]:
            _follow_up(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    for t in range(plan.tasks.size):
        _new_ground(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
        if not plan.switches[RESERVE]:
            _follow_up(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    scouting = treatments[plan.switches[SCOUT]]
    find(key, ground, state, vine, scouting, True, season, now, scouting.incidental_finds)
    _drop_closed(state)
    _account(plan, state, tally, year, season)


@inner
def _begin(
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
    state.lists[FRUITING_KNOWN, :] = 0
    for i in range(state.count[N_CLIMBERS]):
        j = state.lists[CLIMBERS, i]
        host = state.hosts[j]
        if host.known and host.state == CLIMBING and host.fruit <= now:
            state.lists[FRUITING_KNOWN, ground.cells[ground.hosts[j].cell].unit] += 1
            state.lists[FRUITING_KNOWN, plan.unit_area.size] += 1
    return _fit_days(key, plan, year, season)


@inner
def _fit_days(key: Any, plan: Any, year: Any, season: Any) -> Any:
    """Days fit to spray: of one of the weather years, the same for all seasons of a year; else Poisson."""
    if plan.weather.shape[0] > 0:
        luck = uniform(key, WEATHER, 0, 4 * year, 1)
        return plan.weather[int(luck * plan.weather.shape[0]), season % 4]
    return poisson_quantile(uniform(key, WEATHER, 0, season, 0), plan.seasonal[FIT_DAYS, season % 4]) * 1.0


@inner
def _money(plan: Any, state: Any, k: Any, year: Any) -> Any:
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
def _pay(plan: Any, state: Any, k: Any, year: Any, money: Any) -> None:
    """Take money from the funds open to a crew, the one that ends first first."""
    for f in range(plan.funds.size):
        fund = plan.funds[f]
        if fund.first_year <= year <= fund.last_year and (fund.crews >> k) & 1:
            part = min(money, state.books[FUND_LEFT, f])
            state.books[FUND_LEFT, f] -= part
            money -= part


@inner
def _cost(plan: Any, k: Any, need: Any, material: Any) -> Any:
    """Money for a crew's hours, those of its leader, and material."""
    crew = plan.crews[k]
    money = need * crew.price + material
    if crew.leader >= 0:
        money += need / crew.per_leader * plan.crews[crew.leader].price
    return money


@inner
def _need(plan: Any, k: Any, hours: Any, fresh: Any) -> Any:
    """Hours of a crew for work that takes so many at full pace, with the walk to ground not yet visited this season."""
    walk = plan.crews[k].walking if fresh else 0.0
    return hours / plan.crews[k].pace + walk


@inner
def _keep_back(plan: Any, state: Any, t: Any, k_treatment: Any, reason: Any) -> None:
    """Note why the crews of a task could not go on."""
    for k in range(plan.crews.size):
        if (plan.tasks[t].crews >> k) & 1 and (plan.crews[k].may >> k_treatment) & 1:
            state.lists[KEPT_BACK, k] |= 1 << reason


@inner
def _crew_for(
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
        need = _need(plan, k, hours, fresh)
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
        if _cost(plan, k, need, material) > _money(plan, state, k, year):
            state.lists[KEPT_BACK, k] |= 1 << HELD_BACK
            continue
        return k
    return answer


@inner
def _spend(
    plan: Any, state: Any, tally: Any, t: Any, kind: Any, k: Any, k_treatment: Any, hours: Any, material: Any,
    fresh: Any, year: Any, season: Any,
) -> None:  # fmt: skip
    crew = plan.crews[k]
    need = _need(plan, k, hours, fresh)
    state.books[HOURS_LEFT, k] -= need
    if crew.leader >= 0:
        state.books[HOURS_LEFT, crew.leader] -= need / crew.per_leader
        tally.hours[year, season % 4, t, kind, crew.leader] += need / crew.per_leader
    if plan.rules[k_treatment].needs_fit_weather:
        state.books[FIT_USED, k] += need
    _pay(plan, state, k, year, _cost(plan, k, need, material))
    # follow-up isn't held to the task's share, but uses it up
    state.books[TASK_LEFT, t] -= need
    tally.hours[year, season % 4, t, kind, k] += need


@inner
def _treatment_of(plan: Any, t: Any, slot: Any) -> Any:
    if slot == OWN:
        return plan.tasks[t].treatment
    if slot == FOLLOWING:
        return plan.tasks[t].follow
    return plan.tasks[t].instead


@inner
def _slot_at(kind: Any, place: Any) -> Any:
    """Which treatment is tried at a place: new ground own, instead; follow-up its own treatment, instead, own."""
    if kind == NEW:
        return OWN if place == 0 else INSTEAD
    if place == 0:
        return FOLLOWING
    return INSTEAD if place == 1 else OWN


@inner
def _visit_cell(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, kind: Any, c: Any,
    year: Any, season: Any, now: Any, days: Any, limit: Any,
) -> Any:  # fmt: skip
    """Work a cell by the first treatment that is permitted and can be paid in hours."""
    task = plan.tasks[t]
    h = ground.numbers[SIDE]
    place_of = ground.cells[c]
    area = h * h * place_of.plantable
    dirty = state.cells[c].kind != EMPTY or has_seedling(state, c, season)
    thick = cover(ground, state, vine, c, now) / vine.max_cover
    answer = SKIPPED
    for place in range(2 if kind == NEW else 3):
        slot = _slot_at(kind, place)
        k_treatment = _treatment_of(plan, t, slot)
        if k_treatment < 0:
            continue
        rules = plan.rules[k_treatment]
        if not rules.mat or (rules.seasons >> (season % 4)) & 1 == 0:
            continue
        if rules.not_on_sensitive and place_of.sensitive:
            continue
        treatment = treatments[k_treatment]
        if kind == NEW and treatment.largest_patch > 0.0:
            if state.cells[state.cells[c].patch].patch_size * h * h > treatment.largest_patch:
                continue
        hours = treatment.hours_per_area * area * max(treatment.hours_floor, thick) * place_of.access
        if task.haul:
            hours *= 1.0 + treatment.hauling_share
        if kind == NEW:
            hours *= 1.0 + treatments[plan.switches[SCOUT]].misidentified
        if state.lists[STARTED, t] != season + 1:
            hours += treatment.hours_per_visit
        material = treatment.material_per_area * area if dirty else 0.0
        fresh = state.lists[VISITED, place_of.block] != season + 1
        k = _crew_for(plan, state, t, k_treatment, treatment, hours, material, fresh, days, limit, year)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        _spend(plan, state, tally, t, kind, k, k_treatment, hours, material, fresh, year, season)
        state.lists[STARTED, t] = season + 1
        touch(state, c)
        state.cells[c].worked = season + 1
        state.lists[VISITED, place_of.block] = season + 1
        if state.cells[c].kind != EMPTY:
            state.cells[c].known = 1
        if dirty:
            tally.amounts[year, season % 4, t, slot, 0] += area
            treat_cell(key, ground, plan, state, vine, treatment, rules, c, season, now, task.haul)
        return DONE
    return answer


@inner
def _visit_host(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, kind: Any, j: Any,
    year: Any, season: Any, now: Any, days: Any, limit: Any,
) -> Any:  # fmt: skip
    """Work a host by the first treatment that is permitted and can be paid in hours."""
    task = plan.tasks[t]
    place_of = ground.cells[ground.hosts[j].cell]
    host = state.hosts[j]
    dirty = kind == NEW or host.state == CLIMBING or host.state == CUT_BASE
    answer = SKIPPED
    for place in range(2 if kind == NEW else 3):
        slot = _slot_at(kind, place)
        k_treatment = _treatment_of(plan, t, slot)
        if k_treatment < 0:
            continue
        rules = plan.rules[k_treatment]
        if not rules.stems or (rules.seasons >> (season % 4)) & 1 == 0:
            continue
        if rules.not_on_sensitive and place_of.sensitive:
            continue
        if host.season == season + 1 and (host.done >> k_treatment) & 1:
            continue
        treatment = treatments[k_treatment]
        hours = treatment.hours_per_host * ground.hosts[j].girth * place_of.access
        if task.haul:
            hours *= 1.0 + treatment.hauling_share
        if not dirty:
            hours *= treatment.hours_floor
        if kind == NEW:
            hours *= 1.0 + treatments[plan.switches[SCOUT]].misidentified
        if state.lists[STARTED, t] != season + 1:
            hours += treatment.hours_per_visit
        material = treatment.material_per_host if dirty else 0.0
        fresh = state.lists[VISITED, place_of.block] != season + 1
        k = _crew_for(plan, state, t, k_treatment, treatment, hours, material, fresh, days, limit, year)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        _spend(plan, state, tally, t, kind, k, k_treatment, hours, material, fresh, year, season)
        state.lists[STARTED, t] = season + 1
        state.lists[VISITED, place_of.block] = season + 1
        host.known = 1
        if dirty:
            tally.amounts[year, season % 4, t, slot, 1] += 1.0
            ripe = plan.seasonal[FRUIT, season % 4] > 0.0
            treat_host(key, ground, state, vine, treatment, plan.crews[k].volunteers, j, season, now, ripe)
            host.done |= np.uint32(1 << k_treatment)
        return DONE
    return answer


@inner
def _next_visit(plan: Any, t: Any, season: Any, clean: Any, seen_clean: Any) -> Any:
    """Clean visits in a row, and the next visit (-1: none any more)."""
    if not seen_clean:
        return 0, season + plan.tasks[t].every
    if clean + 1 >= plan.tasks[t].clean:
        return clean + 1, -1
    return clean + 1, season + plan.tasks[t].every


@inner
def _follow_up(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    """Make a task's visits that are due, in order of opening."""
    for i in range(state.count[N_OPENED]):
        c = state.lists[OPENED, i]
        cell = state.cells[c]
        if cell.task != t or cell.due > season or cell.worked == season + 1 or cell.covered > now:
            continue
        clean = cell.kind == EMPTY and not has_seedling(state, c, season)
        done = _visit_cell(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, c, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            cell.clean, cell.due = _next_visit(plan, t, season, cell.clean, clean)
            if cell.due < 0:
                cell.task = -1
    for i in range(state.count[N_OPENED_HOSTS]):
        j = state.lists[OPENED_HOSTS, i]
        host = state.hosts[j]
        if host.task != t or host.due > season:
            continue
        clean = host.state != CLIMBING and host.state != CUT_BASE
        done = _visit_host(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, j, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            host.clean, host.due = _next_visit(plan, t, season, host.clean, clean)
            if host.due < 0:
                host.task = -1


@inner
def _drop_closed(state: Any) -> None:
    kept = 0
    for i in range(state.count[N_OPENED]):
        c = state.lists[OPENED, i]
        if state.cells[c].task >= 0:
            state.lists[OPENED, kept] = c
            kept += 1
    state.count[N_OPENED] = kept
    kept = 0
    for i in range(state.count[N_OPENED_HOSTS]):
        j = state.lists[OPENED_HOSTS, i]
        if state.hosts[j].task >= 0:
            state.lists[OPENED_HOSTS, kept] = j
            kept += 1
    state.count[N_OPENED_HOSTS] = kept


@inner
def _new_ground(
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
        _keep_back(plan, state, t, task.treatment, HELD_BACK)
        return
    rules = plan.rules[task.treatment]
    if rules.search:
        _scout(key, ground, plan, state, vine, treatments, tally, t, year, season, now)
    elif rules.mat:
        _new_cells(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    elif rules.stems:
        _new_hosts(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    elif rules.natives:
        _plant(ground, plan, state, treatments, tally, t, year, season, now, days)
    elif rules.sources:
        _ask(key, ground, plan, state, treatments, tally, t, year, season, now, days)


@inner
def _may_open(ground: Any, plan: Any, state: Any, t: Any, c: Any) -> Any:
    """Whether the task works in the cell's unit, and its "not until" holds there."""
    unit = ground.cells[c].unit
    if plan.unit_rank[t, unit] < 0:
        return False
    rule = plan.tasks[t].not_until
    if rule == 1:
        return state.lists[FRUITING_KNOWN, unit] == 0
    if rule == 2:
        return state.lists[FRUITING_KNOWN, plan.unit_area.size] == 0
    if rule == 3:
        return state.cells[c].clean >= 2
    return True


@inner
def _new_cells(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    task = plan.tasks[t]
    small = treatments[task.treatment].largest_patch > 0.0
    if task.instead >= 0 and treatments[task.instead].largest_patch > 0.0:
        small = True
    if small or task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
        find_patches(ground, state)
    n = 0
    for i in range(state.count[N_INFESTED]):
        c = state.lists[INFESTED, i]
        cell = state.cells[c]
        free = cell.task < 0 and cell.worked != season + 1 and cell.covered <= now
        if cell.known and free and _may_open(ground, plan, state, t, c):
            state.lists[QUEUE, n] = c
            n += 1
            state.keys[c, 0] = 0.0
            state.keys[c, 1] = 0.0
            if task.order == ORDER_OUTLYING:
                state.keys[c, 0] = state.cells[state.cells[c].patch].patch_size
                state.keys[c, 1] = state.cells[c].patch
            elif task.order == ORDER_LARGEST:
                state.keys[c, 0] = -state.cells[state.cells[c].patch].patch_size
                state.keys[c, 1] = state.cells[c].patch
            elif task.order == ORDER_UNIT:
                state.keys[c, 0] = plan.unit_rank[t, ground.cells[c].unit]
            elif task.order == ORDER_ACCESS:
                state.keys[c, 0] = ground.cells[c].access
    heapify(state, n)
    h = ground.numbers[SIDE]
    while n > 0:
        c = take_first(state, n)
        n -= 1
        area = h * h * ground.cells[c].plantable
        if area > state.books[GROUND_LEFT, t]:
            _keep_back(plan, state, t, task.treatment, HELD_BACK)
            break
        done = _visit_cell(
            key, ground, plan, state, vine, treatments, tally, t, NEW, c, year, season, now, days, state.books[TASK_LEFT, t]
        )
        if done == STOPPED:
            break
        if done == DONE:
            state.books[GROUND_LEFT, t] -= area
            if task.every > 0:
                cell = state.cells[c]
                cell.task = t
                cell.clean = 0
                cell.due = season + task.every
                state.lists[OPENED, state.count[N_OPENED]] = c
                state.count[N_OPENED] += 1


@inner
def _host_wanted(ground: Any, plan: Any, state: Any, treatments: Any, t: Any, j: Any, season: Any, now: Any) -> Any:
    task = plan.tasks[t]
    host = state.hosts[j]
    c = ground.hosts[j].cell
    if host.known == 0 or not _may_open(ground, plan, state, t, c):
        return False
    treatment = treatments[task.treatment]
    if treatment.ring_radius > 0.0 and treatment.stem_kill <= 0.0:
        if host.state == FALLEN or state.cells[c].kind == EMPTY or now < host.ring:
            return False
        return host.state == CLIMBING or host.worked == 1
    if host.state != CLIMBING or host.task >= 0:
        return False
    bears = host.fruit <= now
    return task.states == 0 or (task.states == 1 and bears) or (task.states == 2 and not bears)


@inner
def _new_hosts(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    task = plan.tasks[t]
    ring_only = treatments[task.treatment].ring_radius > 0.0 and treatments[task.treatment].stem_kill <= 0.0
    if task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
        find_patches(ground, state)
    n = 0
    for i in range(state.count[N_TOUCHED_HOSTS]):
        j = state.lists[TOUCHED_HOSTS, i]
        if not _host_wanted(ground, plan, state, treatments, t, j, season, now):
            continue
        state.lists[QUEUE, n] = j
        n += 1
        c = ground.hosts[j].cell
        bears = 0.0 if state.hosts[j].state == CLIMBING and state.hosts[j].fruit <= now else 1.0
        state.keys[j, 0] = bears
        state.keys[j, 1] = 0.0
        if task.order == ORDER_FRUIT_PER_HOUR:
            state.keys[j, 1] = ground.hosts[j].girth * ground.cells[c].access
        elif task.order == ORDER_UNIT:
            state.keys[j, 0] = plan.unit_rank[t, ground.cells[c].unit]
            state.keys[j, 1] = bears
        elif task.order == ORDER_SWEEP:
            state.keys[j, 0] = c
        elif task.order == ORDER_ACCESS:
            state.keys[j, 0] = ground.cells[c].access
        elif task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
            patch = c
            size = 1.0
            if state.cells[c].kind != EMPTY and state.cells[c].known:
                patch = state.cells[c].patch
                size = state.cells[patch].patch_size
            state.keys[j, 0] = size if task.order == ORDER_OUTLYING else -size
            state.keys[j, 1] = patch
        elif task.order != ORDER_FRUIT:
            state.keys[j, 0] = 0.0
    heapify(state, n)
    while n > 0:
        j = take_first(state, n)
        n -= 1
        done = _visit_host(
            key, ground, plan, state, vine, treatments, tally, t, NEW, j, year, season, now, days, state.books[TASK_LEFT, t]
        )
        if done == STOPPED:
            break
        if done == DONE and task.every > 0 and not ring_only:
            host = state.hosts[j]
            host.task = t
            host.clean = 0
            host.due = season + task.every
            state.lists[OPENED_HOSTS, state.count[N_OPENED_HOSTS]] = j
            state.count[N_OPENED_HOSTS] += 1


@inner
def _scout(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any,
) -> None:  # fmt: skip
    """Spend hours on looking, over the task's units evenly, and see what is found at once."""
    task = plan.tasks[t]
    scouting = treatments[task.treatment]
    area = 0.0
    for unit in range(plan.unit_area.size):
        if plan.unit_rank[t, unit] >= 0:
            area += plan.unit_area[unit] / 10000.0
    if area <= 0.0:
        return
    wanted = MOST_SCOUTING * scouting.search_time_constant_mat
    for k in range(plan.crews.size):
        if (task.crews >> k) & 1 == 0 or (plan.crews[k].may >> task.treatment) & 1 == 0 or wanted <= 0.0:
            continue
        crew = plan.crews[k]
        hours = min(state.books[HOURS_LEFT, k], state.books[TASK_LEFT, t], wanted * area / 60.0 / crew.pace)
        if crew.leader >= 0:
            hours = min(hours, state.books[HOURS_LEFT, crew.leader] * crew.per_leader)
        price = _cost(plan, k, 1.0, 0.0)
        if price > 0.0:
            hours = min(hours, _money(plan, state, k, year) / price)
        if hours <= 0.0:
            continue
        effort = 60.0 * hours * crew.pace / area
        wanted -= effort
        _spend(plan, state, tally, t, NEW, k, task.treatment, hours * crew.pace, 0.0, False, year, season)
        for unit in range(plan.unit_area.size):
            if plan.unit_rank[t, unit] >= 0:
                state.books[EFFORT, unit] += effort
    find(key, ground, state, vine, scouting, True, season, now, 0.0)


@inner
def _plant(
    ground: Any, plan: Any, state: Any, treatments: Any, tally: Any, t: Any, year: Any, season: Any, now: Any,
    days: Any,
) -> None:  # fmt: skip
    """Plant natives, once in a place, on worked ground that is clean and bare of cover."""
    task = plan.tasks[t]
    treatment = treatments[task.treatment]
    h = ground.numbers[SIDE]
    n = 0
    for i in range(state.count[N_TOUCHED]):
        c = state.lists[TOUCHED, i]
        cell = state.cells[c]
        if cell.worked == 0 or cell.kind != EMPTY or cell.covered > now or cell.planted or cell.native >= 1.0:
            continue
        if not _may_open(ground, plan, state, t, c):
            continue
        state.lists[QUEUE, n] = c
        n += 1
        state.keys[c, 0] = 0.0
        state.keys[c, 1] = 0.0
        if task.order == ORDER_UNIT:
            state.keys[c, 0] = plan.unit_rank[t, ground.cells[c].unit]
        elif task.order == ORDER_ACCESS:
            state.keys[c, 0] = ground.cells[c].access
    heapify(state, n)
    while n > 0:
        c = take_first(state, n)
        n -= 1
        place_of = ground.cells[c]
        area = h * h * place_of.plantable
        if area > state.books[GROUND_LEFT, t]:
            _keep_back(plan, state, t, task.treatment, HELD_BACK)
            return
        hours = treatment.hours_per_area * area * place_of.access
        material = treatment.material_per_area * area
        fresh = state.lists[VISITED, place_of.block] != season + 1
        limit = state.books[TASK_LEFT, t]
        k = _crew_for(plan, state, t, task.treatment, treatment, hours, material, fresh, days, limit, year)
        if k < 0:
            return
        _spend(plan, state, tally, t, NEW, k, task.treatment, hours, material, fresh, year, season)
        state.lists[VISITED, place_of.block] = season + 1
        state.books[GROUND_LEFT, t] -= area
        tally.amounts[year, season % 4, t, OWN, 0] += area
        state.cells[c].planted = 1
        state.cells[c].native += (1.0 - state.cells[c].native) * treatment.plant_survival


@inner
def _ask(
    key: Any, ground: Any, plan: Any, state: Any, treatments: Any, tally: Any, t: Any, year: Any, season: Any,
    now: Any, days: Any,
) -> None:  # fmt: skip
    """Ask the owners of planted sources, each once a year, to have them removed."""
    task = plan.tasks[t]
    treatment = treatments[task.treatment]
    for source in range(ground.sources.shape[0]):
        if state.books[SOURCE_GONE, source] < np.inf or state.lists[ASKED, source] == year + 1:
            continue
        hours = treatment.hours_per_visit
        material = treatment.material_per_host
        limit = state.books[TASK_LEFT, t]
        k = _crew_for(plan, state, t, task.treatment, treatment, hours, material, False, days, limit, year)
        if k < 0:
            return
        _spend(plan, state, tally, t, NEW, k, task.treatment, hours, material, False, year, season)
        state.lists[ASKED, source] = year + 1
        tally.amounts[year, season % 4, t, OWN, 1] += 1.0
        if uniform(key, CONSENT, SOURCE_ENTITY + source, 4 * year, 0) < treatment.consent:
            state.books[SOURCE_GONE, source] = now + treatment.consent_delay


@inner
def _account(plan: Any, state: Any, tally: Any, year: Any, season: Any) -> None:
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
