"""The film: what is seen after each season, copied for pictures and the class page; nothing is changed by looking."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import CLIMBING, N_SEEDLINGS, N_TOUCHED
from spreadsim.model.kernels.mat import cover

# cover is kept in 1/250: 0 is none, and the least mat that there is counts as 1
FILM_STEPS = 250.0
# marks of a cell or host in a season
KNOWN, WORKED, FOUND, BORE = 1, 2, 4, 8
# what a host looks like: FALLEN and CUT_BASE as in layout, and a climbed one that bears
LOOKS_FRUITING = 4
# what became of a seed that landed; columns of Film.landings
WAITING, ROOTED, KILLED, NO_ROOM = range(4)
SHED_IN, LANDED_AT, CAME_FROM, BY_BIRD, FATE, FATE_IN = range(6)


@inner
def look(ground: Any, state: Any, vine: Any, film: Any, step: Any, now: Any) -> None:
    """Copy the state after so many seasons (0: the start)."""
    if film.cover.shape[0] == 0:
        return
    total = 0.0
    for i in range(state.count[N_TOUCHED]):
        stand = state.stands[i]
        c = stand.cell
        thick = 0.0
        mark = 0
        if stand.infested:
            thick = cover(ground, state, vine, c, now)
            total += thick * stand.area
            if thick > 0.0:
                film.cover[step, c] = max(1, int(thick * FILM_STEPS + 0.5))
            if stand.known:
                mark = KNOWN
        if step > 0 and state.care[c].worked == step:
            mark |= WORKED
        film.ground[step, c] = mark
    film.area[step] = total
    _look_at_hosts(state, film, step, now)
    _follow_seeds(state, film, step)


@inner
def _look_at_hosts(state: Any, film: Any, step: Any, now: Any) -> None:
    year = (step + 3) // 4
    for j in range(state.hosts.size):
        host = state.hosts[j]
        seen = host.state
        bears = host.fruited_when_mapped == 1 if step == 0 else host.fruit <= now
        if seen == CLIMBING and bears:
            seen = LOOKS_FRUITING
        mark = KNOWN if host.known else 0
        if step > 0 and host.season == step:
            mark |= WORKED
        bore = host.fruited_when_mapped == 1 and host.state == CLIMBING if step == 0 else host.bore == year
        if bore:
            mark |= BORE
        film.hosts[step, j] = seen
        film.marks[step, j] = mark


@inner
def _follow_seeds(state: Any, film: Any, step: Any) -> None:
    """Enter seeds shed since the last look, and what became of those that were waiting."""
    for i in range(state.count[N_SEEDLINGS]):
        seedling = state.seedlings[i]
        seed = film.landings[i]
        if i >= film.count[0]:
            seed[SHED_IN] = seedling.shed
            seed[LANDED_AT] = seedling.cell
            seed[CAME_FROM] = seedling.entity
            seed[BY_BIRD] = seedling.by_bird
            seed[FATE] = WAITING
            seed[FATE_IN] = -1
        if seed[FATE] == WAITING and not seedling.alive:
            worked = state.care[seedling.cell].worked == step
            seed[FATE] = ROOTED if seedling.rooted else (KILLED if worked else NO_ROOM)
            seed[FATE_IN] = step - 1
    film.count[0] = state.count[N_SEEDLINGS]
