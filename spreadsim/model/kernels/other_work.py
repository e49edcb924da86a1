"""Work on other things than the vine: looking, planting natives, asking the owners of planted sources."""

from typing import Any

import numpy as np

from spreadsim.model.draws import CONSENT, SOURCE_ENTITY, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.hours import crew_for, hours_for, keep_back, money_for, spend
from spreadsim.model.kernels.layout import (
    ASKED,
    EFFORT,
    EMPTY,
    GROUND_LEFT,
    HELD_BACK,
    HOURS_LEFT,
    KEPT_BACK,
    N_TOUCHED,
    SCOUT,
    SIDE,
    SOURCE_GONE,
    TASK_LEFT,
    TOUCHED,
    VISITED,
)
from spreadsim.model.kernels.new_ground import may_open, order_of_place
from spreadsim.model.kernels.orders import enqueue, heapify, take_first
from spreadsim.model.kernels.scout import find
from spreadsim.model.kernels.visits import NEW, OWN

MOST_SCOUTING = 3.0
NOTHING = 1e-9  # of an effort: what rounding leaves must not call a crew, and charge its minimum


@inner
def scout(
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
    whole = MOST_SCOUTING * scouting.search_time_constant_mat
    wanted = whole
    for k in range(plan.crews.size):
        if (task.crews >> k) & 1 == 0 or (plan.crews[k].may >> task.treatment) & 1 == 0 or wanted <= NOTHING * whole:
            continue
        crew = plan.crews[k]
        most = min(state.books[HOURS_LEFT, k], wanted * area / 60.0 / crew.pace)
        hours = min(most, state.books[TASK_LEFT, t])
        if crew.leader >= 0:
            hours = min(hours, state.books[HOURS_LEFT, crew.leader] * crew.per_leader)
        hours = min(hours, hours_for(plan, state, k, money_for(plan, state, k, year)))
        if hours < most:
            state.lists[KEPT_BACK, k] |= 1 << HELD_BACK
        if hours <= 0.0:
            continue
        effort = 60.0 * hours * crew.pace / area
        wanted -= effort
        spend(plan, state, tally, t, NEW, k, task.treatment, hours * crew.pace, 0.0, False, year, season)
        for unit in range(plan.unit_area.size):
            if plan.unit_rank[t, unit] >= 0:
                state.books[EFFORT, unit] += effort
    find(key, ground, state, vine, scouting, True, season, now, 0.0)


@inner
def plant(
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
        care = state.care[c]
        stand = state.stands[cell.slot]
        if care.worked == 0 or state.kinds[c] != EMPTY or care.covered > now or cell.planted or stand.native >= 1.0:
            continue
        if not may_open(ground, plan, state, t, c):
            continue
        if plan.rules[task.treatment].not_on_sensitive and ground.cells[c].sensitive:
            continue
        enqueue(state, n, c, order_of_place(ground, plan, t, c), 0.0)
        n += 1
    heapify(state, n)
    while n > 0:
        c = take_first(state, n)
        n -= 1
        place_of = ground.cells[c]
        area = h * h * ground.cells[c].plantable
        if area > state.books[GROUND_LEFT, t]:
            keep_back(plan, state, t, task.treatment, HELD_BACK)
            return
        hours = treatment.hours_per_area * area * place_of.access
        material = treatment.material_per_area * area
        fresh = state.lists[VISITED, place_of.block] != season + 1
        limit = state.books[TASK_LEFT, t]
        k = crew_for(plan, state, t, task.treatment, treatment, hours, material, fresh, days, limit, year)
        if k < 0:
            return
        spend(plan, state, tally, t, NEW, k, task.treatment, hours, material, fresh, year, season)
        state.lists[VISITED, place_of.block] = season + 1
        state.books[GROUND_LEFT, t] -= area
        tally.amounts[year, season % 4, t, OWN, 0] += area
        state.cells[c].planted = 1
        stand = state.stands[state.cells[c].slot]
        stand.native += (1.0 - stand.native) * treatment.plant_survival


@inner
def ask(
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
        k = crew_for(plan, state, t, task.treatment, treatment, hours, material, False, days, limit, year)
        if k < 0:
            return
        spend(plan, state, tally, t, NEW, k, task.treatment, hours, material, False, year, season)
        state.lists[ASKED, source] = year + 1
        tally.amounts[year, season % 4, t, OWN, 1] += 1.0
        if uniform(key, CONSENT, SOURCE_ENTITY + source, 4 * year, 0) < treatment.consent:
            state.books[SOURCE_GONE, source] = now + treatment.consent_delay
