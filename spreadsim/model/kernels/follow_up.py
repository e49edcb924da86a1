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
)
from spreadsim.model.kernels.seedlings import has_seedling
from spreadsim.model.kernels.visits import DONE, FOLLOW_UP, STOPPED, visit_cell, visit_host


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
        c = state.lists[OPENED, i]
        care = state.care[c]
        if care.task != t or care.due > season or care.worked == season + 1 or care.covered > now:
            continue
        clean = state.kinds[c] == EMPTY and not has_seedling(plan, state, c, season)
        done = visit_cell(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, c, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            care.clean, care.due = next_visit(plan, t, season, care.clean, clean)
            if care.due < 0:
                care.task = -1
    for i in range(state.count[N_OPENED_HOSTS]):
        j = state.lists[OPENED_HOSTS, i]
        host = state.hosts[j]
        if host.task != t or host.due > season:
            continue
        clean = host.state != CLIMBING and host.state != CUT_BASE
        done = visit_host(
            key, ground, plan, state, vine, treatments, tally, t, FOLLOW_UP, j, year, season, now, days, np.inf
        )
        if done == STOPPED:
            break
        if done == DONE:
            host.clean, host.due = next_visit(plan, t, season, host.clean, clean)
            if host.due < 0:
                host.task = -1


@inner
def drop_closed(state: Any) -> None:
    kept = 0
    for i in range(state.count[N_OPENED]):
        c = state.lists[OPENED, i]
        if state.care[c].task >= 0:
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
