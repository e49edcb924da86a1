"""Taking up what no task has open, in the order that the task asks for."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.hours import keep_back
from spreadsim.model.kernels.layout import (
    CLIMBERS,
    CLIMBING,
    EMPTY,
    FALLEN,
    FRUITING_KNOWN,
    GROUND_LEFT,
    HELD_BACK,
    HOURS_LEFT,
    N_CLIMBERS,
    N_OPENED,
    N_OPENED_HOSTS,
    N_RUNS,
    N_TOUCHED_HOSTS,
    OPENED,
    OPENED_HOSTS,
    OPENED_HOSTS_WHEN,
    OPENED_WHEN,
    ORDER_ACCESS,
    ORDER_FRUIT,
    ORDER_FRUIT_PER_HOUR,
    ORDER_LARGEST,
    ORDER_OUTLYING,
    ORDER_SWEEP,
    ORDER_UNIT,
    PATCH,
    PATCH_SIZE,
    RUN_LENGTH,
    RUN_NEXT,
    RUN_ROOT,
    RUN_SIZE,
    RUN_START,
    SIDE,
    TASK_LEFT,
    TOUCHED_HOSTS,
)
from spreadsim.model.kernels.orders import enqueue, heapify, take_first
from spreadsim.model.kernels.patches import find_patches, note_patches
from spreadsim.model.kernels.visits import (
    DONE,
    NEW,
    STOPPED,
    is_permitted,
    usable_slots,
    visit_cell,
    visit_host,
    when_due,
)


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
        return state.care[c].clean >= 2
    return True


@inner
def nothing_left(plan: Any, state: Any, t: Any) -> Any:
    """Whether no crew of the task has any hours left: then no target need be looked at."""
    task = plan.tasks[t]
    for k in range(plan.crews.size):
        may = (plan.crews[k].may >> task.treatment) & 1
        if task.instead >= 0:
            may |= (plan.crews[k].may >> task.instead) & 1
        if (task.crews >> k) & 1 and may and state.books[HOURS_LEFT, k] > 0.0:
            return False
    return True


@inner
def new_cells(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    task = plan.tasks[t]
    usable = usable_slots(plan, t, season, False)
    if usable == 0 or nothing_left(plan, state, t):
        return
    find_patches(ground, state)
    if minds_size(treatments, task):
        note_patches(state)
    if task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
        sign = 1.0 if task.order == ORDER_OUTLYING else -1.0
        n = 0
        for i in range(state.count[N_RUNS]):
            if state.lists[RUN_ROOT, i] == i:
                enqueue(state, n, i, sign * state.lists[RUN_SIZE, i], 0.0)
                n += 1
        heapify(state, n)
        going_on = True
        while n > 0 and going_on:
            i = take_first(state, n)
            n -= 1
            while i >= 0 and going_on:
                start = state.lists[RUN_START, i]
                for c in range(start, start + state.lists[RUN_LENGTH, i]):
                    if going_on and cell_wanted(ground, plan, state, treatments, t, c, season, now, usable):
                        going_on = open_cell(
                            key, ground, plan, state, vine, treatments, tally, t, c, year, season, now, days
                        )
                i = state.lists[RUN_NEXT, i]
        return
    n = 0
    for i in range(state.count[N_RUNS]):
        start = state.lists[RUN_START, i]
        for c in range(start, start + state.lists[RUN_LENGTH, i]):
            if cell_wanted(ground, plan, state, treatments, t, c, season, now, usable):
                enqueue(state, n, c, order_of_place(ground, plan, t, c), 0.0)
                n += 1
    heapify(state, n)
    while n > 0:
        c = take_first(state, n)
        n -= 1
        if not open_cell(key, ground, plan, state, vine, treatments, tally, t, c, year, season, now, days):
            return


@inner
def order_of_place(ground: Any, plan: Any, t: Any, c: Any) -> Any:
    """First key of a cell in a task that goes by unit or by access; 0 in one that goes by number."""
    if plan.tasks[t].order == ORDER_UNIT:
        return 1.0 * plan.unit_rank[t, ground.cells[c].unit]
    if plan.tasks[t].order == ORDER_ACCESS:
        return ground.cells[c].access
    return 0.0


@inner
def minds_size(treatments: Any, task: Any) -> Any:
    """Whether one of the task's treatments is not used in patches that are too large."""
    if task.instead >= 0 and treatments[task.instead].largest_patch > 0.0:
        return True
    return treatments[task.treatment].largest_patch > 0.0


@inner
def cell_wanted(
    ground: Any, plan: Any, state: Any, treatments: Any, t: Any, c: Any, season: Any, now: Any, usable: Any
) -> Any:
    """Whether a cell of known mat is free to be opened by the task, by a treatment that is permitted there."""
    care = state.care[c]
    if care.task >= 0 or care.worked == season + 1 or care.covered > now:
        return False
    return may_open(ground, plan, state, t, c) and is_permitted(ground, plan, state, treatments, t, c, usable)


@inner
def open_cell(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, c: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> Any:  # fmt: skip
    """Work a cell for the first time, and say whether the pass goes on."""
    task = plan.tasks[t]
    h = ground.numbers[SIDE]
    area = h * h * ground.cells[c].plantable
    if area > state.books[GROUND_LEFT, t]:
        keep_back(plan, state, t, task.treatment, HELD_BACK)
        return False
    limit = state.books[TASK_LEFT, t]
    done = visit_cell(key, ground, plan, state, vine, treatments, tally, t, NEW, c, year, season, now, days, limit)
    if done == STOPPED:
        return False
    if done == DONE:
        state.books[GROUND_LEFT, t] -= area
        if task.every > 0:
            care = state.care[c]
            care.task = t
            care.clean = 0
            state.lists[OPENED, state.count[N_OPENED]] = c
            state.lists[OPENED_WHEN, state.count[N_OPENED]] = when_due(season + task.every, t)
            state.count[N_OPENED] += 1
    return True


@inner
def host_wanted(ground: Any, plan: Any, state: Any, treatments: Any, t: Any, j: Any, season: Any, now: Any) -> Any:
    task = plan.tasks[t]
    host = state.hosts[j]
    c = ground.hosts[j].cell
    if host.known == 0 or not may_open(ground, plan, state, t, c):
        return False
    treatment = treatments[task.treatment]
    if treatment.ring_radius > 0.0 and treatment.stem_kill <= 0.0:
        if host.state == FALLEN or state.kinds[c] == EMPTY or now < host.ring:
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
    if usable_slots(plan, t, season, True) == 0 or nothing_left(plan, state, t):
        return
    ring_only = treatments[task.treatment].ring_radius > 0.0 and treatments[task.treatment].stem_kill <= 0.0
    if task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
        find_patches(ground, state)
        note_patches(state)
    n = 0
    # rings are cleared round hosts that were worked before as well, all else is done to climbing stems
    which = TOUCHED_HOSTS if ring_only else CLIMBERS
    for i in range(state.count[N_TOUCHED_HOSTS] if ring_only else state.count[N_CLIMBERS]):
        j = state.lists[which, i]
        if not host_wanted(ground, plan, state, treatments, t, j, season, now):
            continue
        c = ground.hosts[j].cell
        bears = 0.0 if state.hosts[j].state == CLIMBING and state.hosts[j].fruit <= now else 1.0
        first = 0.0
        second = 0.0
        if task.order == ORDER_FRUIT:
            first = bears
        elif task.order == ORDER_FRUIT_PER_HOUR:
            first = bears
            second = ground.hosts[j].girth * ground.cells[c].access
        elif task.order == ORDER_UNIT:
            first = 1.0 * plan.unit_rank[t, ground.cells[c].unit]
            second = bears
        elif task.order == ORDER_SWEEP:
            first = 1.0 * c
        elif task.order == ORDER_ACCESS:
            first = ground.cells[c].access
        elif task.order == ORDER_OUTLYING or task.order == ORDER_LARGEST:
            patch = c
            size = 1.0
            if state.kinds[c] != EMPTY and state.cells[c].known:
                patch = state.lists[PATCH, c]
                size = 1.0 * state.lists[PATCH_SIZE, c]
            first = size if task.order == ORDER_OUTLYING else -size
            second = 1.0 * patch
        enqueue(state, n, j, first, second)
        n += 1
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
            state.lists[OPENED_HOSTS, state.count[N_OPENED_HOSTS]] = j
            state.lists[OPENED_HOSTS_WHEN, state.count[N_OPENED_HOSTS]] = when_due(season + task.every, t)
            state.count[N_OPENED_HOSTS] += 1
