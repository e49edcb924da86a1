"""Where the answer flips: which strategy wins at each point of a grid over two facts, and how surely."""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment
from spreadsim.planning.axes import Axis, changed, strategies_of
from spreadsim.planning.race import Race, labelled, needed
from spreadsim.runs.progress import reporter
from spreadsim.runs.simulate import replicate_numbers
from spreadsim.runs.sweep_point import what_decides

__all__ = ["flips", "in_order", "labelled", "needed"]
Progress = Callable[[int, int], Any]


def flips(
    experiment: Experiment,
    along: Axis,
    against: Axis,
    *,
    goals: Goals | None = None,
    strategies: Sequence[str] = (),
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    progress: bool | Progress = False,
) -> xr.Dataset:
    """Run all strategies at every point of a grid, in the same replicate worlds, and say which wins where.

    Parameters
    ----------
    experiment
        What is asked about.
    along, against
        The two facts, from `read_axis`.
    goals
        Weights, or an order of which the first counts; None: as little seed leaving the site as possible. Limits are
        for `decide`, and not allowed here.
    strategies
        Names of those that are to choose among; none: all.
    replicates
        Worlds at each point, the same at all.
    seed
        Of the worlds; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    confidence
        Of the intervals.
    progress
        True: a bar on standard error. Or a function that is told how many points of how many are done.

    Returns
    -------
    xarray.Dataset
        By (against, along, strategy): `mean` score; `best`, the chance of being the best in a world, with `best_low`,
        `best_high`; `regret` with `regret_low`, `regret_high`. By (against, along): `choice`, the place of the strategy
        with the lowest mean score, and `sure`, whether the interval of every other's regret over the choice's, world by
        world, lies above 0. Coordinates `along`, `against` hold the values; attributes say what they are of.

    Raises
    ------
    InputError
        Goals with limits or an outcome that is not there, one strategy, or both axes the same.
    """
    goals = DEFAULT if goals is None else goals
    if goals.limits:
        raise InputError("goals: found limits, allowed weights or an order: limits are for decide")
    if along.name == against.name:
        raise InputError(f"axes: found {along.name} twice, allowed two different ones")
    experiment = dataclasses.replace(experiment, strategies=strategies_of(experiment, strategies))
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    race = Race(replicate_numbers(replicates), goals, confidence, workers)
    shape = (len(against.values), len(along.values))
    tables: dict[tuple[int, int], xr.Dataset] = {}
    sure = np.zeros(shape, bool)
    with reporter(progress) as report:
        for done, (row, column) in enumerate(in_order(experiment, along, against), start=1):
            point = changed(changed(experiment, along, along.values[column]), against, against.values[row])
            tables[row, column], sure[row, column] = race.run(point)
            report(done, shape[0] * shape[1])
    return _whole(experiment, along, against, goals, tables, sure, confidence)


def in_order(experiment: Experiment, along: Axis, against: Axis) -> list[tuple[int, int]]:
    """Points (row, column), such that as many strategies as can be need no new run from one to the next.

    A strategy that an axis does not touch is run once for all its values, if that axis is the one that turns faster.
    """
    rows, columns = range(len(against.values)), range(len(along.values))
    if _touched(experiment, along) <= _touched(experiment, against):
        return [(row, column) for row in rows for column in columns]
    return [(row, column) for column in columns for row in rows]


def _touched(experiment: Experiment, axis: Axis) -> int:
    """How many strategies an axis makes to be run again."""
    first, last = (changed(experiment, axis, value) for value in (axis.values[0], axis.values[-1]))
    if first.site is not last.site:
        return len(experiment.strategies)
    pairs = zip(first.strategies, last.strategies, strict=True)
    return sum(what_decides(first, one) != what_decides(last, other) for one, other in pairs)


def _whole(
    experiment: Experiment,
    along: Axis,
    against: Axis,
    goals: Goals,
    tables: dict[tuple[int, int], xr.Dataset],
    sure: np.ndarray[Any, Any],
    confidence: float,
) -> xr.Dataset:
    names = [strategy.name for strategy in experiment.strategies]
    rows = range(len(against.values))
    columns = range(len(along.values))
    dims = ("against", "along", "strategy")
    told = ("mean", "best", "best_low", "best_high", "regret", "regret_low", "regret_high", "worlds")
    data: dict[str, Any] = {
        key: (dims, np.array([[tables[row, column][key].to_numpy() for column in columns] for row in rows]))
        for key in told
    }
    choice = [[names.index(str(tables[row, column].attrs["choice"])) for column in columns] for row in rows]
    data["choice"] = (dims[:2], np.array(choice, "i4"))
    data["sure"] = (dims[:2], sure.astype("i1"))
    weights = ", ".join(f"{weight:g} x {name}" for name, weight in goals.weights.items())
    attrs = {
        "title": experiment.title,
        "comment": experiment.notice,
        "score": weights or goals.order[0],
        "replicates": int(tables[0, 0].attrs["worlds"]),
        "seed": experiment.seed,
        "confidence": confidence,
    }
    for place, axis in (("along", along), ("against", against)):
        attrs |= {f"{place}_name": axis.name, f"{place}_title": axis.title, f"{place}_unit": axis.unit}
    coords = {"along": list(along.values), "against": list(against.values), "strategy": names}
    return xr.Dataset(data, coords, attrs)
