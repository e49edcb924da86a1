"""What outcomes don't hold and a board asks: where work begins in which unit, and what is left if money stops.

Both are run again in the first few of the worlds that the outcomes are of, so that they are comparable world by world.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from spreadsim.inputs import Crew, Experiment, Strategy
from spreadsim.inputs.strategy import NO_ACTION
from spreadsim.model.compiled import layout
from spreadsim.planning.worklist.listed import RANGE
from spreadsim.planning.worklist.place import LEAST_SHARE
from spreadsim.planning.worklist.snapshots import worlds
from spreadsim.planning.worklist.sums import Done, add_up
from spreadsim.planning.worklist.worked import Reader
from spreadsim.runs.engine import Engine
from spreadsim.runs.pool import Pool
from spreadsim.runs.rows import Rows
from spreadsim.runs.simulate import world_of

ENTRY_HOURS = 4.0  # half a day of one person: less in a year is a detour, unless a unit never takes that much
KINDS = ("stems", "mat")
YEARS = 3  # units that are not begun by then are left for now
SEASONS = 2  # whose work is told


@dataclass(frozen=True)
class Entry:
    """When one kind of work begins in a unit."""

    kind: str
    """"stems" or "mat"."""
    unit: int
    """0: ground in no unit."""
    year: int | None
    """The year by whose end it has begun in half of the worlds or more; None: not within the years looked at."""
    share: float
    """Of the worlds in which it has begun by the end of that year, or of the last one looked at."""


@dataclass(frozen=True)
class Work:
    """What a task takes in a unit in one of the first seasons; triples are (mean, low, high) over worlds."""

    season: int
    task: int
    unit: int | None
    """0: ground in no unit; None: all of the site."""
    hours: tuple[float, float, float]
    hosts: tuple[float, float, float]
    area: tuple[float, float, float]


@dataclass(frozen=True)
class Beginning:
    """The first years of a strategy by unit.

    Attributes
    ----------
    strategy : str
        Its name.
    years : int
        How many were looked at.
    worlds : int
        In how many.
    entries : tuple of Entry
        Of each kind of work that the strategy has, and each unit with ground.
    work : tuple of Work
        Of the first seasons, by season and task: of all of the site, then by unit.
    first : int
        The year at whose end the runs begin; 0: the map.
    """

    strategy: str
    years: int
    worlds: int
    entries: tuple[Entry, ...]
    work: tuple[Work, ...]
    first: int = 0


@dataclass(frozen=True)
class Stopped:
    """What is there some years after the paid crews stop coming.

    Attributes
    ----------
    after : int
        The last year in which they come.
    year : int
        At whose end is looked.
    crews : tuple of str
        Those that stop.
    staying : tuple of str
        Unpaid ones that go on.
    replicates : tuple of int
        Numbers of the worlds.
    fruiting, infested : dict
        By strategy, arrays by world: fruiting hosts; infested area, m2.
    """

    after: int
    year: int
    crews: tuple[str, ...]
    staying: tuple[str, ...]
    replicates: tuple[int, ...]
    fruiting: dict[str, Any]
    infested: dict[str, Any]


def beginning(
    experiment: Experiment, strategy: Strategy, replicates: Sequence[int], *, workers: int | None = None
) -> Beginning:
    """Run the first years of a strategy again and note by unit what is worked when.

    Parameters
    ----------
    experiment
        With the seed of the outcomes.
    strategy
        One with tasks.
    replicates
        Numbers of the worlds.
    workers
        Threads; None: one per core. The answer does not depend on it.

    Returns
    -------
    Beginning
        A kind of work begins in a unit in the first year in which it takes `ENTRY_HOURS` there, or half of what it
        takes in its largest year if that is less; looking for vine does not count.
    """
    years = min(YEARS, experiment.years - experiment.first_year)
    reader = Reader(experiment, strategy)
    runs = worlds(experiment, strategy, 4 * years, replicates, workers)
    done = add_up(reader, runs, len(replicates), 4 * years, len(experiment.crews))
    hours = done.by_unit.sum(axis=3).reshape(len(replicates), years, 4, len(strategy.tasks), -1).sum(axis=2)
    return Beginning(
        strategy.name,
        years,
        len(replicates),
        tuple(_entries(reader, hours, experiment.first_year)),
        tuple(_first_work(reader, done)),
        experiment.first_year,
    )


def if_money_stops(
    experiment: Experiment,
    replicates: Sequence[int],
    *,
    after: int | None = None,
    later: int = 5,
    workers: int | None = None,
) -> Stopped | None:
    """Run every strategy with work again, with the paid crews gone after some years.

    Parameters
    ----------
    experiment
        With the seed of the outcomes.
    replicates
        Numbers of the worlds.
    after
        The last year in which paid crews come; None: the third from the start.
    later
        So many years after it is looked, or at the experiment's end if that is sooner.
    workers
        Threads; None: one per core.

    Returns
    -------
    Stopped or None
        Where nobody is paid, all crews stop; None where nobody works at all or the experiment ends before.
    """
    after = experiment.first_year + 3 if after is None else after
    year = min(after + later, experiment.years)
    working = [strategy for strategy in experiment.strategies if strategy.tasks]
    if not working or not experiment.crews or year <= after:
        return None
    paid = tuple(crew.name for crew in experiment.crews if crew.paid) or tuple(crew.name for crew in experiment.crews)
    crews = [_until(crew, after) if crew.name in paid else crew for crew in experiment.crews]
    world = world_of(replace(experiment, crews=tuple(crews)), working)
    engine = Engine(world, experiment.seed, (), False)
    engine.plans = [_ending_with(plan, year) for plan in engine.plans]
    yearly = Pool(engine, Rows(engine, replicates), workers).run(replicates, lambda done: None).yearly
    fruiting, infested = (
        {strategy.name: yearly[s, :, year, layout.OUTCOMES.index(name)] for s, strategy in enumerate(working)}
        for name in ("fruiting_hosts", "infested_area")
    )
    staying = tuple(crew.name for crew in experiment.crews if crew.name not in paid)
    return Stopped(after, year, paid, staying, tuple(replicates), fruiting, infested)


def has_work(experiment: Experiment, name: str) -> Strategy | None:
    """Give the strategy of that name if it has tasks."""
    found = (one for one in experiment.strategies if one.name == name and one.name != NO_ACTION and one.tasks)
    return next(found, None)


def _entries(reader: Reader, hours: Any, first: int) -> list[Entry]:
    """From hours by (world, year, task, unit), of the years after the first."""
    found = []
    for kind in KINDS:
        tasks = [t for t, one in enumerate(reader.kinds) if one == kind]
        if not tasks:
            continue
        spent = hours[:, :, tasks].sum(axis=2)  # (world, year, unit)
        least = np.minimum(ENTRY_HOURS, 0.5 * spent.max(axis=1, keepdims=True))
        begun = np.maximum.accumulate((spent > 0) & (spent >= least), axis=1).mean(axis=0)
        for unit in np.flatnonzero(reader.unit_area > 0).tolist():
            years = np.flatnonzero(begun[:, unit] >= 0.5)
            at = int(years[0]) if years.size else None
            share = float(begun[-1 if at is None else at, unit])
            found.append(Entry(kind, unit, None if at is None else first + at + 1, share))
    return found


def _first_work(reader: Reader, done: Done) -> list[Work]:
    lines = []
    for s in range(min(SEASONS, done.hours.shape[1])):
        for t in range(len(reader.tasks)):
            hours, hosts, area = done.by_unit[:, s, t].sum(axis=1), done.hosts[:, s, t], done.area[:, s, t]
            if (hours.sum(axis=1) > 0).mean() < LEAST_SHARE:
                continue
            lines.append(Work(s, t, None, *(_spread(table.sum(axis=1)) for table in (hours, hosts, area))))
            for unit in np.flatnonzero((hours > 0).mean(axis=0) >= LEAST_SHARE).tolist():
                lines.append(Work(s, t, unit, *(_spread(table[:, unit]) for table in (hours, hosts, area))))
    return lines


def _spread(values: Any) -> tuple[float, float, float]:
    """Give mean, low and high over worlds: means, as in all other tables of the brief."""
    low, high = np.quantile(values, RANGE)
    return float(np.mean(values)), float(low), float(high)


def _ending_with(plan: Any, year: int) -> Any:
    """Give a plan that ends with a year; tasks and funds of later years stay, as they are keyed by their place."""
    switches = plan.switches.copy()
    switches[layout.END_YEAR] = year
    return plan._replace(switches=switches)


def _until(crew: Crew, last: int) -> Crew:
    """Give a crew that comes no more after a year."""
    first, end = crew.years or (1, None)
    plain = crew.to_dict()
    if first > last:
        return Crew.from_dict(plain | {"hours": [0.0] * 4})
    return Crew.from_dict(plain | {"years": [first, last if end is None else min(end, last)]})
