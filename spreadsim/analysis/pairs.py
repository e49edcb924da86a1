"""Every pair of strategies, for every outcome and year asked for, with the number of comparisons corrected for."""

from collections.abc import Iterable
from itertools import combinations

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.intervals import mean_interval, share_interval
from spreadsim.analysis.outcomes import (
    MEASURES,
    base_seed,
    by_year,
    check_confidence,
    check_year,
    outcome_names,
    strategy_names,
)
from spreadsim.errors import InputError

Floats = NDArray[np.float64]

HOW_CORRECTED = (
    "Intervals hold for all pairs of an outcome and year together: studentised bootstrap of the largest of all pairs "
    "(max-t; Westfall and Young 1993); pairs in which few worlds differ get Bonferroni's level instead."
)
_FEWEST = 20
_RESAMPLES = 2000
_BLOCK = 500


def contrasts(
    dataset: xr.Dataset,
    *,
    outcomes: Iterable[str] | None = None,
    years: Iterable[int] | None = None,
    confidence: float = 0.9,
) -> xr.Dataset:
    """Compare all pairs of strategies world by world.

    Parameters
    ----------
    dataset
        What `compare` returned, two strategies or more.
    outcomes
        Names of outcomes; all that the dataset has if not given.
    years
        Years; negative ones count from the last. All years if not given.
    confidence
        That all intervals of the pairs of one outcome and year hold together.

    Returns
    -------
    xarray.Dataset
        By (outcome, pair, year); coordinates `first` and `second` name the strategies of a pair.
        `mean` of first - second; `low`, `high`, its simultaneous interval (`HOW_CORRECTED`);
        `better`, `equal`, `worse`, the shares of worlds in which the first is so, with Wilson's
        `better_low` and `better_high`; `variance_ratio`, how many times the variance of the
        difference would be larger had the strategies not shared their worlds (infinite where they
        always differ by the same). Missing for flows at year 0. Whether less is better comes from
        `outcomes.MEASURES`, and is said in the coordinate `better_is`.

    Raises
    ------
    InputError
        A name, year or confidence that is not allowed, or one strategy only.
    """
    check_confidence(confidence)
    names = strategy_names(dataset) if "strategy" in dataset.dims else ()
    if len(names) < 2:
        raise InputError(f"dataset: found {len(names)} strategies, allowed 2 or more")
    wanted = tuple(outcomes) if outcomes is not None else outcome_names(dataset)
    given = [int(year) for year in dataset["year"].values] if years is None else list(years)
    labels = [check_year(dataset, year) for year in given]
    pairs = list(combinations(range(len(names)), 2))
    blocks = []
    for outcome in wanted:
        values = by_year(dataset, outcome).sel(year=labels).to_numpy()
        blocks.append(
            [
                _of_year(values[:, :, at], pairs, better_is(outcome), confidence, base_seed(dataset))
                for at in range(len(labels))
            ]
        )
    data = {
        key: (("outcome", "pair", "year"), np.array([[year[key] for year in block] for block in blocks]).swapaxes(1, 2))
        for key in blocks[0][0]
    }
    coords = {
        "outcome": list(wanted),
        "year": labels,
        "first": ("pair", [names[i] for i, _ in pairs]),
        "second": ("pair", [names[j] for _, j in pairs]),
        "unit": ("outcome", [str(dataset[outcome].attrs.get("units", "1")) for outcome in wanted]),
        "better_is": ("outcome", [better_is(outcome) for outcome in wanted]),
    }
    return xr.Dataset(data, coords, {"confidence": confidence, "corrected": HOW_CORRECTED})


def better_is(outcome: str) -> str:
    """Say whether "lower" or "higher" is better of an outcome; lower where nothing says otherwise."""
    return next((measure.better for measure in MEASURES if measure.outcome == outcome), "lower")


def _of_year(
    values: Floats, pairs: list[tuple[int, int]], better: str, confidence: float, seed: int
) -> dict[str, Floats]:
    """Every pair of one outcome and year; `values` is (strategy, replicate)."""
    values = values[:, np.isfinite(values).all(axis=0)]
    count = values.shape[1]
    keys = ("mean", "low", "high", "better", "better_low", "better_high", "equal", "worse", "variance_ratio")
    if not count:
        return {key: np.full(len(pairs), np.nan) for key in keys}
    first, second = values[[i for i, _ in pairs]], values[[j for _, j in pairs]]
    difference = (first - second).T
    low, high = simultaneous(difference, confidence, seed)
    signed = -difference if better == "lower" else difference
    wins = (signed > 0).sum(axis=0)
    bounds = np.array([share_interval(int(win), count, confidence) for win in wins])
    return {
        "mean": difference.mean(axis=0),
        "low": low,
        "high": high,
        "better": wins / count,
        "better_low": bounds[:, 0],
        "better_high": bounds[:, 1],
        "equal": (difference == 0).mean(axis=0),
        "worse": (signed < 0).mean(axis=0),
        "variance_ratio": _saved(first, second, difference),
    }


def _saved(first: Floats, second: Floats, difference: Floats) -> Floats:
    """Variance of the difference of independent worlds over that of shared ones; NaN where nothing varies."""
    if difference.shape[0] < 2:
        return np.full(difference.shape[1], np.nan)
    apart = first.var(axis=1, ddof=1) + second.var(axis=1, ddof=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(apart / difference.var(axis=0, ddof=1))


def simultaneous(difference: Floats, confidence: float, seed: int) -> tuple[Floats, Floats]:
    """Give intervals of the means of (replicate, column) that hold for all columns together.

    The distribution of the largest and of the smallest studentised mean over the columns is
    resampled (Westfall and Young 1993, Resampling-based multiple testing), so that columns that go
    together cost little. Columns in which fewer than 20 worlds differ from the commonest value get
    `intervals.mean_interval` at Bonferroni's level. NaN for a single world.
    """
    count, width = difference.shape
    spread = np.ptp(difference, axis=0) > 0
    differing = np.array([count - np.unique(column, return_counts=True)[1].max() for column in difference.T])
    joint = spread & (differing >= _FEWEST) & (count >= _FEWEST)
    each = 1 - (1 - confidence) / max(width, 1)
    low, high = np.full(width, np.nan), np.full(width, np.nan)
    if (~joint).any():
        low[~joint], high[~joint] = mean_interval(difference[:, ~joint], each, seed)
    if joint.any():
        # the columns apart take their part of the error with them
        left = 1 - (1 - confidence) * joint.sum() / width
        low[joint], high[joint] = _max_t(difference[:, joint], left, seed)
    return low, high


def _max_t(values: Floats, confidence: float, seed: int) -> tuple[Floats, Floats]:
    count = len(values)
    mean = values.mean(axis=0)
    centred = values - mean
    error = values.std(axis=0, ddof=1) / np.sqrt(count)
    random = np.random.Generator(np.random.PCG64([seed, count]))
    largest, smallest = np.empty(_RESAMPLES), np.empty(_RESAMPLES)
    for start in range(0, _RESAMPLES, _BLOCK):
        size = min(_BLOCK, _RESAMPLES - start)
        drawn = random.integers(0, count, (size, count)) + count * np.arange(size)[:, None]
        weights = np.bincount(drawn.ravel(), minlength=size * count).reshape(size, count) / count
        means = weights @ centred
        spread = np.sqrt(np.maximum(weights @ centred**2 - means**2, 0) / (count - 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(spread > 0, means / spread, 0.0)
        largest[start : start + size], smallest[start : start + size] = ratio.max(axis=1), ratio.min(axis=1)
    tail = (1 - confidence) / 2
    return mean - np.quantile(largest, 1 - tail) * error, mean - np.quantile(smallest, tail) * error
