"""What befalls the ground: storms, gaps and the removal of shrubs, planned or at random."""

import math
from typing import Any

from spreadsim.model.draws import EVENT, EVENT_ENTITY, EVENT_FALL, pair, poisson, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    HOSTS_BY_CELL,
    SIDE,
)
from spreadsim.model.kernels.mat import last_change, odds_at, touch
from spreadsim.model.kernels.trees import bring_down


@inner
def disturb(ground: Any, state: Any, vine: Any, c: Any, now: Any) -> None:
    """Let a cell grow and take seed faster for some years from now."""
    touch(ground, state, c)
    i = state.cells[c].slot
    stand, past = state.stands[i], state.pasts[i]
    if stand.infested:
        since = last_change(state, i)
        if since < now:
            stand.odds = odds_at(ground, state, vine, i, now)
        past.since = max(since, now)
        stand.changed = 1
    past.disturbed = max(past.disturbed, now + vine.release_years)


@inner
def befall(key: Any, ground: Any, plan: Any, state: Any, vine: Any, year: Any, quarter: Any, now: Any) -> None:
    """All events of a season's start."""
    h = ground.numbers[SIDE]
    season = 4 * year + quarter
    for e in range(plan.events.size):
        event = plan.events[e]
        if event.quarter != quarter:
            continue
        if event.year >= 0:
            if event.year == year:
                _strike(key, ground, state, vine, event.x, event.y, event.radius, event.trees_fall, season, now)
            continue
        for i in range(poisson(key, EVENT_ENTITY + e, season, 0, event.per_year)):
            east, north = pair(key, EVENT, EVENT_ENTITY + e, season, i)
            x = east * h * ground.shape[1]
            y = north * h * ground.shape[0]
            _strike(key, ground, state, vine, x, y, event.radius, event.trees_fall, season, now)


@inner
def _strike(
    key: Any, ground: Any, state: Any, vine: Any, x: Any, y: Any, radius: Any, share: Any, season: Any, now: Any
) -> None:
    """Disturb the cells whose centres lie within the radius, and bring down their trees by chance."""
    h = ground.numbers[SIDE]
    rows = ground.shape[0]
    columns = ground.shape[1]
    for row in range(max(0, rows - 1 - math.floor((y + radius) / h)), min(rows, rows - math.floor((y - radius) / h))):
        for column in range(max(0, math.floor((x - radius) / h)), min(columns, math.floor((x + radius) / h) + 1)):
            dx = (column + 0.5) * h - x
            dy = (rows - row - 0.5) * h - y
            c = row * columns + column
            if dx * dx + dy * dy > radius * radius or ground.cells[c].plantable <= 0.0:
                continue
            disturb(ground, state, vine, c, now)
            for k in range(ground.cells[c].first_host, ground.cells[c].after_hosts):
                j = ground.lists[HOSTS_BY_CELL, k]
                if ground.hosts[j].tree and uniform(key, EVENT_FALL, j, season, 0) < share:
                    bring_down(state, j)
