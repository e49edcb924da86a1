"""The work list of the coming seasons: hours by season, unit, task and crew, and the places in their order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.analysis.needs import require
from spreadsim.errors import InputError, show
from spreadsim.inputs import Crew, Experiment, Strategy, Task
from spreadsim.inputs.hosts import STATES
from spreadsim.planning.worklist.snapshots import worlds
from spreadsim.planning.worklist.sums import Done, PlaceSums, add_up
from spreadsim.planning.worklist.worked import Reader
from spreadsim.runs.simulate import check_workers, replicate_numbers
from spreadsim.schema import SEASONS

MOST_SEASONS = 12
LEAST_SHARE = 0.2  # a place that fewer worlds came to is not listed
PLANNED = 0.5  # one that at least so many came to is planned; the others are for when hours are left
RANGE = (0.05, 0.95)  # of the worlds
HOST, GROUND, SEARCH = "host", "ground", "whole unit"


@dataclass(frozen=True)
class Line:
    """What a task asks of a unit in a season; triples are (median, low, high) over worlds."""

    season: int
    """From 0, winter of year 1."""
    unit: int
    """0: ground in no unit."""
    task: int
    hours: dict[str, tuple[float, float, float]]
    """By crew; those that leave hours there in no world are left out."""
    hosts: tuple[float, float, float]
    area: tuple[float, float, float]
    """Ground gone to, m2."""


@dataclass(frozen=True)
class Place:
    """A host, a piece of ground or a unit to search, in a season."""

    season: int
    unit: int
    task: int
    order: int
    """From 1, within season and task."""
    kind: str
    label: str
    """H12 is host 12 of the site's list, from 0; G3 a piece of ground, numbered in the whole list; U2 all of unit 2."""
    x: float
    y: float
    """m from the south-west corner of the site."""
    share: float
    """Of the worlds in which the task came to it; of a piece of ground the mean of its cells."""
    visit: bool
    """Whether it is a follow-up visit in most of them."""
    hours: float
    """Of all crews, where the task came to it."""
    treatments: tuple[str, ...]
    """What was done to it, the commonest first; for ground what the task may use."""
    about: str
    area: float
    """m2; 0 for a host."""
    cells: Any
    """Numbers of its cells; none for a host."""

    @property
    def planned(self) -> bool:
        """Whether it belongs to the plan, and is not only for when hours are left."""
        return self.share >= PLANNED


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

    def season_name(self, season: int) -> str:
        """Say which season it is: "winter of year 1"."""
        return f"{SEASONS[season % 4]} of year {season // 4 + 1}"

    def unit_name(self, unit: int) -> str:
        """Say which unit it is."""
        names = self.experiment.site.unit_names
        if unit:
            return names[unit - 1]
        return "outside the units" if names else "the whole site"

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
        What is known now: its site is as mapped, and the first season is winter of year 1.
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
        experiment = Experiment.from_dict(experiment.to_dict() | {"seed": seed}, experiment.site)
    reader = Reader(experiment, chosen)
    runs = worlds(experiment, chosen, seasons, numbers, workers)
    done = add_up(reader, runs, len(numbers), seasons, len(experiment.crews))
    places = list(_places(experiment, chosen, reader, done, len(numbers), seasons))
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
    most = min(MOST_SEASONS, 4 * experiment.years)
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


def _places(
    experiment: Experiment, strategy: Strategy, reader: Reader, done: Done, count: int, seasons: int
) -> Iterator[Place]:
    """Places of all seasons; pieces of ground are numbered through."""
    number = 0
    for s in range(seasons):
        for t, task in enumerate(strategy.tasks):
            sums = done.places.get((s, t))
            if sums is None:
                yield from _searches(reader, done, s, t)
            elif reader.kinds[t] == "stems":
                yield from _hosts(experiment, reader, done.treatments, sums, count, s, t)
            else:
                pieces = _pieces(reader, task, sums, count, s, t, number)
                number += len(pieces)
                yield from pieces


def _hosts(
    experiment: Experiment, reader: Reader, names: Sequence[str], sums: PlaceSums, count: int, s: int, t: int
) -> Iterator[Place]:
    hosts = experiment.site.hosts
    share = sums.count / count
    chosen = np.flatnonzero(share >= LEAST_SHARE)
    bears = hosts.state[chosen] != 2
    chosen = chosen[np.lexsort((chosen, bears, -share[chosen]))]
    for order, j in enumerate(chosen.tolist(), start=1):
        given = sorted(sums.treatments, key=lambda row: -int(sums.treatments[row][j]))
        used = tuple(names[row] for row in given if sums.treatments[row][j] > 0)
        about = f"{hosts.girth[j]} {hosts.kind[j]}, {STATES[hosts.state[j]]} now"
        if hosts.state[j] and not hosts.known[j]:
            about = f"{hosts.girth[j]} {hosts.kind[j]}, vine to be found first"
        yield Place(
            season=s,
            unit=int(reader.unit[hosts.cell[j]]),
            task=t,
            order=order,
            kind=HOST,
            label=f"H{j}",
            x=float(hosts.x[j]),
            y=float(hosts.y[j]),
            share=float(share[j]),
            visit=bool(sums.visits[j] > sums.count[j] / 2),
            hours=float(sums.hours[j] / sums.count[j]),
            treatments=used or (reader.tasks[t].treatment,),
            about=about,
            area=0.0,
            cells=np.zeros(0, "i8"),
        )


def _pieces(reader: Reader, task: Task, sums: PlaceSums, count: int, s: int, t: int, first: int) -> list[Place]:
    """Cells side by side in one unit, planned ones apart from those for when hours are left."""
    from scipy.ndimage import label

    site = reader.site
    share = (sums.count / count).reshape(site.ny, site.nx)
    unit = reader.unit.reshape(site.ny, site.nx)
    found = []
    for low, high in ((PLANNED, np.inf), (LEAST_SHARE, PLANNED)):
        wanted = (share >= low) & (share < high)
        for u in np.unique(unit[wanted]).tolist():
            marks, pieces = label(wanted & (unit == u), structure=np.ones((3, 3)))
            order = np.argsort(marks, axis=None, kind="stable")
            bounds = np.searchsorted(marks.ravel()[order], np.arange(1, pieces + 2))
            found += [order[bounds[k] : bounds[k + 1]] for k in range(pieces)]
    found.sort(key=lambda cells: (sums.count[cells].mean() < PLANNED * count, -sums.count[cells].mean(), cells[0]))
    names = tuple(name for name in (task.treatment, task.instead) if name)
    following = task.follow_up.treatment if task.follow_up else None
    places = []
    for place, cells in enumerate(found, start=1):
        visit = bool(sums.visits[cells].sum() > sums.count[cells].sum() / 2)
        row, column = np.divmod(cells, site.nx)
        middle = int(np.argmin((row - row.mean()) ** 2 + (column - column.mean()) ** 2))  # on the piece, not beside it
        places.append(
            Place(
                season=s,
                unit=int(reader.unit[cells[0]]),
                task=t,
                order=place,
                kind=GROUND,
                label=f"G{first + place}",
                x=float((column[middle] + 0.5) * site.cell_size),
                y=float((site.ny - row[middle] - 0.5) * site.cell_size),
                share=float(sums.count[cells].mean() / count),
                visit=visit,
                hours=float((sums.hours[cells] / sums.count[cells]).sum()),
                treatments=(following,) if visit and following else names,
                about=_about_ground(site, cells),
                area=float(reader.area[cells].sum()),
                cells=cells,
            )
        )
    return places


def _about_ground(site: Any, cells: Any) -> str:
    sensitive = float(site.sensitive.ravel()[cells].mean())
    told = f"mat, cover {float(site.mat.ravel()[cells].mean()):.0%} now".replace("%", " %")
    if sensitive == 1:
        return f"{told}; no herbicide here"
    return f"{told}; no herbicide on part of it, see the map" if sensitive > 0 else told


def _searches(reader: Reader, done: Done, s: int, t: int) -> Iterator[Place]:
    """Units that are gone through as a whole, for looking; owners who are asked."""
    total = done.by_unit[:, s, t].sum(axis=1)  # (worlds, units + 1)
    share = (total > 0).mean(axis=0)
    number = 0
    for unit in np.flatnonzero(share >= LEAST_SHARE).tolist():
        cells = np.flatnonzero((reader.unit == unit) & (reader.area > 0))
        asked = reader.kinds[t] == "sources"
        if not cells.size and not asked:
            continue
        number += 1
        site = reader.site
        middle = int(cells[cells.size // 2]) if cells.size else 0
        name = site.unit_names[unit - 1] if unit else "the ground in no unit" if site.unit_names else "the site"
        yield Place(
            season=s,
            unit=unit,
            task=t,
            order=number,
            kind=SEARCH,
            label=f"U{unit}",
            x=(middle % site.nx + 0.5) * site.cell_size,
            y=(site.ny - middle // site.nx - 0.5) * site.cell_size,
            share=float(share[unit]),
            visit=False,
            hours=float(np.median(total[:, unit])),
            treatments=(reader.tasks[t].treatment,),
            about="owners of planted vine beyond the boundary" if asked else f"all of {name}: look, mark, write down",
            area=0.0 if asked else float(reader.area[cells].sum()),
            cells=np.zeros(0, "i8"),
        )
