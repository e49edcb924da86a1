"""Outcomes by year and by measure: what is compared, and how names and years are checked."""

import itertools
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import xarray as xr

from spreadsim.errors import InputError, one_of, show
from spreadsim.schema import FIRST_YEAR, VARIABLES
from spreadsim.strips import strip_of


@dataclass(frozen=True)
class Measure:
    """One number per world that strategies are judged by or reported with.

    Attributes
    ----------
    name : str
        Short name.
    outcome : str
        The variable of the dataset that it comes from.
    span : str
        "end": the state at the end of the year asked for; "sum": over the years up to it;
        "mean": mean of those years.
    title : str
        For people, without the unit.
    kind : str
        What it counts: "area", "hosts", "seeds", "patches", "share", "hours" or "money".
    better : str
        "lower" or "higher".
    """

    name: str
    outcome: str
    span: str
    title: str
    kind: str
    better: str = "lower"


MEASURES = (
    Measure("infested_area", "infested_area", "end", "infested area", "area"),
    Measure("fruiting_hosts", "fruiting_hosts", "end", "fruiting hosts", "hosts"),
    Measure("climbed_hosts", "climbed_hosts", "end", "climbed hosts", "hosts"),
    Measure("fallen_hosts", "fallen_hosts", "end", "fallen hosts", "hosts"),
    Measure("seeds_exported", "seeds_exported", "sum", "seed leaving the site", "seeds"),
    Measure("new_patches", "new_patches", "sum", "new patches founded by birds", "patches"),
    Measure("native_cover", "native_cover", "end", "native cover", "share", "higher"),
    Measure("hours", "hours", "mean", "hours worked", "hours"),
    Measure("cost", "cost", "mean", "cost", "money"),
)


def outcome_names(dataset: xr.Dataset) -> tuple[str, ...]:
    """Give the outcomes of the dataset that have a value for each strategy, replicate and year."""
    needed = {"strategy", "replicate", "year"}
    return tuple(
        name
        for name in VARIABLES
        if name in dataset and needed <= set(dataset[name].dims) and not VARIABLES[name].is_map
    )


def by_year(dataset: xr.Dataset, outcome: str) -> xr.DataArray:
    """Give an outcome by strategy, replicate and year; work is summed over seasons and tasks.

    Parameters
    ----------
    dataset
        What `compare` returned.
    outcome
        One of `outcome_names`.

    Returns
    -------
    xarray.DataArray
        (strategy, replicate, year), in the unit of the variable; missing at the first year for flows.

    Raises
    ------
    InputError
        The dataset has no such outcome, or no strategies.
    """
    if "strategy" not in dataset.dims:
        raise InputError("dataset: found no dimension strategy, allowed what compare returned, with strategies")
    names = outcome_names(dataset)
    if outcome not in names:
        raise InputError(f"outcome: found {show(outcome)}, allowed {one_of(names)}")
    values = dataset[outcome]
    rest = [dim for dim in values.dims if dim not in ("strategy", "replicate", "year")]
    if rest:
        # a task that a strategy doesn't have is missing, not unknown: nothing was spent on it
        values = _summed(values, rest)
        if VARIABLES[outcome].flow:
            values = values.where(dataset["year"] > first_year(dataset))
        if "mat_area" in dataset:
            values = values.where(dataset["mat_area"].notnull())
    return values.astype(float).transpose("strategy", "replicate", "year")


def _summed(values: xr.DataArray, rest: Sequence[Hashable]) -> xr.DataArray:
    """Sum over some dimensions, a strip of replicates of one strategy at a time: work arrays may be gigabytes."""
    kept = ("strategy", "replicate", "year")
    gone = [name for name, label in values.coords.items() if set(label.dims) & set(rest)]
    frame = values.drop_vars(gone).isel({dim: 0 for dim in rest}).transpose(*kept)
    total, length = np.empty(frame.shape), strip_of(values)
    for s, start in itertools.product(range(total.shape[0]), range(0, total.shape[1], length)):
        here = {"strategy": slice(s, s + 1), "replicate": slice(start, start + length)}
        part = values.isel(here).astype(float).sum(rest, skipna=True)
        total[here["strategy"], here["replicate"]] = part.transpose(*kept).to_numpy()
    return frame.copy(data=total)


def strategy_names(dataset: xr.Dataset) -> tuple[str, ...]:
    """Give the names of the strategies in the order of the dataset."""
    return tuple(str(name) for name in dataset["strategy"].values)


def check_strategy(dataset: xr.Dataset, name: str, place: str) -> str:
    """Give the name back if the dataset has that strategy; else an `InputError` that lists them."""
    names = strategy_names(dataset)
    if name not in names:
        raise InputError(f"{place}: found {show(name)}, allowed {one_of(names)}")
    return name


def first_year(dataset: xr.Dataset) -> int:
    """Give the year at whose end the outcomes begin: 0, the map, unless they begin from a learned state."""
    return int(dataset.attrs.get(FIRST_YEAR, 0))


def check_year(dataset: xr.Dataset, year: int) -> int:
    """Give the year that is meant; a negative one counts from the last, which is -1.

    Raises
    ------
    InputError
        The dataset has no such year.
    """
    years = [int(number) for number in dataset["year"].values]
    whole = isinstance(year, int | np.integer) and not isinstance(year, bool)
    if whole and -len(years) <= year < 0:
        return years[year]
    if not whole or year not in years:
        raise InputError(f"year: found {show(year)}, allowed {years[0]} to {years[-1]}, or -1 (last), -2 and so on")
    return int(year)


def check_confidence(confidence: float) -> float:
    """Give the confidence back if it lies between 0 and 1; else an `InputError`."""
    if isinstance(confidence, bool) or not isinstance(confidence, int | float) or not 0 < confidence < 1:
        raise InputError(f"confidence: found {show(confidence)}, allowed a number above 0 and below 1, such as 0.9")
    return float(confidence)


def base_seed(dataset: xr.Dataset) -> int:
    """Give the seed that resampling starts from, so that an analysis repeats."""
    try:
        return abs(int(dataset.attrs.get("seed", 0)))
    except (TypeError, ValueError):
        return 0


def measured(dataset: xr.Dataset, measure: Measure, year: int) -> xr.DataArray:
    """Give a measure by strategy and replicate, up to or at the end of a year that the dataset has."""
    values = by_year(dataset, measure.outcome)
    first = first_year(dataset) + (1 if VARIABLES[measure.outcome].flow else 0)
    if measure.span == "end" or year < first:
        return values.sel(year=year)
    span = values.sel(year=slice(first, year))
    return span.sum("year", skipna=False) if measure.span == "sum" else span.mean("year", skipna=False)


def unit_of(dataset: xr.Dataset, measure: Measure) -> str:
    """Give the UDUNITS text of a measure: yearly amounts added up lose the year, averaged work gets one."""
    unit = str(dataset[measure.outcome].attrs.get("units", "1"))
    if measure.span == "sum":
        return {"year-1": "1"}.get(unit, unit)
    if measure.span == "mean":
        return "year-1" if unit == "1" else f"{unit} year-1"
    return unit


def measures_of(dataset: xr.Dataset) -> tuple[Measure, ...]:
    """Give the measures that the dataset has the outcomes for."""
    names = outcome_names(dataset)
    return tuple(measure for measure in MEASURES if measure.outcome in names)
