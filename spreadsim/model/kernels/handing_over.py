"""From the work that was done to the strategy that goes on: whose visits are due, and what nobody comes back to."""

from typing import Any

from spreadsim.model.kernels.compiling import entry
from spreadsim.model.kernels.follow_up import drop_closed
from spreadsim.model.kernels.layout import (
    N_OPENED,
    N_OPENED_HOSTS,
    OPENED,
    OPENED_HOSTS,
    OPENED_HOSTS_WHEN,
    OPENED_WHEN,
    STARTED,
)
from spreadsim.model.kernels.visits import when_due


@entry
def hand_over(ground: Any, state: Any, heirs: Any) -> None:
    """Give what one strategy has open to the tasks of another.

    `heirs` (tasks, units + 1) holds the task that takes over in a unit, -1 where there is none: such a place is closed.
    Visits stay due when they were, and clean ones count on.
    """
    for i in range(state.count[N_OPENED]):
        when = state.lists[OPENED_WHEN, i]
        if when < 0:
            continue
        c = state.lists[OPENED, i]
        heir = heirs[when & 0xFFFF, ground.cells[c].unit]
        state.care[c].task = heir
        state.lists[OPENED_WHEN, i] = when_due(when >> 16, heir) if heir >= 0 else -1
    for i in range(state.count[N_OPENED_HOSTS]):
        when = state.lists[OPENED_HOSTS_WHEN, i]
        if when < 0:
            continue
        j = state.lists[OPENED_HOSTS, i]
        heir = heirs[when & 0xFFFF, ground.cells[ground.hosts[j].cell].unit]
        state.hosts[j].task = heir
        state.lists[OPENED_HOSTS_WHEN, i] = when_due(when >> 16, heir) if heir >= 0 else -1
    drop_closed(state)
    state.lists[STARTED, :] = 0
