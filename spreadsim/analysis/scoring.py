"""Scores by goals, taken apart into their outcomes; net present cost; how often a limit is broken."""

import numpy as np
import xarray as xr

from spreadsim.analysis.goals import NET_PRESENT_COST, Goals, Limit
from spreadsim.analysis.intervals import share_interval
from spreadsim.analysis.outcomes import (
    MEASURES,
    by_year,
    check_year,
    first_year,
    measured,
    measures_of,
    outcome_names,
)
from spreadsim.errors import InputError, one_of
from spreadsim.inputs.strategy import Strategy

_BY_NAME = {measure.name: measure for measure in MEASURES}


def scores(dataset: xr.Dataset, goals: Goals) -> xr.Dataset:
    """Give every strategy's score in every world, and what it is made of.

    Parameters
    ----------
    dataset
        What `compare` returned.
    goals
        With weights: the score is the sum of weight times outcome. With an order: the outcome that comes first.

    Returns
    -------
    xarray.Dataset
        `score` (strategy, replicate), lower is better; `part` (outcome, strategy, replicate), which add up to it;
        `amount`, the same before weighing; `weight` (outcome), negative where more is better. The measures are those of
        `outcomes.MEASURES`: states at the end of the year, seed and new patches added up, hours and cost a year on
        average.

    Raises
    ------
    InputError
        An outcome or a year that the dataset doesn't have, or no goal at all.
    """
    weights = dict(goals.weights) or dict.fromkeys(goals.order[:1], 1.0)
    if not weights:
        raise InputError("goals: found neither weights nor an order, allowed one of them")
    amounts = [amount_of(dataset, name, goals) for name in weights]
    signs = [-1.0 if name in _BY_NAME and _BY_NAME[name].better == "higher" else 1.0 for name in weights]
    weight = xr.DataArray(np.array(signs) * list(weights.values()), {"outcome": list(weights)}, ["outcome"])
    amount = xr.concat(amounts, dim="outcome").assign_coords(outcome=list(weights))
    part = amount * weight
    result = xr.Dataset({"score": part.sum("outcome", skipna=False), "part": part, "amount": amount, "weight": weight})
    return result.drop_vars([name for name in result.coords if name not in ("outcome", "strategy", "replicate")])


def amount_of(dataset: xr.Dataset, name: str, goals: Goals) -> xr.DataArray:
    """Give one outcome, or the net present cost, by strategy and replicate."""
    year = check_year(dataset, goals.year)
    if name == NET_PRESENT_COST:
        amount = net_present_cost(dataset, goals.discount, hour_value=goals.hour_value, unpaid=goals.unpaid, year=year)
    else:
        names = [measure.name for measure in measures_of(dataset)]
        if name not in names:
            raise InputError(f'goals: found "{name}", allowed {one_of(names)}')
        amount = measured(dataset, _BY_NAME[name], year)
    return amount.transpose("strategy", "replicate").reset_coords(drop=True)


def net_present_cost(
    dataset: xr.Dataset,
    discount: float = 0.03,
    *,
    hour_value: float = 0.0,
    unpaid: bool = False,
    year: int = -1,
    when: str = "end",
) -> xr.DataArray:
    """Give what the work of all years would cost today.

    Parameters
    ----------
    dataset
        With `cost`.
    discount
        Rate a year; 0.03 makes a cost due in a year 1.03 times as small.
    hour_value
        What an hour of anybody's work is worth beside the cash, in money.
    unpaid
        Whether `match`, the value of unpaid hours, is added.
    year
        Last year that counts.
    when
        "end": each year's cost falls due at its end; "start": at its start (an annuity due). The first year is that
        in which the runs begin.

    Returns
    -------
    xarray.DataArray
        (strategy, replicate), money of the dataset's price year.

    Raises
    ------
    InputError
        A variable is missing, or the rate is not above -1.
    """
    if not np.isfinite(discount) or discount <= -1:
        raise InputError(f"discount: found {discount}, allowed a rate above -1, such as 0.03")
    if when not in ("start", "end"):
        raise InputError(f'when: found "{when}", allowed {one_of(("start", "end"))}')
    last = check_year(dataset, year)
    money = by_year(dataset, "cost")
    if unpaid:
        money = money + by_year(dataset, "match")
    if hour_value:
        money = money + hour_value * by_year(dataset, "hours")
    first = first_year(dataset)
    money = money.sel(year=slice(first + 1, last))
    years = money["year"] - first - (1 if when == "start" else 0)
    return (money / (1 + discount) ** years).sum("year", skipna=False)


def broken(dataset: xr.Dataset, limit: Limit, confidence: float = 0.9) -> xr.Dataset:
    """Say how often each strategy breaks a limit.

    Returns
    -------
    xarray.Dataset
        By strategy: `share` of worlds in which it is broken at least once, with Wilson's `low` and `high`; by strategy
        and replicate: `worlds`, whether it is.

    Raises
    ------
    InputError
        The dataset doesn't have what the limit is about.
    """
    worlds = _unwanted(dataset, limit) if limit.no else _beyond(dataset, limit)
    count = worlds.sizes["replicate"]
    hits = worlds.sum("replicate").to_numpy()
    bounds = np.array([share_interval(int(one), count, confidence) for one in hits])
    data = {"share": hits / count, "low": bounds[:, 0], "high": bounds[:, 1]}
    table = xr.Dataset({key: ("strategy", one) for key, one in data.items()}, {"strategy": worlds["strategy"].values})
    return table.assign(worlds=worlds)


def _beyond(dataset: xr.Dataset, limit: Limit) -> xr.DataArray:
    values = by_year(dataset, _BY_NAME[limit.outcome].outcome)
    first = first_year(dataset) + 1
    if limit.by is not None and limit.by > first:
        first = check_year(dataset, limit.by)
    values = values.sel(year=slice(first, None))
    if limit.under is not None:
        over = values >= limit.under
    elif limit.most is not None:
        over = values > limit.most
    else:
        over = values < (limit.least or 0.0)
    return over.any("year").reset_coords(drop=True)


def _unwanted(dataset: xr.Dataset, limit: Limit) -> xr.DataArray:
    """Whether hours went to the treatment, in tasks that may go to the unit."""
    from spreadsim.inputs.embed import unembed

    if "hours" not in outcome_names(dataset):
        raise InputError("goals: found a limit on a treatment, allowed only where the dataset has hours")
    experiment = unembed(dataset)
    units = experiment.site.unit_names
    if limit.unit and limit.unit not in units:
        raise InputError(f'goals: found the unit "{limit.unit}", allowed {one_of(units)}')
    worlds = [
        _hours_on(dataset, strategy, limit).transpose("replicate", "strategy").isel(strategy=0, drop=True) > 0
        for strategy in experiment.strategies
    ]
    names = [strategy.name for strategy in experiment.strategies]
    joined = xr.concat(worlds, dim="strategy", coords="minimal", compat="override").assign_coords(strategy=names)
    return joined.sel(strategy=dataset["strategy"].values).transpose("strategy", "replicate").reset_coords(drop=True)


def _hours_on(dataset: xr.Dataset, strategy: Strategy, limit: Limit) -> xr.DataArray:
    """Hours of tasks that may go to the unit, as far as they may be the treatment's, by replicate."""
    of_tasks = dataset.sel(strategy=[strategy.name])
    total = xr.zeros_like(of_tasks["hours"].isel(year=0, season=0, task=0, drop=True))
    for at, task in enumerate(strategy.tasks):
        if limit.unit and task.units and limit.unit not in task.units:
            continue
        own = any(is_meant(name, limit.no) for name in (task.treatment, task.instead))
        visits = task.follow_up is not None and is_meant(task.follow_up.treatment, limit.no)
        if own or visits:
            # what replaces a treatment on unfit days isn't told apart: the task's hours count
            name = "hours" if own or "follow_up_hours" not in dataset else "follow_up_hours"
            total = total + of_tasks[name].isel(task=at, drop=True).sum(["season", "year"])
    return total.fillna(0.0)


def is_meant(treatment: str | None, unwanted: str) -> bool:
    """Tell whether a treatment is the one not wanted, such as "foliar-spray" or any "spray"."""
    return treatment is not None and (treatment == unwanted or treatment.endswith(f"-{unwanted}"))
