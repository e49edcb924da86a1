"""The work list of the coming seasons: hours by season, unit, task and crew, and the places in their order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from spreadsim.analysis.needs import require
from spreadsim.errors import InputError, show
from spreadsim.inputs import Crew, Experiment, Site, Strategy
from spreadsim.inputs.start_site import site_as_known
from spreadsim.planning.worklist.place import LEAST_SHARE, Place
from spreadsim.planning.worklist.placing import places_of
from spreadsim.planning.worklist.snapshots import worlds
from spreadsim.planning.worklist.sums import Done, add_up
from spreadsim.planning.worklist.worked import Reader
from spreadsim.runs.simulate import check_workers, replicate_numbers
from spreadsim.schema import SEASONS

MOST_SEASONS = 12
RANGE = (0.05, 0.95)  # of the worlds


@dataclass(frozen=True)
class Line:
    """What a task asks of a unit in a season; triples are (median, low, high) over worlds."""

    season: int
    """From 0, the first winter of the list."""
    unit: int
    """0: ground in no unit."""
    task: int
    hours: dict[str, tuple[float, float, float]]
    """By crew; those that leave hours there in no world are left out."""
    hosts: tuple[float, float, float]
    area: tuple[float, float, float]
    """Ground gone to, m2."""


@dataclass(frozen=True)
class WorkList:
    """A work list.

    Attributes
    ----------
    experiment, strategy
        What was run.
    seasons : int
        How many, from the first.
    replicates : tuple of int
        Numbers of the worlds.
    lines : list of Line
        By season, task and unit.
    places : list of Place
        By season and task, in the order of work.
    crew_hours : array (worlds, seasons, tasks, crews)
        What the simulation spent.
    done : Done
        All that is summed up.
    """

    experiment: Experiment
    strategy: Strategy
    seasons: int
    replicates: tuple[int, ...]
    lines: list[Line]
    places: list[Place]
    crew_hours: Any
    done: Done

    @cached_property
    def site(self) -> Site:
        """The site as it is known now: the map, with what a survey saw since."""
        return site_as_known(self.experiment)

    def season_name(self, season: int) -> str:
        """Say which season it is: "winter of year 1"."""
        return f"{SEASONS[season % 4]} of year {self.year(season)}"

    def year(self, season: int) -> int:
        """Give the year of a season of the list; years count from the map."""
        return self.experiment.first_year + season // 4 + 1

    def unit_name(self, unit: int) -> str:
        """Say which unit it is."""
        names = self.experiment.site.unit_names
        if unit:
            return names[unit - 1]
        return "outside the units" if names else "the whole site"

    def planned_hours(self, season: int, crew: int) -> float:
        """Hours that a crew plans for a season, whatever its turnout; 0 where it can't come."""
        one = self.experiment.crews[crew]
        first, last = one.years or (1, None)
        whole = 4 * self.experiment.first_year + season
        there = first <= self.year(season) <= (last or self.experiment.years) and whole >= one.lead_seasons
        return one.hours[season % 4] if there else 0.0

    @property
    def origin(self) -> str:
        """Say which worlds the list is made from, and what its numbers are."""
        first = self.experiment.first_year
        known = f"it was learned to be at the end of year {first}" if first else "it is mapped now"
        return (
            f"Made from all {len(self.replicates):,} simulated worlds of the site as {known}, none of them "
            "picked out. Hours are what crews spent in them, on the way and leading others included: the median, and "
            "the range of nine worlds in ten. A place is planned if the task came to it in at least half of the "
            "worlds; one that fewer came to, but a fifth at least, is for when hours are left."
        )

    def total(self, season: int, crew: int) -> tuple[float, float, float]:
        """Hours of a crew in a season, all tasks: median, low, high."""
        return spread(self.crew_hours[:, season, :, crew].sum(axis=1))


def work_list(
    experiment: Experiment,
    strategy: str,
    *,
    seasons: int = 2,
    replicates: int | Sequence[int] | None = None,
    seed: int | None = None,
    workers: int | None = None,
) -> WorkList:
    """Make the work list of the coming seasons from what a strategy did in them, over many worlds.

    Parameters
    ----------
    experiment
        What is known now: its site is as mapped and the first season is winter of year 1, unless
        it begins from a learned state.
    strategy
        Name of the strategy chosen.
    seasons
        How many seasons, 1 to 12.
    replicates
        A number or the numbers wanted; None: the experiment's, 200 at most.
    seed
        None: the experiment's.
    workers
        Threads; None: one per core. The list does not depend on it.

    Returns
    -------
    WorkList
        Hours by task and crew are what the simulation spent, world by world; within a task they are shared out over
        its places by what the treatments take there. A place stands in the order of how many worlds came to it: tasks
        go down their own order until the hours are used up, so that this is the task's order where worlds agree.

    Raises
    ------
    InputError
        A strategy that is not there or has no tasks, a number of seasons that can't be.
    """
    chosen = _chosen(experiment, strategy, seasons)
    require("scipy")
    check_workers(workers)
    numbers = replicate_numbers(min(experiment.replicates, 200) if replicates is None else replicates)
    if seed is not None:
        experiment = replace(experiment, seed=seed)
    reader = Reader(experiment, chosen)
    runs = worlds(experiment, chosen, seasons, numbers, workers)
    done = add_up(reader, runs, len(numbers), seasons, len(experiment.crews))
    places = list(places_of(reader, done, len(numbers), seasons))
    lines = list(_lines(experiment.crews, chosen, done, seasons))
    hours = done.hours.sum(axis=3)
    return WorkList(experiment, chosen, seasons, tuple(numbers), lines, places, hours, done)


def spread(values: Any) -> tuple[float, float, float]:
    """Give median, low and high over worlds."""
    low, middle, high = np.quantile(values, [RANGE[0], 0.5, RANGE[1]])
    return float(middle), float(low), float(high)


def _chosen(experiment: Experiment, name: str, seasons: int) -> Strategy:
    problems = []
    by_name = {strategy.name: strategy for strategy in experiment.strategies if strategy.tasks}
    if name not in by_name:
        problems.append(f"strategy: found {show(name)}, allowed one with tasks: {', '.join(map(show, by_name))}")
    most = min(MOST_SEASONS, 4 * (experiment.years - experiment.first_year))
    if isinstance(seasons, bool) or not isinstance(seasons, int) or not 1 <= seasons <= most:
        problems.append(f"seasons: found {show(seasons)}, allowed 1 to {most}")
    if problems:
        raise InputError(*problems)
    return by_name[name]


def _lines(crews: Sequence[Crew], strategy: Strategy, done: Done, seasons: int) -> Iterator[Line]:
    for s in range(seasons):
        for t in range(len(strategy.tasks)):
            for unit in range(done.by_unit.shape[-1]):
                table = done.by_unit[:, s, t, :, unit]
                if (table.sum(axis=1) > 0).mean() < LEAST_SHARE:
                    continue
                hours = {crew.name: spread(table[:, k]) for k, crew in enumerate(crews) if (table[:, k] > 0).any()}
                yield Line(s, unit, t, hours, spread(done.hosts[:, s, t, unit]), spread(done.area[:, s, t, unit]))
