"""The paired difference between two strategies in the same replicate worlds."""

from collections.abc import Callable

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.intervals import mean_interval
from spreadsim.analysis.outcomes import base_seed, by_year, check_confidence, check_strategy, check_year
from spreadsim.errors import InputError, Problems


def contrast(
    dataset: xr.Dataset,
    outcome: str,
    first: str,
    second: str,
    *,
    year: int = -1,
    confidence: float = 0.9,
) -> xr.Dataset:
    """Compare two strategies world by world.

    Parameters
    ----------
    dataset
        What `compare` returned.
    outcome
        Name of a variable by strategy, replicate and year; work (hours, cost...) is summed over
        its seasons and tasks.
    first, second
        Names of strategies.
    year
        Year of the dataset; negative ones count from the last, which is -1.
    confidence
        Of the interval of the mean, and the share of worlds between `world_low` and `world_high`.

    Returns
    -------
    xarray.Dataset
        Numbers without dimensions. `mean` of first - second over the worlds, with its interval
        `low` to `high` by bootstrap (see `intervals.mean_interval`; missing for a single world);
        `world_low` and `world_high`, the quantiles of the differences themselves; `lower`, `equal`
        and `higher`, the shares of worlds in which the first is so.

    Raises
    ------
    InputError
        A name, a year or a confidence that is not allowed, or an outcome missing in that year.
    """
    _check(dataset, outcome, first, second, year, confidence)
    label = check_year(dataset, year)
    values = by_year(dataset, outcome).sel(year=label)
    difference = (values.sel(strategy=first) - values.sel(strategy=second)).to_numpy()
    difference = difference[np.isfinite(difference)]
    if not len(difference):
        raise InputError(f"year: found {label}, for which {outcome} is missing; allowed a year for which it is known")
    numbers = paired(difference, confidence, base_seed(dataset))
    units = str(dataset[outcome].attrs.get("units", "1"))
    result = xr.Dataset(
        {name: ((), number, _describe(name, outcome, units)) for name, number in numbers.items()},
        attrs={
            "title": f"{outcome}: {first} less {second}, year {label}",
            "outcome": outcome,
            "first": first,
            "second": second,
            "year": label,
            "confidence": confidence,
            "replicates": len(difference),
        },
    )
    return result


def _check(dataset: xr.Dataset, outcome: str, first: str, second: str, year: int, confidence: float) -> None:
    """Raise one `InputError` with everything that is wrong with the arguments."""
    problems = Problems()
    checks: list[Callable[[], object]] = [
        lambda: by_year(dataset, outcome),
        lambda: check_year(dataset, year),
        lambda: check_confidence(confidence),
    ]
    if "strategy" in dataset.dims:
        checks[1:1] = [
            lambda: check_strategy(dataset, first, "first"),
            lambda: check_strategy(dataset, second, "second"),
        ]
    for check in checks:
        try:
            check()
        except InputError as error:
            problems.absorb(error)
    problems.raise_if_any()


def paired(difference: NDArray[np.float64], confidence: float, seed: int) -> dict[str, float]:
    """Summarise differences of worlds, (replicate,), finite; the names are those of `contrast`."""
    low, high = mean_interval(difference, confidence, seed)
    tail = (1 - confidence) / 2
    world_low, world_high = np.quantile(difference, [tail, 1 - tail])
    same = np.ptp(difference) == 0
    return {
        "mean": float(difference[0] if same else difference.mean()),
        "low": float(low[0]),
        "high": float(high[0]),
        "world_low": float(world_low),
        "world_high": float(world_high),
        "lower": float(np.mean(difference < 0)),
        "equal": float(np.mean(difference == 0)),
        "higher": float(np.mean(difference > 0)),
    }


def _describe(name: str, outcome: str, units: str) -> dict[str, str]:
    words = {
        "mean": f"mean difference in {outcome}, first less second",
        "low": "lower end of the interval of the mean",
        "high": "upper end of the interval of the mean",
        "world_low": "lower end of the range of the worlds",
        "world_high": "upper end of the range of the worlds",
        "lower": "share of worlds in which the first is lower",
        "equal": "share of worlds in which both are equal",
        "higher": "share of worlds in which the first is higher",
    }
    share = name in ("lower", "equal", "higher")
    return {"units": "1" if share else units, "long_name": words[name]}
