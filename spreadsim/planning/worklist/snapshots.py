"""Worlds season by season: which task worked which cell and host, read from the state that a run ends in."""

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs import Experiment, Strategy
from spreadsim.model.compiled import layout, put_back
from spreadsim.model.kernels.film import FILM_STEPS
from spreadsim.model.memory import new_film, new_tally
from spreadsim.runs.engine import Engine
from spreadsim.runs.pool import Memories
from spreadsim.runs.simulate import world_of


class Care(NamedTuple):
    """Who has what open after a season."""

    cells: Any  # task by cell, -1 for none
    hosts: Any  # task by host, -1 for none
    due: Any  # season of a host's next visit, -1 for none
    planted: Any  # whether natives were planted, by cell


class Snapshot(NamedTuple):
    """One world after one season."""

    before: Care
    after: Care
    worked: Any  # cells that were visited in the season
    treated: Any  # bits of the treatments that each host got in the season
    cover: Any  # of the mat before the season, as a share of the greatest, by cell
    hours: Any  # (tasks, new or follow-up, crews)
    amounts: Any  # (tasks, own or follow-up's or instead, m2 or hosts)
    rows: Any  # numbers of the treatments in this world
    treatments: tuple[str, ...]  # their names, by row


def worlds(
    experiment: Experiment, strategy: Strategy, seasons: int, numbers: Sequence[int], workers: int | None
) -> Iterator[list[Snapshot]]:
    """Run each world as often as there are seasons, each time with no work after one of them.

    A run ends with what every cell and host was last given, so that it tells of its last season of work. As draws are
    keyed by what they decide, the seasons before are the same bits in all of them, and in `compare`.

    Yields
    ------
    list of Snapshot
        Of one world, by season; worlds in the order of their numbers, whatever the number of threads.
    """
    engine = Engine(world_of(experiment, [strategy]), experiment.seed, (), False)
    vines, rows, _ = engine.draw(numbers)

    def one(i: int, state: Any) -> tuple[list[Snapshot], Any]:
        return _world(engine, numbers[i], vines[i : i + 1], rows[i], seasons, state)

    yield from Memories(engine, workers, len(numbers)).each(range(len(numbers)), one)


def _world(engine: Engine, number: int, vine: Any, rows: Any, seasons: int, state: Any) -> tuple[list[Snapshot], Any]:
    cells, hosts = engine.ground.cells.size, engine.ground.hosts.size
    first = 4 * engine.world.first_year
    nothing = np.full(hosts, -1, "i8")
    care = Care(np.full(cells, -1, "i4"), nothing, nothing, np.zeros(cells, bool))
    if first:  # visits that are due from before
        _, ended, plan = _run(engine, number, _until(engine.plans[0], first - 1), state, vine, rows)
        care = _care(ended)
        put_back(engine.ground, plan, ended)
        state = ended
    names = tuple(treatment.name for treatment in engine.world.treatments)
    shots = []
    for season in range(first, first + seasons):
        tally, ended, plan = _run(engine, number, _until(engine.plans[0], season), state, vine, rows)
        after = _care(ended)
        cover = tally.film.cover[season] / FILM_STEPS / float(vine[0]["max_cover"])
        shots.append(
            Snapshot(
                before=care,
                after=after,
                worked=np.flatnonzero(ended.care["worked"] == season + 1),
                treated=np.where(ended.hosts["season"] == season + 1, ended.hosts["done"], 0),
                cover=np.minimum(cover, 1.0),
                hours=tally.hours[season // 4, season % 4].copy(),
                amounts=tally.amounts[season // 4, season % 4].copy(),
                rows=rows,
                treatments=names,
            )
        )
        put_back(engine.ground, plan, ended)
        care, state = after, ended
    return shots, state


def _until(plan: Any, season: int) -> Any:
    """Give a plan after whose season no crew comes any more, and which ends with that season's year."""
    crews, switches = plan.crews.copy(), plan.switches.copy()
    crews["last_season"] = np.minimum(crews["last_season"], season)
    switches[layout.END_YEAR] = season // 4 + 1
    return plan._replace(crews=crews, switches=switches)


def _run(engine: Engine, number: int, plan: Any, state: Any, vine: Any, rows: Any) -> tuple[Any, Any, Any]:
    """One run; what happened, the state as it ended, and the plan to put it back by."""
    years, nothing = engine.world.years, np.zeros((0, 0), "i8")

    def empty(state: Any) -> Any:
        return new_tally(plan, years, 0, engine.map_slot, nothing, False, new_film(state, end))

    end = int(plan.switches[layout.END_YEAR])
    return engine.play(state, number, 0, vine, rows, empty, plan)


def _care(state: Any) -> Care:
    due = np.full(state.hosts.size, -1, "i8")
    count = int(state.count[layout.N_OPENED_HOSTS])
    due[state.lists[layout.OPENED_HOSTS, :count]] = state.lists[layout.OPENED_HOSTS_WHEN, :count] >> 16
    return Care(state.care["task"].copy(), state.hosts["task"].copy(), due, state.cells["planted"] == 1)
