"""What a search found: strategies judged in worlds that the search never saw."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.intervals import mean_interval, share_interval
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.strategy import Strategy


@dataclass(frozen=True)
class Found:
    """The answer of a search.

    Attributes
    ----------
    experiment : Experiment
        With the given strategies, then the found one, then those that cost less.
    strategy : Strategy
        The found one.
    same_as : str
        The given strategy that it is the same as; "" if it is another.
    judged : xarray.Dataset
        From `judge`, of all of them.
    verdict : str
        "better": than every given strategy that keeps the limits, surely; "not better"; or "can't tell".
    tries, different : int
        Strategies tried, and how many of them differed.
    worlds : tuple of int
        In which it was searched, chosen among the foremost, and judged: all different.
    seed : int
        Of worlds and optimiser.
    """

    experiment: Experiment
    strategy: Strategy
    same_as: str
    judged: xr.Dataset
    verdict: str
    tries: int
    different: int
    worlds: tuple[int, int, int]
    seed: int


def not_beaten(points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which points no other beats: at least as low in everything, and lower in something.

    Parameters
    ----------
    points
        (point, what is wanted low).

    Returns
    -------
    numpy.ndarray
        (point,); of equal points all or none are so.
    """
    at_most = (points[:, None, :] <= points[None, :, :]).all(axis=2)
    lower = (points[:, None, :] < points[None, :, :]).any(axis=2)
    return np.asarray(~(at_most & lower).any(axis=0))


def judge(
    names: Sequence[str],
    origin: Sequence[str],
    score: NDArray[np.float64],
    hours: NDArray[np.float64],
    money: NDArray[np.float64],
    beyond: NDArray[np.float64],
    confidence: float,
    seed: int,
) -> xr.Dataset:
    """Compare all strategies with the found one, world by world.

    Parameters
    ----------
    names
        Of the strategies, the found one among them.
    origin
        Of each, "given", "found" (one) or "cheaper".
    score, hours, money
        (strategy, replicate).
    beyond
        (strategy,): by how much limits are broken too often.
    confidence
        Of each interval.
    seed
        Of the resampling.

    Returns
    -------
    xarray.Dataset
        By strategy: `origin`, mean `score`, `hours`, `money`, `within` the limits or not; `ahead`, by how much the
        found one's score is lower, with `ahead_low` and `ahead_high`; `better`, the share of worlds in which it is,
        with `better_low` and `better_high`, and `equal`, in which both are the same; `front`, whether no other that
        keeps the limits has a score, hours and money as low.
    """
    at = list(origin).index("found")
    difference = (score - score[at]).T
    low, high = mean_interval(difference, confidence, seed)
    wins = (difference > 0).sum(axis=0)
    bounds = np.array([share_interval(int(one), len(difference), confidence) for one in wins])
    within = beyond <= 0
    means = np.column_stack([score.mean(axis=1), hours.mean(axis=1), money.mean(axis=1)])
    front = np.zeros(len(names), bool)
    front[within] = not_beaten(means[within])
    columns = {
        "origin": np.asarray(origin),
        "score": means[:, 0],
        "hours": means[:, 1],
        "money": means[:, 2],
        "within": within,
        "ahead": difference.mean(axis=0),
        "ahead_low": low,
        "ahead_high": high,
        "better": wins / len(difference),
        "better_low": bounds[:, 0],
        "better_high": bounds[:, 1],
        "equal": (difference == 0).mean(axis=0),
        "front": front,
    }
    attrs = {"confidence": confidence, "worlds": len(difference)}
    return xr.Dataset(
        {name: ("strategy", column) for name, column in columns.items()}, {"strategy": list(names)}, attrs
    )


def verdict_of(judged: xr.Dataset) -> str:
    """Say whether the found strategy beats every given one that keeps the limits; all of them, if none does.

    It is better than all if it is so than each at the confidence asked for, which needs no correction for their number
    (intersection-union test: Berger 1982, Technometrics 24:295, from memory).

    Returns
    -------
    str
        "better", "not better" or "can't tell".
    """
    given = judged["origin"].values == "given"
    found = judged["origin"].values == "found"
    kept = judged["within"].values
    if not kept[found].all() and (given & kept).any():
        return "not better"
    rivals = given & kept if (given & kept).any() else given
    if (judged["ahead_low"].values[rivals] > 0).all():
        return "better"
    return "not better" if (judged["ahead_high"].values[rivals] <= 0).any() else "can't tell"
