"""One visit to a cell or a host: by which treatment, by whom, and what comes of it."""

from typing import Any

import numpy as np

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.hours import NO_HOURS, crew_for, spend
from spreadsim.model.kernels.layout import (
    CLIMBING,
    CUT_BASE,
    EMPTY,
    FRUIT,
    PATCH_SIZE,
    SCOUT,
    SIDE,
    STARTED,
    VISITED,
)
from spreadsim.model.kernels.mat import cover, make_known, touch
from spreadsim.model.kernels.seedlings import has_seedling
from spreadsim.model.kernels.treat import treat_cell, treat_host

NEW, FOLLOW_UP = 0, 1
OWN, FOLLOWING, INSTEAD = 0, 1, 2
DONE, SKIPPED, STOPPED = 1, 0, -1


@inner
def when_due(due: Any, t: Any) -> Any:
    """Season of the next visit and the task that makes it as one number; -1 if there is none any more."""
    return due << 16 | t if due >= 0 else -1


@inner
def is_due(when: Any, t: Any, season: Any) -> Any:
    """Whether the task has a visit to make by this season."""
    return when >= 0 and when & 0xFFFF == t and when >> 16 <= season


@inner
def treatment_of(plan: Any, t: Any, slot: Any) -> Any:
    if slot == OWN:
        return plan.tasks[t].treatment
    if slot == FOLLOWING:
        return plan.tasks[t].follow
    return plan.tasks[t].instead


@inner
def slot_at(plan: Any, t: Any, kind: Any, place: Any) -> Any:
    """Which treatment is tried at a place: new ground own, instead; follow-up its own treatment, instead, own."""
    if kind == NEW:
        return OWN if place == 0 else INSTEAD
    if place == 0:
        return FOLLOWING if plan.tasks[t].follow >= 0 else OWN
    return INSTEAD if place == 1 else OWN


@inner
def usable_slots(plan: Any, t: Any, season: Any, stems: Any) -> Any:
    """Which of a task's own treatment and the one instead act on its targets, are in season and allowed to a crew."""
    usable = 0
    for place in range(2):
        k_treatment = treatment_of(plan, t, slot_at(plan, t, NEW, place))
        if k_treatment < 0:
            continue
        rules = plan.rules[k_treatment]
        if not (rules.stems if stems else rules.mat) or (rules.seasons >> (season % 4)) & 1 == 0:
            continue
        for k in range(plan.crews.size):
            if (plan.tasks[t].crews >> k) & 1 and (plan.crews[k].may >> k_treatment) & 1:
                usable |= 1 << place
    return usable


@inner
def is_permitted(ground: Any, plan: Any, state: Any, treatments: Any, t: Any, c: Any, usable: Any) -> Any:
    """Whether one of the usable slots is allowed on the ground of a cell of new ground."""
    for place in range(2):
        if (usable >> place) & 1:
            k_treatment = treatment_of(plan, t, slot_at(plan, t, NEW, place))
            if plan.rules[k_treatment].not_on_sensitive and ground.cells[c].sensitive:
                continue
            if not _too_large(ground, state, treatments[k_treatment], c):
                return True
    return False


@inner
def _too_large(ground: Any, state: Any, treatment: Any, c: Any) -> Any:
    """Whether the cell's patch is larger than what the treatment is used on."""
    if treatment.largest_patch <= 0.0:
        return False
    h = ground.numbers[SIDE]
    return state.lists[PATCH_SIZE, c] * h * h > treatment.largest_patch


@inner
def visit_cell(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, kind: Any, c: Any,
    year: Any, season: Any, now: Any, days: Any, limit: Any,
) -> Any:  # fmt: skip
    """Work a cell by the first treatment that is permitted and can be paid in hours."""
    task = plan.tasks[t]
    h = ground.numbers[SIDE]
    place_of = ground.cells[c]
    area = h * h * ground.cells[c].plantable
    dirty = state.kinds[c] != EMPTY or has_seedling(plan, state, c, season)
    thick = cover(ground, state, vine, c, now) / vine.max_cover
    answer = SKIPPED
    for place in range(2 if kind == NEW else 3):
        slot = slot_at(plan, t, kind, place)
        k_treatment = treatment_of(plan, t, slot)
        if k_treatment < 0:
            continue
        rules = plan.rules[k_treatment]
        if not rules.mat or (rules.seasons >> (season % 4)) & 1 == 0:
            continue
        if rules.not_on_sensitive and place_of.sensitive:
            continue
        treatment = treatments[k_treatment]
        if kind == NEW and _too_large(ground, state, treatment, c):
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
        k = crew_for(plan, state, t, k_treatment, treatment, hours, material, fresh, days, limit, year)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        spend(plan, state, tally, t, kind, k, k_treatment, hours, material, fresh, year, season)
        state.lists[STARTED, t] = season + 1
        touch(ground, state, c)
        state.care[c].worked = season + 1
        state.lists[VISITED, place_of.block] = season + 1
        if state.kinds[c] != EMPTY:
            make_known(ground, state, c)
        if dirty:
            state.care[c].clean = 0
            tally.amounts[year, season % 4, t, slot, 0] += area
            treat_cell(key, ground, plan, state, vine, treatment, rules, c, season, now, task.haul)
        return DONE
    return answer


@inner
def visit_host(
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
        slot = slot_at(plan, t, kind, place)
        k_treatment = treatment_of(plan, t, slot)
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
        k = crew_for(plan, state, t, k_treatment, treatment, hours, material, fresh, days, limit, year)
        if k == NO_HOURS:
            answer = STOPPED
        if k < 0:
            continue
        spend(plan, state, tally, t, kind, k, k_treatment, hours, material, fresh, year, season)
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
