"""Strategies at a point of a grid, in the same worlds; those that are plainly beaten are not run to the end."""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.goals import Goals
from spreadsim.analysis.intervals import mean_interval, share_interval
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.pairs import simultaneous
from spreadsim.analysis.regret import regret
from spreadsim.analysis.scoring import scores
from spreadsim.inputs import Experiment
from spreadsim.runs.sweep_point import PointRunner
from spreadsim.schema import FIRST_YEAR, build_dataset

FIRST = 25
_WORK = ("hours", "cost", "match")


class Race:
    """Runs points of a grid, each in two rounds if there are 50 worlds or more.

    Dropping what is beaten early is a race (Maron and Moore 1994, Adv. Neural Inf. Process. Syst. 6:59, from memory).
    One is dropped only if in every one of the first 25 worlds it did worse than the best of them (which would happen to
    one that is better in half the worlds with a chance of 3e-8), and if its mean lies surely above, all strategies
    together.

    Parameters
    ----------
    numbers
        Of the worlds.
    goals
        Weights, or an order of which the first counts.
    confidence
        Of the intervals.
    workers
        Threads; None: one per core.
    """

    def __init__(self, numbers: Sequence[int], goals: Goals, confidence: float, workers: int | None) -> None:
        self.goals, self.confidence = goals, confidence
        cut = FIRST if len(numbers) >= 2 * FIRST else len(numbers)
        self.rounds = [list(numbers[:cut]), list(numbers[cut:])]
        self.runners = [PointRunner(part, needed(goals), False, workers) for part in self.rounds if part]

    def run(self, point: Experiment) -> tuple[xr.Dataset, bool]:
        """Give `regret` of all strategies, with `worlds`, and whether the choice is told from all others."""
        first = self._score(point, 0)
        if len(self.runners) == 1:
            return self._table(first, first, point.seed)
        rest = self._score(point, 1, self._running(first, point.seed))
        whole = xr.concat([first.sel(strategy=rest["strategy"].values), rest], dim="replicate")
        return self._table(first, whole, point.seed)

    def _score(self, point: Experiment, at: int, only: Collection[str] | None = None) -> xr.DataArray:
        values = self.runners[at].run(point, lambda _: None, only)
        return scores(labelled(point, self.rounds[at], values, only), self.goals)["score"]

    def _running(self, score: xr.DataArray, seed: int) -> list[str]:
        """Those that go on to the second round, the best of the first among them."""
        names = [str(name) for name in score["strategy"].values]
        values = score.transpose("replicate", "strategy").to_numpy()
        best = int(values.mean(axis=0).argmin())
        above = np.delete(values, best, axis=1) - values[:, [best]]
        low, _ = simultaneous(above, self.confidence, seed)
        beaten = (above > 0).all(axis=0) & (np.asarray(low) > 0)
        others = [name for at, name in enumerate(names) if at != best]
        out = {name for name, one in zip(others, beaten, strict=True) if one}
        return [name for name in names if name not in out]

    def _table(self, first: xr.DataArray, whole: xr.DataArray, seed: int) -> tuple[xr.Dataset, bool]:
        """Regret among those that ran in all worlds; the others as they stood when they were dropped."""
        table = regret(whole, confidence=self.confidence, seed=seed)
        choice = str(table.attrs["choice"])
        table = table.assign(worlds=("strategy", np.full(whole.sizes["strategy"], whole.sizes["replicate"])))
        sure = self._is_sure(whole, choice, seed)
        names = [str(name) for name in first["strategy"].values]
        dropped = [name for name in names if name not in whole["strategy"].values]
        table = table.reindex(strategy=names)
        lowest = first.min("strategy")
        count = first.sizes["replicate"]
        for name in dropped:
            above = (first.sel(strategy=name, drop=True) - lowest).to_numpy()
            behind = float((first.sel(strategy=name, drop=True) - first.sel(strategy=choice, drop=True)).mean())
            low, high = mean_interval(above[:, None], self.confidence, seed)
            said = {
                "mean": float(table["mean"].sel(strategy=choice)) + behind,
                "best": 0.0,
                "best_low": 0.0,
                "best_high": share_interval(0, count, self.confidence)[1],
                "regret": float(above.mean()),
                "regret_low": max(float(low[0]), 0.0),
                "regret_high": float(high[0]),
                "worlds": count,
            }
            for key, value in said.items():
                table[key].loc[{"strategy": name}] = value
        return table, sure

    def _is_sure(self, score: xr.DataArray, choice: str, seed: int) -> bool:
        """Whether every other strategy is surely worse than the choice, all of them together."""
        others = [name for name in score["strategy"].values if name != choice]
        if not others:
            return True
        ahead = score.sel(strategy=others) - score.sel(strategy=choice, drop=True)
        low, _ = simultaneous(ahead.transpose("replicate", "strategy").to_numpy(), self.confidence, seed)
        return bool((np.asarray(low) > 0).all())


def needed(goals: Goals) -> tuple[str, ...]:
    """Outcomes that the scores are made of; `mat_area` tells which years were run."""
    named = [*goals.weights, *goals.order[:1]]
    measures = {measure.name: measure.outcome for measure in MEASURES}
    names = {"mat_area", *(measures[name] for name in named if name in measures)}
    return tuple(sorted(names | (set(_WORK) if set(named) - set(measures) else set())))


def labelled(
    experiment: Experiment, numbers: Sequence[int], values: dict[str, Any], only: Collection[str] | None = None
) -> xr.Dataset:
    """Give what a runner gave, of all strategies or of some, as a dataset, without drawn parameters."""
    names = [one.name for one in experiment.strategies if only is None or one.name in only]
    coords = {
        "strategy": names,
        "replicate": np.asarray(numbers),
        "year": np.arange(experiment.first_year, experiment.years + 1),
    }
    outcomes = {name: array for name, array in values.items() if not name.startswith("parameter ")}
    attrs: dict[str, Any] = {"seed": experiment.seed, "currency": experiment.currency}
    attrs |= {FIRST_YEAR: experiment.first_year} if experiment.first_year else {}
    return build_dataset(outcomes, coords, attrs)
