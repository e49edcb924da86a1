"""Replicate worlds run from the map through the work to the season of a new survey."""

from __future__ import annotations

import copy
import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np

from spreadsim.inputs import Crew, Experiment, Strategy
from spreadsim.model.compiled import layout, put_back
from spreadsim.model.kernels.film import FILM_STEPS, KNOWN, LOOKS_FRUITING
from spreadsim.model.memory import new_film, new_tally
from spreadsim.model.parameters import SOLVED, describe
from spreadsim.runs.engine import Engine
from spreadsim.runs.pool import Memories
from spreadsim.runs.simulate import world_of

Answer = TypeVar("Answer")
BARE, CLIMBING, FRUITING = range(3)


class World(NamedTuple):
    """One world at the time of the survey, before anybody worked in that season."""

    number: int
    cells: Any  # numbers of the cells with mat, in order
    cover: Any  # of the mat in them, m2/m2
    share: Any  # the same as a share of the greatest cover
    known: Any  # whether the steward knows of the mat in them
    hosts: Any  # BARE, CLIMBING or FRUITING; a fallen host, or one that was cut, is bare
    hosts_known: Any  # whether the steward knows of the vine on them
    scouting: Any  # numbers of the treatment scout in this world
    front_speed: float  # of the mat, m a year


class Worlds:
    """Runs worlds to a season.

    Parameters
    ----------
    experiment
        Whose site is the map.
    strategy
        The work that was done.
    seasons
        How many to run.
    numbers
        Of the replicates.
    done
        Share of the crews' hours that were worked.
    """

    def __init__(
        self, experiment: Experiment, strategy: Strategy, seasons: int, numbers: Sequence[int], done: float = 1.0
    ) -> None:
        self.seasons, self.numbers = seasons, list(numbers)
        whole = world_of(experiment, [strategy])
        crews = tuple(with_hours(crew, done) for crew in whole.crews)
        # from the map on, whatever the experiment begins from
        world = dataclasses.replace(whole, crews=crews, years=-(-seasons // 4), start=None)
        self.engine = Engine(world, experiment.seed, (), False)
        self._vines, self._rows, self.columns = self.engine.draw(numbers)
        self._scout = [treatment.name for treatment in world.treatments].index("scout")

    def others(self, numbers: Sequence[int], given: Mapping[str, Any]) -> Worlds:
        """Give other worlds of the same ground and work, some of their parameters given, see `Engine.draw`."""
        new = copy.copy(self)
        new.numbers = list(numbers)
        new._vines, new._rows, new.columns = self.engine.draw(new.numbers, given)
        return new

    def joined(self, more: Worlds) -> Worlds:
        """Give these worlds and others after them."""
        new = copy.copy(self)
        new.numbers = [*self.numbers, *more.numbers]
        new._vines = np.concatenate([self._vines, more._vines])
        new._rows = np.concatenate([self._rows, more._rows])
        new.columns = {
            name: np.concatenate([self.columns.get(name, column[:0]), column]) for name, column in more.columns.items()
        }
        return new

    def only(self, places: Sequence[int]) -> Worlds:
        """Give those at some places of the list."""
        new = copy.copy(self)
        new.numbers = [self.numbers[i] for i in places]
        new._vines, new._rows = self._vines[places], self._rows[places]
        new.columns = {name: column[places] for name, column in self.columns.items()}
        return new

    def drawn(self) -> dict[str, tuple[Any, dict[str, str]]]:
        """Give the parameters that differ between worlds, with what they are; solved ones follow from the others."""
        names = [name for name, values in self.columns.items() if np.ptp(values) > 0 and name not in SOLVED]
        about = describe(self.engine.world.vine, self.engine.world.treatments, names)
        return {name: (self.columns[name], about[name]) for name in names}

    def each(self, ask: Callable[[World], Answer], workers: int | None) -> Iterator[Answer]:
        """Run all worlds and ask each; answers come in the order of the numbers, whatever the number of threads."""
        if not self.numbers:
            return

        def one(i: int, state: Any) -> tuple[Answer, Any]:
            world, state = self._run(i, state)
            return ask(world), state

        yield from Memories(self.engine, workers, len(self.numbers)).each(range(len(self.numbers)), one)

    def _run(self, i: int, state: Any) -> tuple[World, Any]:
        engine, years, nothing = self.engine, self.engine.world.years, np.zeros((0, 0), "i8")
        vine, rows = self._vines[i : i + 1], self._rows[i]

        def empty(memory: Any) -> Any:
            return new_tally(engine.plans[0], years, 0, engine.map_slot, nothing, False, new_film(memory, years))

        tally, state, plan = engine.play(state, self.numbers[i], 0, vine, rows, empty)
        put_back(engine.ground, plan, state)
        film, step = tally.film, self.seasons
        cells = np.flatnonzero(film.cover[step])
        cover = film.cover[step][cells] / FILM_STEPS
        seen = film.hosts[step]
        hosts = np.where(seen == LOOKS_FRUITING, FRUITING, np.where(seen == layout.CLIMBING, CLIMBING, BARE))
        world = World(
            number=self.numbers[i],
            cells=cells,
            cover=cover,
            share=np.minimum(cover / float(vine[0]["max_cover"]), 1.0),
            known=film.ground[step][cells] & KNOWN > 0,
            hosts=hosts,
            hosts_known=film.marks[step] & KNOWN > 0,
            scouting=rows[self._scout],
            front_speed=float(vine[0]["front_speed"]),
        )
        return world, state


def with_hours(crew: Crew, share: float) -> Crew:
    """Give a crew that comes for a share of its hours."""
    if share == 1.0:
        return crew
    return Crew.from_dict(crew.to_dict() | {"hours": [hours * share for hours in crew.hours]})
