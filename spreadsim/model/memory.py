"""The memory that runs work in and write to."""

from typing import Any

import numpy as np

from spreadsim.model.compiled import layout, make_fresh

FIRST_SEEDLINGS = 4096
# in the order of NO_TASK and on
REASONS = (
    "no task that the crew may do",
    "no task in this season",
    "no day fit to spray",
    "held back by a share, a cap, a leader or money",
    "too few for a whole target",
    "no target left",
)


def new_state(ground: Any, plans: Any, years: int, slots: int, seedlings: int = FIRST_SEEDLINGS) -> Any:
    """Fresh working memory for one thread, large enough for any of the plans."""
    n, m = ground.cells.size, ground.hosts.size
    tasks = max((plan.tasks.size for plan in plans), default=0)
    crews = max((plan.crews.size for plan in plans), default=0)
    units = max(plan.unit_area.size for plan in plans)
    sources = ground.sources.shape[0]
    funds = max((plan.funds.size for plan in plans), default=0)
    longest = max(n, m, ground.shape[layout.N_BLOCKS], 4 * years, units + 1, sources, tasks, crews)
    state = layout.State(
        cells=np.zeros(n, layout.CELL),
        kinds=np.zeros(n, "u1"),
        expected=np.full(n, np.inf),
        cleared=np.zeros(n),
        push=np.zeros(n),
        waits=np.zeros(n, layout.WAIT),
        links=np.zeros(n, layout.LINK),
        heap_keys=np.zeros(n),
        stands=np.zeros(n, layout.STAND),
        pasts=np.zeros(n, layout.PAST),
        seen=np.zeros((slots, n), "u2"),
        care=np.zeros(n, layout.CARE),
        hosts=np.zeros(m, layout.HOST_STATE),
        seedlings=np.zeros(seedlings, layout.SEEDLING),
        lists=np.zeros((31, longest), "i8"),
        keys=np.zeros((max(n, m), 2)),
        books=np.zeros((8, max(units, crews, tasks, sources, funds))),
        count=np.zeros(layout.N_COUNTS, "i8"),
    )
    make_fresh(state)
    return state


def new_film(state: Any, years: int) -> Any:
    """Where one run writes what is seen after each season."""
    steps = 4 * years + 1
    return layout.Film(
        cover=np.zeros((steps, state.cells.size), "u1"),
        ground=np.zeros((steps, state.cells.size), "u1"),
        hosts=np.zeros((steps, state.hosts.size), "u1"),
        marks=np.zeros((steps, state.hosts.size), "u1"),
        area=np.zeros(steps),
        landings=np.zeros((state.seedlings.size, 6), "i8"),
        count=np.zeros(1, "i8"),
    )


def no_film() -> Any:
    """A film that nobody looks at."""
    nothing = np.zeros((0, 0), "u1")
    return layout.Film(nothing, nothing, nothing, nothing, np.zeros(0), np.zeros((0, 6), "i8"), np.zeros(1, "i8"))


def new_tally(plan: Any, years: int, cells: int, map_slot: Any, sums: Any, own_maps: bool, film: Any = None) -> Any:
    """Where one run writes; `sums` are map sums (cells, slots) that nobody else adds to meanwhile."""
    tasks, crews = plan.tasks.size, plan.crews.size
    return layout.Tally(
        yearly=np.zeros((years + 1, len(layout.OUTCOMES))),
        hours=np.zeros((years, 4, tasks, 2, crews)),
        amounts=np.zeros((years, 4, tasks, 3, 2)),
        available=np.zeros((years, 4, crews)),
        unspent=np.zeros((years, 4, len(REASONS))),
        funds=np.zeros((years + 1, plan.funds.size)),
        map_slot=map_slot,
        touched=np.zeros(years + 1, "i8"),
        sums=sums,
        cover=np.zeros((years + 1 if own_maps else 0, cells), "f4"),
        film=no_film() if film is None else film,
    )
