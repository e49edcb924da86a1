"""A season's work: hours go down the list of tasks, follow-up before new ground where it is reserved."""

from typing import Any

import numpy as np

from spreadsim.model.draws import WEATHER, poisson_quantile, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
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
    GROUND_LEFT,
    HOURS_LEFT,
    INFESTED,
    N_CLIMBERS,
    N_INFESTED,
    N_OPENED,
    N_OPENED_HOSTS,
    N_TOUCHED_HOSTS,
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
    TASK_LEFT,
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


@inner
def _begin(
    key: Any, ground: Any, plan: Any, state: Any, treatments: Any, tally: Any, year: Any, season: Any, now: Any
) -> Any:
    """Set out the season's hours and what is known of fruiting; the days fit to spray."""
    quarter = season % 4
    for k in range(plan.crews.size):
        state.books[HOURS_LEFT, k] = plan.crews[k].hours[quarter] * plan.crews[k].turnout
        state.books[FIT_USED, k] = 0.0
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
    return poisson_quantile(uniform(key, WEATHER, 0, season, 0), plan.seasonal[FIT_DAYS, quarter])


@inner
def _crew_for(plan: Any, state: Any, t: Any, k_treatment: Any, treatment: Any, hours: Any, days: Any, limit: Any) -> Any:
    """First crew that may do the treatment and has the hours; NO_HOURS or NOT_ALLOWED."""
    answer = NOT_ALLOWED
    for k in range(plan.crews.size):
        if (plan.tasks[t].crews >> k) & 1 == 0 or (plan.crews[k].may >> k_treatment) & 1 == 0:
            continue
        answer = NO_HOURS
        need = hours / plan.crews[k].pace
        if need > state.books[HOURS_LEFT, k] or need > limit:
            continue
        if plan.rules[k_treatment].needs_fit_weather:
            fit = days * treatment.fit_hours_per_day * plan.crews[k].people
            if state.books[FIT_USED, k] + need > fit:
                continue
        return k
    return answer


@inner
def _spend(plan: Any, state: Any, tally: Any, t: Any, kind: Any, k: Any, k_treatment: Any, hours: Any, year: Any, season: Any) -> None:
    need = hours / plan.crews[k].pace
    state.books[HOURS_LEFT, k] -= need
    if plan.rules[k_treatment].needs_fit_weather:
        state.books[FIT_USED, k] += need
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
def _slot_at(plan: Any, t: Any, kind: Any, place: Any) -> Any:
    """Which treatment is tried at a place: new ground own, instead; follow-up its own treatment, instead, own."""
    if kind == NEW:
        return OWN if place == 0 else INSTEAD
    if place == 0:
        return FOLLOWING if plan.tasks[t].follow >= 0 else OWN
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
        slot = _slot_at(plan, t, kind, place)
        k_treatment = _treatment_of(plan, t, slot)
        if k_treatment < 0:
            continue
        rules = plan.rules[k_treatment]
        if not rules.mat or (rules.seasons >> (season % 4)) & 1 == 0:
            continue
        if rules.not_on_sensitive and place_of.sensitive:
            continue
        treatment = treatments[k_treatment]
        hours = treatment.hours_per_area * area * max(treatment.hours_floor, thick) * place_of.access
        if task.haul:
            hours *= 1.0 + treatment.hauling_share
        k = _crew_for(plan, state, t, k_treatment, treatment, hours, days, limit)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        _spend(plan, state, tally, t, kind, k, k_treatment, hours, year, season)
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
        slot = _slot_at(plan, t, kind, place)
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
        k = _crew_for(plan, state, t, k_treatment, treatment, hours, days, limit)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        _spend(plan, state, tally, t, kind, k, k_treatment, hours, year, season)
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
        if cell.task != t or cell.due > season or cell.worked == season + 1:
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
    if state.books[TASK_LEFT, t] <= 0.0:
        return
    rules = plan.rules[task.treatment]
    if rules.stems:
        _new_hosts(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    elif rules.mat:
        _new_cells(key, ground, plan, state, vine, treatments, tally, t, year, season, now, days)
    else:
        _scout(key, ground, plan, state, vine, treatments, tally, t, year, season, now)


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
    return True


@inner
def _new_cells(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    task = plan.tasks[t]
    if task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
        find_patches(ground, state)
    n = 0
    for i in range(state.count[N_INFESTED]):
        c = state.lists[INFESTED, i]
        cell = state.cells[c]
        if cell.known and cell.task < 0 and cell.worked != season + 1 and _may_open(ground, plan, state, t, c):
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
    scouting = treatments[plan.switches[SCOUT]]
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
        hours = min(state.books[HOURS_LEFT, k], state.books[TASK_LEFT, t], wanted * area / 60.0 / plan.crews[k].pace)
        if hours <= 0.0:
            continue
        effort = 60.0 * hours * plan.crews[k].pace / area
        wanted -= effort
        state.books[HOURS_LEFT, k] -= hours
        state.books[TASK_LEFT, t] -= hours
        tally.hours[year, season % 4, t, NEW, k] += hours
        for unit in range(plan.unit_area.size):
            if plan.unit_rank[t, unit] >= 0:
                state.books[EFFORT, unit] += effort
    find(key, ground, state, vine, scouting, True, season, now, 0.0)
