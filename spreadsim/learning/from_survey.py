"""What a new survey says about an experiment's parameters, and about where its vine stands today."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from spreadsim.analysis.needs import require
from spreadsim.errors import InputError, Said, one_of, show
from spreadsim.inputs import NO_ACTION, Experiment, Strategy, Survey, read_survey
from spreadsim.inputs.checks import Check
from spreadsim.inputs.survey_places import grounds_of
from spreadsim.learning.findings import Findings, findings_of
from spreadsim.learning.fit import fit_of
from spreadsim.learning.labelled import Learned, labelled
from spreadsim.learning.looked import Looked, look
from spreadsim.learning.measure import Area, Count, Measure, Missed
from spreadsim.learning.ranges import ranges_of
from spreadsim.learning.seasons import Between, between
from spreadsim.learning.today import see, today
from spreadsim.learning.weights import weigh
from spreadsim.learning.worlds import World, Worlds
from spreadsim.learning.zones import Zones
from spreadsim.runs.simulate import check_workers, replicate_numbers

REPLICATES = 2000
LEAST_REPLICATES = 20


class Task(NamedTuple):
    """What is to be learned from."""

    experiment: Experiment
    strategy: Strategy
    between: Between
    looked: Looked
    findings: Findings
    zones: Zones
    remarks: tuple[str, ...]


class _Asked(NamedTuple):
    """What one world says of the survey."""

    log_likelihood: list[float]
    below: list[float]
    drawn: list[float]
    drawn_log_likelihood: list[float]
    missed: Missed


def learn(
    experiment: Experiment,
    survey: Survey | str | Path,
    *,
    strategy: str | None = None,
    done: float = 1.0,
    since: date | str | None = None,
    on: date | str | None = None,
    everywhere: bool = False,
    hours_per_hectare: float | None = None,
    replicates: int | Iterable[int] = REPLICATES,
    seed: int | None = None,
    workers: int | None = None,
    progress: Any = False,
) -> xr.Dataset:
    """Learn from a new survey: weigh the worlds of an experiment by how well they explain what was found.

    Worlds run from the map (the experiment's site) through the work to the season of the survey. For each number that
    the survey gives, the chance of every value in a world follows from what is there, from where and how long people
    looked, and from the model's own chance of finding; a world's weight is the chance of what was really found. No
    tolerance is needed, as for counts that chance is known exactly; areas have the error of people's outlines, which
    makes them exact under that error (Wilkinson 2013, Stat. Appl. Genet. Mol. Biol. 12:129).

    Parameters
    ----------
    experiment
        Its site is the map of the first survey, its parameters' ranges are what was thought before.
    survey
        The new one, or its file. Ground where nobody looked stays unknown.
    strategy
        Name of the strategy that stands for the work that was done; may be left out where there is only one.
    done
        Share of the crews' hours that were worked, 0 to 2.
    since
        Date of the map, where the site names no survey with dates.
    on
        Date of the new survey, where its records have none.
    everywhere
        Whether visits that name neither a unit nor plots went over the whole site.
    hours_per_hectare
        How long people looked on visits that say an area alone.
    replicates
        Worlds, or their numbers; at least 20.
    seed
        None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    progress
        A function that is told how many worlds of how many are run; or False.

    Returns
    -------
    xarray.Dataset
        ``weight`` (replicate); ``range_before``, ``range_after`` and the error that few worlds make,
        ``range_error`` (parameter, level), with ``learned`` (parameter) where the move is more than chance;
        ``observed``, ``predicted_before``, ``predicted_after``, ``chance_before``, ``chance_after`` (statistic);
        ``mat_before``, ``mat_now``, ``unknown_mat``, ``looked`` (y, x); hosts likewise (host). Attributes:
        ``effective_worlds``, ``pareto_k``, ``power`` (below 1 where the survey could not be taken in full),
        ``fit`` and ``warnings``.

    Raises
    ------
    InputError
        All that is wrong: a survey of another site, before the map, absences without hours, hosts that are not there.
    """
    require("scipy")
    require("arviz_stats")
    task, numbers = _task(
        experiment, survey, strategy, done, since, on, everywhere, hours_per_hectare, replicates, seed, workers
    )
    worlds = Worlds(task.experiment, task.strategy, task.between.seasons, numbers, float(done))
    measure = Measure(experiment.site, task.zones, task.looked.effort)
    statistics = task.findings.statistics
    key = task.experiment.seed

    def ask(world: World) -> _Asked:
        chances = measure.chances(world)
        given = measure.statistics(world, chances, statistics)
        observed = [statistic.observed for statistic in statistics]
        return _ask(given, observed, measure.missed(world, chances), [key, world.number])

    asked = []
    for answer in worlds.each(ask, workers):
        asked.append(answer)
        _tell(progress, len(asked), 2 * len(numbers))
    shape = (len(numbers), len(statistics))
    table = {name: np.array([getattr(one, name) for one in asked]).reshape(shape).T for name in _Asked._fields[:4]}
    weights = weigh(table["log_likelihood"].sum(axis=0))
    drawn = worlds.drawn()
    values = np.array([column for column, _ in drawn.values()]).reshape(len(drawn), len(numbers))
    ranges = ranges_of(values, weights.values, weights.effective, key)
    fit = fit_of(table["below"], table["drawn"], table["drawn_log_likelihood"], table["log_likelihood"], weights.values)
    seen = _counted(worlds.each(lambda world: see(world, measure), workers), progress, len(numbers))
    site = experiment.site
    maps = today(seen, weights.values, task.findings, site.ny * site.nx, len(site.hosts))
    missed = np.array([one.missed for one in asked])
    return labelled(
        Learned(task.experiment, task.strategy.name, float(done), task.between, task.looked, task.findings, numbers,
                drawn, table["log_likelihood"], weights, ranges, fit, maps, missed, task.remarks)
    )  # fmt: skip


def _ask(given: Sequence[Count | Area], observed: Sequence[float], missed: Missed, key: Sequence[int]) -> _Asked:
    """Hold what a world gives against what was found, and invent one survey of it; its luck is that of its number."""
    luck = np.random.Generator(np.random.PCG64(key)).random(len(given)).tolist()
    drawn = [one.draw(u) for one, u in zip(given, luck, strict=True)]
    both = list(zip(given, observed, strict=True))
    return _Asked(
        [one.log_likelihood(value) for one, value in both],
        [one.below(value) for one, value in both],
        drawn,
        [one.log_likelihood(value) for one, value in zip(given, drawn, strict=True)],
        missed,
    )


def _counted(seen: Iterable[Any], progress: Any, count: int) -> Iterable[Any]:
    for done, one in enumerate(seen, 1):
        _tell(progress, count + done, 2 * count)
        yield one


def _tell(progress: Any, done: int, total: int) -> None:
    if progress:
        progress(done, total)


def _task(
    experiment: Experiment,
    survey: Survey | str | Path,
    strategy: str | None,
    done: float,
    since: object,
    on: object,
    everywhere: bool,
    hours_per_hectare: float | None,
    replicates: int | Iterable[int],
    seed: int | None,
    workers: int | None,
) -> tuple[Task, list[int]]:
    """Check all that is given, and put it together."""
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {show(experiment)}, allowed an Experiment, as read_experiment gives it")
    check_workers(workers)
    numbers = replicate_numbers(replicates)
    records = survey if isinstance(survey, Survey) else read_survey(survey)
    check = Check(records.path)
    for remark in records.remarks:
        check.remark("", remark)
    if len(numbers) < LEAST_REPLICATES:
        check.add("replicates", len(numbers), f"at least {LEAST_REPLICATES}")
    check.number("done", done, 0.0, 2.0)
    if hours_per_hectare is not None:
        check.number("hours_per_hectare", hours_per_hectare, 0.0, 1000.0, above=True)
    chosen = _chosen(experiment, strategy, check)
    if seed is not None:
        experiment = Experiment.from_dict(experiment.to_dict() | {"seed": seed}, experiment.site)
    time = between(experiment.site.survey, since, records, on, check)
    site, zones = experiment.site, Zones(experiment.site)
    try:
        grounds = grounds_of(records, site, None)
    except InputError as error:
        check.problems.absorb(error)
        check.done()
        raise
    placed = [record for record in records.records if record.xy or record.position or record.footprint]
    if placed and all(grounds.of_record(record) is None for record in placed):
        check.add("", Said("no place that lies on the site"), "a survey of this site")
    looked = look(records, site, grounds, time.on, check, everywhere=everywhere, hours_per_hectare=hours_per_hectare)
    findings = findings_of(site, zones, grounds, looked, check)
    check.done()
    remarks = tuple(": ".join(part for part in remark[1:] if part) for remark in check.problems.remarks)
    return Task(experiment, chosen, time, looked, findings, zones, remarks), numbers


def _chosen(experiment: Experiment, name: str | None, check: Check) -> Strategy:
    """Give the strategy that stands for the work."""
    by_name = {strategy.name: strategy for strategy in experiment.strategies}
    working = [strategy for strategy in experiment.strategies if strategy.tasks]
    if name is None and len(working) <= 1:
        return working[0] if working else by_name[NO_ACTION]
    if name not in by_name:
        allowed = f"{one_of(by_name)}: the one that stands for the work that was done"
        check.add("strategy", Said("nothing") if name is None else name, allowed)
        return experiment.strategies[0]
    return by_name[name]
