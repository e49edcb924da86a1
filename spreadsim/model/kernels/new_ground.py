"""Taking up what no task has open, in the order that the task asks for."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.hours import keep_back
from spreadsim.model.kernels.layout import (
    CLIMBING,
    EMPTY,
    FALLEN,
    FRUITING_KNOWN,
    GROUND_LEFT,
    HELD_BACK,
    INFESTED,
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
    SIDE,
    TASK_LEFT,
    TOUCHED_HOSTS,
)
from spreadsim.model.kernels.orders import find_patches, heapify, take_first
from spreadsim.model.kernels.visits import DONE, NEW, STOPPED, visit_cell, visit_host


@inner
def may_open(ground: Any, plan: Any, state: Any, t: Any, c: Any) -> Any:
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
def new_cells(
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
        if cell.known and free and may_open(ground, plan, state, t, c):
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
            keep_back(plan, state, t, task.treatment, HELD_BACK)
            break
        done = visit_cell(
            key,
            ground,
            plan,
            state,
            vine,
            treatments,
            tally,
            t,
            NEW,
            c,
            year,
            season,
            now,
            days,
            state.books[TASK_LEFT, t],
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
def host_wanted(ground: Any, plan: Any, state: Any, treatments: Any, t: Any, j: Any, season: Any, now: Any) -> Any:
    task = plan.tasks[t]
    host = state.hosts[j]
    c = ground.hosts[j].cell
    if host.known == 0 or not may_open(ground, plan, state, t, c):
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
def new_hosts(
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
        if not host_wanted(ground, plan, state, treatments, t, j, season, now):
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
        done = visit_host(
            key,
            ground,
            plan,
            state,
            vine,
            treatments,
            tally,
            t,
            NEW,
            j,
            year,
            season,
            now,
            days,
            state.books[TASK_LEFT, t],
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
