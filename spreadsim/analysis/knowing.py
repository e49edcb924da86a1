"""What it is worth to know a parameter, all parameters, or what a survey would find, before choosing.

The expected value of partial information by regression on the draws that are there (Strong, Oakley
and Brennan 2014, Med. Decis. Making 34:311; of a sample: Strong et al. 2015, Med. Decis. Making
35:570): each strategy's score, less that of the choice, is regressed on what would be known; what is
gained is the choice's mean less the mean of the lowest fitted value. The regression is least squares
on cubic B-splines (scipy.interpolate), added up where several things are known together.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.needs import require
from spreadsim.analysis.regret import check_score
from spreadsim.errors import InputError, one_of

Floats = NDArray[np.float64]

_PIECES = 3  # of the spline of one parameter, between quantiles of its draws
_SHUFFLES = 20
_MOST_ERRORS = 8  # parameters whose error is worked out, from the most worth knowing
_RESAMPLES = 50


def parameter_names(dataset: xr.Dataset) -> tuple[str, ...]:
    """Give the parameters that differ between the replicates of the dataset."""
    return tuple(
        str(name)
        for name, column in dataset.data_vars.items()
        if "." in str(name) and column.dims == ("replicate",) and np.ptp(column.to_numpy().astype(float)) > 0
    )


def value_of_knowing(
    dataset: xr.Dataset, score: xr.DataArray, parameters: tuple[str, ...] | None = None, *, seed: int = 0
) -> xr.Dataset:
    """Say what knowing each parameter would be worth to the choice (EVPPI).

    Parameters
    ----------
    dataset
        With drawn parameters by replicate.
    score
        (strategy, replicate); lower is better.
    parameters
        Names; all that were drawn if not given.
    seed
        Of resampling and shuffling.

    Returns
    -------
    xarray.Dataset
        By parameter, from the most worth knowing: `value` in units of the score, at least 0; its
        `error` (standard error, by resampling worlds; of
        the first eight); `above_noise`, whether it is more than the
        95 % quantile of the largest value among all parameters when worlds are shuffled (attribute
        `noise`), since a regression finds something in pure chance.

    Raises
    ------
    InputError
        An unknown parameter, or fewer than 50 worlds.
    """
    known = parameter_names(dataset)
    wanted = known if parameters is None else parameters
    if unknown := [name for name in wanted if name not in known]:
        raise InputError(*(f'parameters: found "{name}", allowed {one_of(known)}' for name in unknown))
    gains, means = _gains(score)
    if not wanted:
        return xr.Dataset({"value": ("parameter", [])}, {"parameter": []}, {"noise": 0.0})
    random = np.random.Generator(np.random.PCG64([seed, len(gains)]))
    bases = [_columns(dataset[name].to_numpy().astype(float)[:, None]) for name in wanted]
    values = np.array([_worth(basis, gains, means) for basis in bases])
    shuffled = [
        max(_worth(basis, gains[order], means) for basis in bases)
        for order in (random.permutation(len(gains)) for _ in range(_SHUFFLES))
    ]
    noise = float(np.quantile(shuffled, 0.95))
    order = np.argsort(-values, kind="stable")
    errors = np.full(len(wanted), np.nan)
    for at in order[:_MOST_ERRORS]:
        errors[at] = _error(bases[at], gains, random)
    data = {"value": values[order], "error": errors[order], "above_noise": values[order] > noise}
    return xr.Dataset(
        {name: ("parameter", column) for name, column in data.items()},
        {"parameter": [wanted[at] for at in order]},
        {"noise": noise},
    )


def value_of_statistics(score: xr.DataArray, statistics: Mapping[str, Any], *, seed: int = 0) -> dict[str, float]:
    """Say what it is worth to see some numbers of each world before choosing.

    Parameters
    ----------
    score
        (strategy, replicate); lower is better.
    statistics
        Name to (replicate,): what would be seen, luck of the survey included (EVSI), or several
        parameters that would be known together (EVPPI). At most a tenth of the worlds in number.
    seed
        Of resampling.

    Returns
    -------
    dict
        `value` in units of the score and its standard `error`.

    Raises
    ------
    InputError
        Lengths that differ, numbers missing, too few worlds.
    """
    gains, means = _gains(score)
    seen = {name: np.asarray(column, dtype=float) for name, column in statistics.items()}
    faults = [
        f"statistics.{name}: found shape {column.shape} or missing numbers, allowed {len(gains)} finite numbers"
        for name, column in seen.items()
        if column.shape != (len(gains),) or not np.isfinite(column).all()
    ]
    if faults:
        raise InputError(*faults)
    varying = [column for column in seen.values() if np.ptp(column) > 0]
    if not varying:
        return {"value": 0.0, "error": 0.0}
    basis = _columns(np.stack(varying, axis=1))
    random = np.random.Generator(np.random.PCG64([seed, len(gains)]))
    return {"value": _worth(basis, gains, means), "error": _error(basis, gains, random)}


def survey_value(
    score: xr.DataArray, surveys: Mapping[float, Mapping[str, Any]], *, hour_worth: float = 0.0, seed: int = 0
) -> xr.Dataset:
    """Say whether to scout before the first work season, and for how many hours.

    Parameters
    ----------
    score
        (strategy, replicate); lower is better. Of strategies as they would go on after the survey.
    surveys
        Hours of scouting to what they would find in each world: name of a statistic to
        (replicate,), such as fruiting hosts found, with the luck of the search in it.
    hour_worth
        What an hour of scouting takes from the score (its price, or the gain of the work that it
        replaces), in units of the score.
    seed
        Of resampling.

    Returns
    -------
    xarray.Dataset
        By hours, from 0: `value`, `error`, `net` (value less the hours' worth). Attributes: `hours`,
        those of the largest net value, 0 if none is above 0 by two standard errors; `sentence`.
    """
    if not np.isfinite(hour_worth) or hour_worth < 0:
        raise InputError(f"hour_worth: found {hour_worth}, allowed 0 or more")
    if bad := [hours for hours in surveys if not np.isfinite(hours) or hours < 0]:
        raise InputError(f"surveys: found {bad[0]} hours, allowed 0 or more")
    hours = np.array(sorted({0.0, *map(float, surveys)}))
    found = [value_of_statistics(score, surveys.get(at, {}), seed=seed) for at in hours]
    value, error = np.array([one["value"] for one in found]), np.array([one["error"] for one in found])
    net = value - hour_worth * hours
    best = int(net.argmax())
    surely = net[best] > 2 * error[best] and best > 0
    if surely:
        sentence = (
            f"Scouting first is worth it: {hours[best]:g} h gain {net[best]:.3g} (standard error {error[best]:.2g}) "
            "after what they take, the most of those tried."
        )
    else:
        sentence = "No survey of those tried is surely worth its hours before the first work season."
    return xr.Dataset(
        {"value": ("hours", value), "error": ("hours", error), "net": ("hours", net)},
        {"hours": hours},
        {"hours": float(hours[best]) if surely else 0.0, "sentence": sentence},
    )


def _gains(score: xr.DataArray) -> tuple[Floats, Floats]:
    """What each strategy gains over the choice, (replicate, strategy), and the means of that (none above 0)."""
    require("scipy")
    values = check_score(score)
    if values.shape[1] < 50:
        raise InputError(f"score: found {values.shape[1]} worlds, allowed 50 or more for a regression")
    chosen = values.mean(axis=1).argmin()
    gains = (values[chosen] - values).T
    return gains, gains.mean(axis=0)


def _columns(known: Floats) -> Floats:
    """Orthonormal basis of the splines of the columns of (replicate, column), with a constant."""
    from scipy.interpolate import BSpline
    from scipy.linalg import qr

    count = len(known)
    parts = [np.ones((count, 1))]
    pieces = _PIECES if known.shape[1] == 1 else 1
    for column in known.T:
        inner = np.quantile(column, np.linspace(0, 1, pieces + 1))
        low, high = inner[0], inner[-1]
        scaled = (column - low) / (high - low)
        breaks = np.unique((inner - low) / (high - low))
        degree = min(3, len(np.unique(column)) - 1)
        knots = np.r_[[0.0] * degree, breaks, [1.0] * degree]
        parts.append(BSpline.design_matrix(scaled, knots, degree).toarray())
    # columns that say the same twice (splines add up to the constant) fall out by their pivots
    basis, triangle, _ = qr(np.hstack(parts), mode="economic", pivoting=True)
    kept = np.abs(np.diag(triangle)) > 1e-9 * abs(triangle[0, 0])
    if 10 * kept.sum() > 5 * count:
        raise InputError(f"statistics: found {known.shape[1]}, too many for {count} worlds; allowed a tenth of them")
    return np.asarray(basis[:, kept])


def _worth(basis: Floats, gains: Floats, means: Floats) -> float:
    fitted = basis @ (basis.T @ gains)
    return float(max(fitted.max(axis=1).mean() - max(means.max(), 0.0), 0.0))


def _error(basis: Floats, gains: Floats, random: np.random.Generator) -> float:
    """Standard error by resampling worlds, each with its own fit."""
    from scipy.linalg import lstsq

    count = len(gains)
    worths = []
    for _ in range(_RESAMPLES):
        times = np.bincount(random.integers(0, count, count), minlength=count)
        # normal equations serve, since the columns are orthonormal in the worlds themselves
        weighted = basis * times[:, None]
        weights, *_ = lstsq(weighted.T @ basis, weighted.T @ gains)
        fitted = basis @ weights
        worth = times @ fitted.max(axis=1) - (times @ fitted).max()
        worths.append(max(float(worth) / count, 0.0))
    return float(np.std(worths, ddof=1))
