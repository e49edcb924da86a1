"""Comparing until the differences, or the best strategy, are known well enough."""

import contextlib
import dataclasses
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.analysis.stopping import Look, look_at
from spreadsim.analysis.stopping_words import story
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment
from spreadsim.runs.growing import GrowingParts
from spreadsim.runs.joining import join, joined_pieces
from spreadsim.runs.progress import reporter
from spreadsim.runs.simulate import check_workers
from spreadsim.runs.until_arguments import check_goal, check_year, widths_of
from spreadsim.store import open_outcomes
from spreadsim.store_along import write_along

DEFAULT_OUTCOMES = ("infested_area", "fruiting_hosts")  # the end of the last year: what a report ranks by
Progress = Callable[[int, int], Any]


@dataclasses.dataclass(frozen=True)
class Until:
    """What `compare_until` found.

    Attributes
    ----------
    outcomes : xarray.Dataset
        As `compare` gives for as many replicates.
    looks : tuple of Look
        What each look saw.
    sure : bool
        Whether the goal was reached, before the most replicates allowed were run.
    goal : str
        One of `analysis.stopping.GOALS`.
    confidence : float
        Of all that the looks say, together.
    year : int
        Whose end was looked at.
    """

    outcomes: xr.Dataset
    looks: tuple[Look, ...]
    sure: bool
    goal: str
    confidence: float
    year: int

    @property
    def replicates(self) -> int:
        """How many replicates it took."""
        return self.looks[-1].replicates

    def story(self, system: str = "metric") -> list[str]:
        """Tell in sentences how many it took, why it stopped and what is sure; one text for each paragraph."""
        return story(self.looks, self.goal, self.confidence, self.year, system=system)


def compare_until(
    experiment: Experiment,
    half_width: float | Mapping[str, float | str] = 0.05,
    *,
    goal: str = "either",
    year: int = -1,
    confidence: float = 0.9,
    first: int = 50,
    most: int = 10_000,
    seed: int | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    folder: str | Path | None = None,
    resume: bool = False,
    progress: bool | Progress = False,
) -> Until:
    """Compare all strategies in more and more replicate worlds until their differences are known well enough.

    It looks after `first` replicates, after twice as many, and so on. At each look every pair of strategies gets an
    interval of its mean paired difference, in every outcome asked for. The error 1 - `confidence` is spread over the
    looks, (1 - confidence) x 6 / (pi^2 k^2) for the k-th, and within a look evenly over pairs and outcomes. So all
    intervals of all looks hold together with that confidence, and stopping when they please does no harm (Robbins
    1970; Jennison and Turnbull 2000; from memory, see `analysis.sequential`). The intervals bear skewed differences
    and many ties; they are for large numbers, hence at least 20 replicates at the first look, and tested from 50 on.

    Parameters
    ----------
    experiment
        What to compare; its number of replicates is not used.
    half_width
        How well differences must be known: a share of the mean with no action, of the infested area and of the
        fruiting hosts; or by name of outcome, a number in its unit, or a text such as ``"5%"`` for such a share.
    goal
        ``"width"``: go on until every difference between two strategies is known to within the half-width, on either
        side; ``"best"``: until each strategy is surely worse than the best one or surely within the half-width of it;
        ``"either"``: until each outcome has one or the other.
    year
        Whose end is looked at; negative ones count from the last, which is -1.
    confidence
        Of everything that is said, together.
    first
        Replicates at the first look, at least 20.
    most
        Replicates at the last look, if it comes to that.
    seed, workers, cluster, progress
        As for `compare`.
    folder
        Where to write outcomes.nc and, while running, the finished replicates.
    resume
        Go on from the finished replicates in the folder: of an interrupted run, or of one that was not sure at `most`.

    Returns
    -------
    Until
        The outcomes are those of `compare` for as many replicates, bit for bit; with a folder, lazily from its
        outcomes.nc.

    Raises
    ------
    InputError
        For arguments that can't be used, or replicates of another experiment in the folder.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {experiment!r}, allowed an Experiment, as read_experiment gives it")
    widths = widths_of(half_width, DEFAULT_OUTCOMES)
    check_goal(goal, confidence, first, most)
    check_workers(workers)
    if resume and folder is None:
        raise InputError("resume: found True without a folder, allowed with the folder of the interrupted run")
    label = check_year(year, experiment.years, widths, experiment.first_year)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    parts = GrowingParts(experiment, None if folder is None else Path(folder) / "looks", resume)
    names = [strategy.name for strategy in experiment.strategies]
    looks: list[Look] = []
    with reporter(progress) as report, contextlib.ExitStack() as stack:
        for target in numbers_of_looks(first, most):
            parts.run_to(target, partial(_towards, report, target), stack, workers, cluster)
            values = {outcome: parts.values(outcome, label) for outcome in widths}
            looks.append(look_at(len(looks) + 1, names, values, widths, confidence))
            if looks[-1].reached(goal):
                break
        sure = looks[-1].reached(goal)
        result = Until(xr.Dataset(), tuple(looks), sure, goal, confidence, label)
        said = {"until": " ".join(result.story())}
        if folder is None:
            whole = join(parts.done, experiment, parts.folded).assign_attrs(said)
            return dataclasses.replace(result, outcomes=whole)
        pieces = (piece.assign_attrs(said) for piece in joined_pieces(parts.done, experiment))
        path = write_along(pieces, "replicate", Path(folder) / "outcomes.nc")
    if sure:
        parts.remove()
    return dataclasses.replace(result, outcomes=open_outcomes(path))


def numbers_of_looks(first: int, most: int) -> Iterator[int]:
    """Give the replicates at each look: twice as many each time, and the most at last."""
    number = min(first, most)
    while number < most:
        yield number
        number *= 2
    yield most


def _towards(report: Progress, target: int, done: int) -> None:
    report(done, target)
