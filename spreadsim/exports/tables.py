"""Tables of outcomes as CSV: one line per number of people's interest, plain headings, numbers in SI units."""

import csv
import os
from collections.abc import Callable, Iterable, Iterator
from io import StringIO
from pathlib import Path
from types import MappingProxyType

import numpy as np
import xarray as xr

from spreadsim.analysis.intervals import mean_interval
from spreadsim.analysis.outcomes import (
    base_seed,
    by_year,
    check_confidence,
    first_year,
    outcome_names,
    strategy_names,
)
from spreadsim.errors import InputError, one_of, show
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.formulas import marked

Row = tuple[object, ...]
_AT_ONCE = 1_000_000  # characters


def export_table(
    dataset: xr.Dataset, path: str | os.PathLike[str], name: str = "by-year", *, confidence: float = 0.9
) -> Path:
    """Write a table as CSV (UTF-8, commas, decimal points).

    Parameters
    ----------
    dataset
        What `compare` returned.
    path
        The file; an older one is replaced once the new one is whole.
    name
        - "by-year": each outcome by strategy and year: mean over replicates with its interval, and the range of the
          replicates;
        - "by-replicate": each outcome by strategy, replicate and year;
        - "work": hours, cost, area and hosts treated by strategy, year, season and task, mean over replicates;
        - "parameters": what each replicate drew.
    confidence
        Of the intervals, and the share of replicates in the range.

    Returns
    -------
    pathlib.Path
        The file written. What is not known is left empty.

    Raises
    ------
    InputError
        A name or confidence that is not allowed.
    """
    if name not in TABLES:
        raise InputError(f"table: found {show(name)}, allowed {one_of(TABLES)}")
    check_confidence(confidence)
    return write_rows(path, TABLES[name](dataset, confidence))


def write_rows(path: str | os.PathLike[str], rows: Iterable[Row]) -> Path:
    """Write rows as CSV (UTF-8, commas, decimal points), the headings first; texts never begin a formula."""
    path = Path(path)
    with renamed_when_whole(path) as file:
        lines = StringIO()
        writer = csv.writer(lines, lineterminator="\n")
        for row in rows:
            writer.writerow([_cell(value) for value in row])
            if lines.tell() > _AT_ONCE:
                file.write(lines.getvalue().encode())
                lines.seek(0)
                lines.truncate()
        file.write(lines.getvalue().encode())
    return path


def _cell(value: object) -> object:
    if isinstance(value, float | np.floating):
        return "" if np.isnan(value) else repr(float(value))
    return marked(value) if isinstance(value, str) else value


def _units(dataset: xr.Dataset, outcome: str) -> str:
    attrs = dataset[outcome].attrs
    return str(attrs.get("currency") or attrs.get("units", "1"))


def _by_year(dataset: xr.Dataset, confidence: float) -> Iterator[Row]:
    yield (
        "outcome",
        "unit",
        "strategy",
        "year",
        "mean",
        "low",
        "high",
        "worlds_low",
        "worlds_high",
        "worlds",
    )
    tail = (1 - confidence) / 2
    for outcome in outcome_names(dataset):
        values = by_year(dataset, outcome)
        for strategy in strategy_names(dataset):
            table = values.sel(strategy=strategy).to_numpy()
            known = np.isfinite(table).all(axis=0)
            low, high = (np.full(table.shape[1], np.nan) for _ in range(2))
            if known.any():
                low[known], high[known] = mean_interval(table[:, known], confidence, base_seed(dataset))
            for place, year in enumerate(values["year"].values):
                column = table[:, place]
                numbers: tuple[float, ...] = (np.nan,) * 5
                if known[place]:
                    span = np.quantile(column, [tail, 1 - tail])
                    numbers = (float(column.mean()), low[place], high[place], float(span[0]), float(span[1]))
                yield outcome, _units(dataset, outcome), strategy, int(year), *numbers, len(column)


def _by_replicate(dataset: xr.Dataset, confidence: float) -> Iterator[Row]:
    outcomes = outcome_names(dataset)
    yield "strategy", "replicate", "year", *(f"{name} ({_units(dataset, name)})" for name in outcomes)
    for strategy in strategy_names(dataset):
        columns = [by_year(dataset.sel(strategy=[strategy]), name).to_numpy()[0] for name in outcomes]
        for i, replicate in enumerate(dataset["replicate"].values):
            for place, year in enumerate(dataset["year"].values):
                yield strategy, int(replicate), int(year), *(float(column[i, place]) for column in columns)


def _work(dataset: xr.Dataset, confidence: float) -> Iterator[Row]:
    names = [name for name in outcome_names(dataset) if "task" in dataset[name].dims]
    heads = [f"{name} ({_units(dataset, name)})" for name in names]
    yield "strategy", "year", "season", "position", "task", *heads
    for strategy in strategy_names(dataset):
        means = [dataset[name].sel(strategy=strategy).mean("replicate", skipna=True) for name in names]
        tables = [mean.transpose("year", "season", "task").to_numpy() for mean in means]
        tasks = [str(task) for task in dataset["task_name"].sel(strategy=strategy).values]
        for place, year in enumerate(dataset["year"].values):
            for s, season in enumerate(dataset["season"].values):
                for t, task in enumerate(tasks):
                    if task and year > first_year(dataset):
                        yield strategy, int(year), str(season), t, task, *(float(one[place, s, t]) for one in tables)


def _parameters(dataset: xr.Dataset, confidence: float) -> Iterator[Row]:
    drawn = [str(name) for name in dataset.data_vars if "." in str(name) and dataset[name].dims == ("replicate",)]
    yield "replicate", *(f"{name} ({dataset[name].attrs.get('units', '1')})" for name in drawn)
    columns = [dataset[name].to_numpy() for name in drawn]
    for i, replicate in enumerate(dataset["replicate"].values):
        yield int(replicate), *(float(column[i]) for column in columns)


TABLES: MappingProxyType[str, Callable[[xr.Dataset, float], Iterator[Row]]] = MappingProxyType(
    {"by-year": _by_year, "by-replicate": _by_replicate, "work": _work, "parameters": _parameters}
)
