"""What a new survey says about an experiment's parameters, and about where its vine stands today."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import xarray as xr

from spreadsim.analysis.needs import require
from spreadsim.inputs import Experiment, Survey
from spreadsim.learning.finding import MODEL_ERROR
from spreadsim.learning.fit import fit_of
from spreadsim.learning.labelled import Learned, labelled
from spreadsim.learning.ranges import ranges_of
from spreadsim.learning.stages import run_stages
from spreadsim.learning.task import Said, task_of
from spreadsim.learning.today import see, today
from spreadsim.log import Log, read_log
from spreadsim.runs.simulate import check_workers

REPLICATES = 5000
LEFT_OUT = 1e-6  # share of the weight whose worlds are not run again for the maps
FOR_FIT = ("below", "drawn", "drawn_log_likelihood", "log_likelihood")
Answer = TypeVar("Answer")


def learn(
    experiment: Experiment,
    survey: Survey | str | Path,
    *,
    strategy: str | None = None,
    done: float = 1.0,
    log: Log | str | Path | None = None,
    since: date | str | None = None,
    on: date | str | None = None,
    everywhere: bool = False,
    only_new: bool = False,
    hours_per_hectare: float | None = None,
    overlooked_patches: tuple[float, float] | None = None,
    overlooked_hosts: tuple[float, float] | None = None,
    model_error: float = MODEL_ERROR,
    replicates: int | Iterable[int] = REPLICATES,
    seed: int | None = None,
    workers: int | None = None,
    progress: Any = False,
) -> xr.Dataset:
    """Learn from a new survey: weigh the worlds of an experiment by how well they explain what was found.

    Worlds run from the map (the experiment's site) through the work to the season of the survey. For each number that
    the survey gives, the chance of every value in a world follows from what is there, from where and how long people
    looked, and from the model's own chance of finding; a world's weight is the chance of what was really found.
    It is worked out and not tried, so no tolerance is needed (Sisson, Fan and Beaumont 2018, Handbook of Approximate
    Bayesian Computation); what stands in its place has a meaning: people outline mats with an error, and the model is
    right about numbers to within `model_error`. Under these errors weights are exact (Wilkinson 2013, Stat. Appl.
    Genet. Mol. Biol. 12:129). Half of the worlds are drawn from what was thought before, the others near those that
    explain the survey, with luck of their own, and weighted so that this favours nothing; see `run_stages`.

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
    log
        What was really worked (`read_log`, or the folder of the log), in place of `strategy` and `done`. It counts by
        task, unit and hours, not by single hosts.
    since
        Date of the map, where the site names no survey with dates; the log's where there is one.
    on
        Date of the new survey, where its records have none.
    everywhere
        Whether visits that name neither a unit nor plots went over the whole site.
    only_new
        Whether records are only of vine that nobody knew of; else of all that was met, known or not.
    overlooked_patches, overlooked_hosts
        Lowest and highest number of patches, and of climbed hosts, that the map may have lacked on the whole site, on
        average; drawn on the log scale, and learned about. None: from 0.1 to as many as were mapped, assumed.
    model_error
        Standard error with which a world's numbers stand for those of the ground, as a share of them (small ones as
        of two), 0 to 2. At 0 the model is taken to be right, and hardly any world is left where much was counted.
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
    said = Said(
        strategy,
        done,
        since,
        on,
        everywhere,
        only_new,
        hours_per_hectare,
        overlooked_patches,
        overlooked_hosts,
        model_error,
        read_log(experiment, log) if isinstance(log, str | Path) else log,
    )
    check_workers(workers)
    task = task_of(experiment, survey, said, replicates, seed)
    tell = _Telling(progress, 2 * len(task.numbers))
    ran = run_stages(task, workers, tell)
    key, weights, tables, measure = task.experiment.seed, ran.weights, ran.tables, task.measure
    drawn = ran.worlds.drawn() | measure.overlooked.drawn([ran.rates[number] for number in ran.worlds.numbers])
    values = np.array([column for column, _ in drawn.values()]).reshape(len(drawn), len(task.numbers))
    ranges = ranges_of(values, weights.before, weights.values, weights.effective, key)
    below, invented, of_invented, of_found = (tables[name] for name in FOR_FIT)
    fit = fit_of(below, invented, of_invented, of_found, weights.before, weights.values)
    places = that_count(weights.values)
    tell.count = len(task.numbers) + len(places)
    seen = ran.worlds.only(places).each(lambda world: see(world, measure, ran.rates[world.number]), workers)
    kept = weights.values[places] / weights.values[places].sum()
    hosts = len(task.experiment.site.hosts)
    maps = today(tell.each(seen), kept, ran.before, task.findings, measure.overlooked, hosts, measure.error)
    return labelled(Learned(task, drawn, tables["log_likelihood"], weights, ranges, fit, maps, ran.missed))


class _Telling:
    """Tells how far it is: worlds are run for their weights, and those that count once more for the maps."""

    def __init__(self, progress: Any, count: int) -> None:
        self.progress, self.done, self.count = progress, 0, count

    def __call__(self) -> None:
        self.done += 1
        if self.progress:
            self.progress(self.done, self.count)

    def each(self, answers: Iterable[Answer]) -> Iterator[Answer]:
        """Count answers as they come."""
        for one in answers:
            self()
            yield one


def that_count(weights: Any) -> list[int]:
    """Give the places of the worlds that hold all of the weight but a millionth: no chance changes by more."""
    order = np.argsort(weights, kind="stable")
    light = int(np.searchsorted(np.cumsum(weights[order]), LEFT_OUT, side="right"))
    return sorted(order[light:].tolist())
