"""Cases of a question, all run in the same worlds; what was run once is not run again."""

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.analysis.outcomes import by_year, check_confidence
from spreadsim.analysis.scoring import scores
from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import NO_ACTION, Experiment, Strategy
from spreadsim.inputs.units import SYSTEMS
from spreadsim.planning.flips import labelled, needed
from spreadsim.runs.simulate import replicate_numbers
from spreadsim.runs.sweep_point import PointRunner, what_decides

Floats = NDArray[np.float64]
Progress = Callable[[int, int], Any]
_ALWAYS = ("mat_area", "infested_area", "fruiting_hosts", "seeds_exported", "hours")


class Cases:
    """The same worlds for every case of a question.

    Parameters
    ----------
    experiment
        What is asked about; cases may differ from it in all but site and seed.
    replicates
        How many worlds, or their numbers; two or more.
    seed
        Of the worlds; None: the experiment's.
    workers
        Threads; None: one per core.
    goals
        What scores are made of; None: the least seed leaving the site.
    """

    def __init__(
        self,
        experiment: Experiment,
        replicates: int = 100,
        seed: int | None = None,
        workers: int | None = None,
        goals: Goals | None = None,
    ) -> None:
        self.experiment = experiment if seed is None else dataclasses.replace(experiment, seed=seed)
        self.numbers = replicate_numbers(replicates)
        if len(self.numbers) < 2:
            raise InputError(f"replicates: found {len(self.numbers)}, allowed 2 or more")
        self.goals = goals_of(goals)
        names = tuple(sorted({*_ALWAYS, *needed(self.goals)}))
        self._runner = PointRunner(self.numbers, names, False, workers)
        self._known: dict[str, Case] = {}

    @property
    def worlds(self) -> int:
        """How many worlds each case is run in."""
        return len(self.numbers)

    @property
    def ran(self) -> int:
        """Count the different cases that were run."""
        return len(self._known)

    def run(self, experiment: Experiment, strategy: Strategy) -> "Case":
        """Give what comes of a case; `InputError` if its experiment is not allowed."""
        alone = dataclasses.replace(experiment, strategies=(strategy,), seed=self.experiment.seed)
        key = what_decides(alone, strategy)
        if key not in self._known:
            values = self._runner.run(alone, lambda _: None)
            data = labelled(alone, self.numbers, values).sel(strategy=[strategy.name])
            self._known[key] = Case(data, self.goals)
        return self._known[key]

    def nothing(self, experiment: Experiment) -> "Case":
        """Give what comes of no action."""
        return self.run(experiment, Strategy(NO_ACTION))


class Case:
    """Outcomes of one strategy by world and year; each is worked out when it is first asked for.

    Parameters
    ----------
    data
        With one strategy.
    goals
        What the score is made of.
    """

    def __init__(self, data: xr.Dataset, goals: Goals) -> None:
        self._data, self._goals = data, goals

    @cached_property
    def score(self) -> Floats:
        """(replicate,), lower is better."""
        score = scores(self._data, self._goals)["score"]
        return np.asarray(score.transpose("strategy", "replicate").to_numpy()[0], dtype=float)

    @cached_property
    def area(self) -> Floats:
        """Infested, m2, (replicate, year)."""
        return self.by_year("infested_area")

    @cached_property
    def fruiting(self) -> Floats:
        """Fruiting hosts, (replicate, year)."""
        return self.by_year("fruiting_hosts")

    @cached_property
    def hours(self) -> Floats:
        """Worked, (replicate, year from 1 on)."""
        return self.by_year("hours")[:, 1:]

    def by_year(self, name: str) -> Floats:
        """Give an outcome, (replicate, year); missing at year 0 for flows."""
        return np.asarray(by_year(self._data, name).to_numpy()[0], dtype=float)


def goals_of(goals: Goals | None) -> Goals:
    """Give the goals, those of `DEFAULT` if there are none; `InputError` with limits, which are for decide."""
    goals = DEFAULT if goals is None else goals
    if goals.limits:
        raise InputError("goals: found limits, allowed weights or an order: limits are for decide")
    return goals


def strategy_named(experiment: Experiment, name: str | None) -> Strategy:
    """Give a strategy with tasks by name; without a name the only one.

    Raises
    ------
    InputError
        No such strategy, none with tasks, or no name where there are several.
    """
    working = {strategy.name: strategy for strategy in experiment.strategies if strategy.tasks}
    if not working:
        raise InputError("strategies: found none with tasks, allowed at least one: nobody works")
    if name is None and len(working) == 1:
        return next(iter(working.values()))
    if name not in working:
        raise InputError(f"strategy: found {'none' if name is None else show(name)}, allowed {one_of(working)}")
    return working[name]


def crews_named(experiment: Experiment, names: Sequence[str]) -> tuple[str, ...]:
    """Give the names of crews; all if none is named.

    Raises
    ------
    InputError
        An unknown name, or crews without any hours.
    """
    known = [crew.name for crew in experiment.crews]
    unknown = [f"crew: found {show(name)}, allowed {one_of(known)}" for name in names if name not in known]
    if unknown:
        raise InputError(*unknown)
    chosen = tuple(name for name in known if not names or name in names)
    if not hours_a_year(experiment, chosen):
        raise InputError("crews: found no hours, allowed crews with hours in some season")
    return chosen


def hours_a_year(experiment: Experiment, names: Sequence[str]) -> float:
    """Add up the hours planned a year of the crews named."""
    return float(sum(sum(crew.hours) for crew in experiment.crews if crew.name in names))


def check_question(confidence: float, units: str | None, **shares: float) -> None:
    """Refuse a confidence, a share or a system of units that can't be."""
    check_confidence(confidence)
    problems = [
        f"{name}: found {show(value)}, allowed above 0 and below 1"
        for name, value in shares.items()
        if not 0.0 < value < 1.0
    ]
    if units is not None and units not in SYSTEMS:
        problems.append(f"units: found {show(units)}, allowed {one_of(SYSTEMS)}")
    if problems:
        raise InputError(*problems)


def check_years(experiment: Experiment, **years: int) -> None:
    """Refuse years that are not run; they count from the map."""
    _check_whole(experiment.first_year + 1, experiment.years, "the years of the experiment", years)


def check_counts(experiment: Experiment, **counts: int) -> None:
    """Refuse numbers of years that are more than are run."""
    _check_whole(1, experiment.years - experiment.first_year, "as many as the experiment has", counts)


def _check_whole(least: int, most: int, what: str, given: Mapping[str, int]) -> None:
    problems = [
        f"{name}: found {show(value)}, allowed {least} to {most}, {what}"
        for name, value in given.items()
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most
    ]
    if problems:
        raise InputError(*problems)
