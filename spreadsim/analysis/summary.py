"""A summary of the outcomes: every measure by strategy, and every pair of strategies compared."""

import numpy as np
import xarray as xr

from spreadsim.analysis.intervals import mean_interval, quantile_ranks, share_interval
from spreadsim.analysis.outcomes import (
    Measure,
    base_seed,
    check_confidence,
    check_year,
    first_year,
    measured,
    measures_of,
    strategy_names,
    unit_of,
)

NO_ACTION = "no action"

_BY_STRATEGY = {
    "mean": "mean over worlds",
    "mean_low": "lower end of the interval of the mean",
    "mean_high": "upper end of the interval of the mean",
    "median": "median over worlds",
    "median_low": "lower end of the interval of the median, by ranks",
    "median_high": "upper end of the interval of the median, by ranks",
    "world_low": "lower end of the range of the worlds",
    "world_high": "upper end of the range of the worlds",
}
_BY_PAIR = {
    "difference": "mean difference, strategy less other, world by world",
    "difference_low": "lower end of the interval of the mean difference",
    "difference_high": "upper end of the interval of the mean difference",
    "better": "share of worlds in which the strategy is better than the other",
    "better_low": "lower end of Wilson's interval of that share",
    "better_high": "upper end of Wilson's interval of that share",
    "equal": "share of worlds in which both are equal",
}


def summarise(dataset: xr.Dataset, *, year: int = -1, confidence: float = 0.9) -> xr.Dataset:
    """Summarise what `compare` returned.

    Parameters
    ----------
    dataset
        Outcomes with strategies.
    year
        Year whose end is reported, and up to which yearly amounts are added up or averaged;
        negative ones count from the last, which is -1.
    confidence
        Of all intervals.

    Returns
    -------
    xarray.Dataset
        By (measure, strategy): mean, median, their intervals, and the range of the worlds. By
        (measure, strategy, other): the paired difference and the chance that the strategy is
        better than the other (lower, for native cover higher). Numbers are in the unit named in the
        coordinate `unit`. Attributes: year, confidence, worlds.

    Raises
    ------
    InputError
        A year or confidence that is not allowed, or a dataset without strategies.
    """
    label, confidence = check_year(dataset, year), check_confidence(confidence)
    measures = [
        measure for measure in measures_of(dataset) if bool(np.isfinite(measured(dataset, measure, label)).any())
    ]
    names = strategy_names(dataset)
    seed = base_seed(dataset)
    shape = (len(measures), len(names))
    single = {name: np.full(shape, np.nan) for name in _BY_STRATEGY}
    pairs = {name: np.full((*shape, len(names)), np.nan) for name in _BY_PAIR}
    worlds = 0
    for row, measure in enumerate(measures):
        values = measured(dataset, measure, label).transpose("replicate", "strategy").to_numpy()
        values = values[np.isfinite(values).all(axis=1)]
        worlds = max(worlds, len(values))
        for name, numbers in _by_strategy(values, confidence, seed).items():
            single[name][row] = numbers
        for name, numbers in _by_pair(values, measure, confidence, seed).items():
            pairs[name][row] = numbers
    units = [unit_of(dataset, measure) for measure in measures]
    data: dict[str, tuple[tuple[str, ...], np.ndarray, dict[str, str]]] = {}
    for name, numbers in single.items():
        data[name] = (("measure", "strategy"), numbers, {"long_name": _BY_STRATEGY[name]})
    for name, numbers in pairs.items():
        data[name] = (("measure", "strategy", "other"), numbers, {"long_name": _BY_PAIR[name]})
    coords = {
        "measure": [measure.name for measure in measures],
        "strategy": list(names),
        "other": list(names),
        "unit": ("measure", units),
    }
    currency = str(dataset.attrs.get("currency", "") or "")
    attrs = {
        "year": label,
        "first": first_year(dataset),
        "confidence": confidence,
        "worlds": worlds,
        "currency": currency,
    }
    return xr.Dataset(data, coords=coords, attrs=attrs)


def _by_strategy(values: np.ndarray, confidence: float, seed: int) -> dict[str, np.ndarray]:
    """Numbers of (world, strategy) values, each (strategy,)."""
    tail = (1 - confidence) / 2
    low, high = mean_interval(values, confidence, seed)
    ranks = quantile_ranks(len(values), 0.5, confidence)
    ordered = np.sort(values, axis=0)
    missing = np.full(values.shape[1], np.nan)
    return {
        "mean": values.mean(axis=0),
        "mean_low": low,
        "mean_high": high,
        "median": np.median(values, axis=0),
        "median_low": ordered[ranks[0] - 1] if ranks else missing,
        "median_high": ordered[ranks[1] - 1] if ranks else missing,
        "world_low": np.quantile(values, tail, axis=0),
        "world_high": np.quantile(values, 1 - tail, axis=0),
    }


def _by_pair(values: np.ndarray, measure: Measure, confidence: float, seed: int) -> dict[str, np.ndarray]:
    """Numbers of every pair, each (strategy, other)."""
    worlds, count = values.shape
    difference = values[:, :, None] - values[:, None, :]
    low, high = mean_interval(difference, confidence, seed)
    gain = -difference if measure.better == "lower" else difference
    won = (gain > 0).sum(axis=0)
    bounds = np.array([[share_interval(int(cell), worlds, confidence) for cell in row] for row in won])
    return {
        "difference": difference.mean(axis=0),
        "difference_low": low.reshape(count, count),
        "difference_high": high.reshape(count, count),
        "better": won / worlds,
        "better_low": bounds[:, :, 0],
        "better_high": bounds[:, :, 1],
        "equal": (difference == 0).mean(axis=0),
    }
