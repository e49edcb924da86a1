"""Running strategies in chosen worlds: their scores, hours, money, and how often they break limits."""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.goals import Goals
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.scoring import amount_of, broken, scores
from spreadsim.inputs import Experiment, Strategy
from spreadsim.planning.race import labelled, needed
from spreadsim.runs.sweep_point import PointRunner, what_decides


@dataclass(frozen=True)
class Tried:
    """What came of a strategy: by world its score, its hours and its cash a year; how much it breaks limits."""

    strategy: Strategy
    score: NDArray[np.float64]
    hours: NDArray[np.float64]
    money: NDArray[np.float64]
    beyond: float
    """Largest share of worlds by which a limit is broken more often than is allowed; 0: all are kept."""

    @property
    def mean(self) -> float:
        """The mean score; lower is better."""
        return float(self.score.mean())


class Worlds:
    """The same worlds for every strategy that is tried; what was run once is not run again.

    Parameters
    ----------
    experiment
        What is asked about.
    goals
        Weights or an order, of which the first counts, and limits on outcomes.
    replicates
        Numbers of the worlds.
    workers
        Threads; None: one per core.
    """

    def __init__(self, experiment: Experiment, goals: Goals, replicates: Sequence[int], workers: int | None) -> None:
        self.experiment, self.goals, self.replicates = experiment, goals, tuple(replicates)
        measures = {measure.name: measure.outcome for measure in MEASURES}
        limits = {measures[limit.outcome] for limit in goals.limits if limit.outcome}
        names = tuple(sorted({*needed(goals), "hours", "cost", *limits}))
        self._runner = PointRunner(replicates, names, False, workers)
        self._known: dict[str, Tried] = {}

    def __len__(self) -> int:
        """Count the different strategies that were run."""
        return len(self._known)

    def run(self, strategy: Strategy) -> Tried:
        """Give what comes of a strategy; `InputError` if the experiment does not allow it."""
        nameless = dataclasses.replace(self.experiment, strategies=(_named(strategy, "tried"),))
        key = what_decides(nameless, _bare(strategy))
        if key not in self._known:
            values = self._runner.run(nameless, lambda _: None, ["tried"])
            data = labelled(nameless, self.replicates, values, ["tried"])
            self._known[key] = self._tried(strategy, data)
        return dataclasses.replace(self._known[key], strategy=strategy)

    def _tried(self, strategy: Strategy, data: xr.Dataset) -> Tried:
        limits = [limit for limit in self.goals.limits if limit.outcome]
        beyond = [float(broken(data, limit)["share"][0]) - limit.often for limit in limits]
        score, hours, money = (_flat(one) for one in (scores(data, self.goals)["score"], *self._costs(data)))
        return Tried(strategy, score, hours, money, max(0.0, *beyond, 0.0))

    def _costs(self, data: xr.Dataset) -> tuple[Any, Any]:
        """Give hours and cash a year, over all years, whichever year the goals are about."""
        all_years = dataclasses.replace(self.goals, year=-1)
        return amount_of(data, "hours", all_years), amount_of(data, "cost", all_years)


def _flat(values: xr.DataArray) -> NDArray[np.float64]:
    return np.asarray(values.transpose("strategy", "replicate").to_numpy()[0], dtype=float)


def _named(strategy: Strategy, name: str) -> Strategy:
    return Strategy(name, tasks=strategy.tasks, reserve_follow_up=strategy.reserve_follow_up)


def _bare(strategy: Strategy) -> Strategy:
    """Give what decides: neither names nor reasons do."""
    tasks = [dataclasses.replace(task, name=None) for task in strategy.tasks]
    return Strategy("tried", tasks=tasks, reserve_follow_up=strategy.reserve_follow_up)
