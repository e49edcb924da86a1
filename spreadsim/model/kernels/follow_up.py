"""Coming back: visits that are due, in order of opening."""

from typing import Any

import numpy as np

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    CLIMBING,
    CUT_BASE,
    EMPTY,
    N_OPENED,
    N_OPENED_HOSTS,
    OPENED,
    OPENED_HOSTS,
    OPENED_HOSTS_WHEN,
    OPENED_WHEN,
)
from spreadsim.model.kernels.seedlings import has_seedling
from spreadsim.model.kernels.visits import DONE, FOLLOW_UP, STOPPED, is_due, visit_cell, visit_host, when_due


@inner
def next_visit(plan: Any, t: Any, season: Any, clean: Any, seen_clean: Any) -> Any:
    """Clean visits in a row, and the next visit (-1: none any more)."""
    if not seen_clean:
        return 0, season + plan.tasks[t].every
    if clean + 1 >= plan.tasks[t].clean:
        return clean + 1, -1
    return clean + 1, season + plan.tasks[t].every


@inner
def follow_up(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatments: Any, tally: Any, t: Any, year: Any,
    season: Any, now: Any, days: Any,
) -> None:  # fmt: skip
    """Make a task's visits that are due, in order of opening."""
    for i in range(state.count[N_OPENED]):
        if not is_due(state.lists[OPENED_WHEN, i], t, season):
            continue
        c = state.lists[OPENED, i]
        care = state.care[c]
        if care.worked == season + 1 or care.covered > now:
            continue
        clean = state.kinds[c] == EMPTY and not has_seedling(plan, state, c, season)
        done = visit_cell(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, c, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            care.clean, due = next_visit(plan, t, season, care.clean, clean)
            state.lists[OPENED_WHEN, i] = when_due(due, t)
            if due < 0:
                care.task = -1
    for i in range(state.count[N_OPENED_HOSTS]):
        if not is_due(state.lists[OPENED_HOSTS_WHEN, i], t, season):
            continue
        j = state.lists[OPENED_HOSTS, i]
        host = state.hosts[j]
        clean = host.state != CLIMBING and host.state != CUT_BASE
        done = visit_host(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, j, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            host.clean, due = next_visit(plan, t, season, host.clean, clean)
            state.lists[OPENED_HOSTS_WHEN, i] = when_due(due, t)
            if due < 0:
                host.task = -1


@inner
def drop_closed(state: Any) -> None:
    kept = 0
    for i in range(state.count[N_OPENED]):
        if state.lists[OPENED_WHEN, i] >= 0:
            state.lists[OPENED, kept] = state.lists[OPENED, i]
            state.lists[OPENED_WHEN, kept] = state.lists[OPENED_WHEN, i]
            kept += 1
    state.count[N_OPENED] = kept
    kept = 0
    for i in range(state.count[N_OPENED_HOSTS]):
        if state.lists[OPENED_HOSTS_WHEN, i] >= 0:
            state.lists[OPENED_HOSTS, kept] = state.lists[OPENED_HOSTS, i]
            state.lists[OPENED_HOSTS_WHEN, kept] = state.lists[OPENED_HOSTS_WHEN, i]
            kept += 1
    state.count[N_OPENED_HOSTS] = kept
