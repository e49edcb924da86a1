"""Chance of being the best, expected regret, and what knowing everything would be worth."""

import numpy as np
import xarray as xr

from spreadsim.analysis.intervals import mean_interval, share_interval
from spreadsim.analysis.outcomes import check_confidence
from spreadsim.errors import InputError


def regret(score: xr.DataArray, *, confidence: float = 0.9, seed: int = 0) -> xr.Dataset:
    """Say how often each strategy is the best of all, and what choosing it costs on average.

    Parameters
    ----------
    score
        (strategy, replicate), finite; lower is better, such as `scores(...)["score"]`.
    confidence
        Of the intervals.
    seed
        Of the resampling.

    Returns
    -------
    xarray.Dataset
        By strategy: `mean`; `best`, the share of worlds in which it has the lowest score (a world
        that several share is divided among them), with Wilson's `best_low`, `best_high`; `regret`,
        the mean by which it lies above the lowest of its world, with its bootstrap interval
        `regret_low`, `regret_high`. Attributes: `choice`, the strategy with the lowest mean;
        `perfect_information`, the regret of the choice, which is what knowing each world beforehand
        would be worth (Raiffa and Schlaifer 1961, from memory), with `perfect_information_low` and
        `_high`. It is a ceiling: it counts luck that no survey can tell.

    Raises
    ------
    InputError
        The dimensions are others, or numbers are missing.
    """
    check_confidence(confidence)
    values = check_score(score)
    lowest = values.min(axis=0)
    share = (values == lowest) / (values == lowest).sum(axis=0)
    above = (values - lowest).T
    low, high = mean_interval(above, confidence, seed)
    low = np.maximum(low, 0.0)
    best = share.mean(axis=1)
    bounds = np.array([share_interval(float(one) * values.shape[1], values.shape[1], confidence) for one in best])
    chosen = int(values.mean(axis=1).argmin())
    columns = {
        "mean": values.mean(axis=1),
        "best": best,
        "best_low": bounds[:, 0],
        "best_high": bounds[:, 1],
        "regret": above.mean(axis=0),
        "regret_low": low,
        "regret_high": high,
    }
    return xr.Dataset(
        {name: ("strategy", column) for name, column in columns.items()},
        {"strategy": score["strategy"].values},
        {
            "choice": str(score["strategy"].values[chosen]),
            "perfect_information": float(above.mean(axis=0)[chosen]),
            "perfect_information_low": float(low[chosen]),
            "perfect_information_high": float(high[chosen]),
            "confidence": confidence,
            "worlds": values.shape[1],
        },
    )


def check_score(score: xr.DataArray) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Give a score as (strategy, replicate), finite; else an `InputError`."""
    if set(score.dims) != {"strategy", "replicate"} or not score.size:
        raise InputError(f"score: found dimensions {', '.join(map(str, score.dims))}, allowed strategy, replicate")
    values = np.asarray(score.transpose("strategy", "replicate").to_numpy(), dtype=float)
    if not np.isfinite(values).all():
        raise InputError("score: found numbers that are missing or infinite, allowed finite ones")
    return values
