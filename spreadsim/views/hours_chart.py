"""Hours by season and task: what each strategy asks of people, first passes and follow-up apart."""

import textwrap
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from spreadsim.analysis.outcomes import check_year, first_year, strategy_names
from spreadsim.analysis.wording import percent
from spreadsim.errors import InputError
from spreadsim.schema import SEASONS
from spreadsim.views.style import RC, SLIDE, put_title

_FIRST, _AGAIN, _EDGE = "#24507a", "#ffffff", "#24507a"
_MOST_ROWS = 20
_LABEL = 42


class _Row(NamedTuple):
    """One task: hours a year by season, mean over worlds, and the range of the worlds."""

    strategy: str
    task: str
    mean: np.ndarray
    again: np.ndarray
    low: np.ndarray
    high: np.ndarray


def pages_of_hours(dataset: xr.Dataset, names: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Share strategies out over figures that a slide has room for."""
    pages: list[list[str]] = []
    room = 0
    for name in names:
        tasks = len(_places(dataset, name))
        if tasks == 0:
            continue
        if tasks + 1 > room:
            pages.append([])
            room = _MOST_ROWS + 2
        pages[-1].append(name)
        room -= tasks + 1
    return [tuple(page) for page in pages]


def hours_by_season(
    dataset: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    confidence: float = 0.9,
    notice: str = "",
) -> Figure:
    """Draw the hours worked by season and task.

    Parameters
    ----------
    dataset
        What `compare` returned.
    strategies
        Which to draw; all that work if none is named; see `pages_of_hours`.
    years
        The hours are the mean from the first of them to the last; all years if none is named.
    confidence
        Share of the worlds that a line holds.
    notice
        What must be said above, such as that the site is invented.

    Returns
    -------
    matplotlib.figure.Figure
        A row for each task, a column for each season; bars are first pass and follow-up, lines the worlds' range.

    Raises
    ------
    InputError
        The dataset has no hours, or none of the strategies works.
    """
    if "hours" not in dataset or "strategy" not in dataset.dims:
        raise InputError("dataset: found no hours by strategy, allowed what compare returned")
    names = strategies or strategy_names(dataset)
    span = sorted(check_year(dataset, year) for year in years) or [0, int(dataset["year"][-1])]
    begin = first_year(dataset) + 1
    first, last = max(begin, span[0]), max(begin, span[-1])
    rows = [row for name in names for row in _rows(dataset, name, first, last, confidence)]
    if not rows:
        raise InputError("strategy: found none that works, allowed one with tasks")
    places, headings = _lines(rows)
    most = max(float(row.high.max()) for row in rows) or 1.0
    height = max(SLIDE[1], 2.6 + 0.27 * (len(rows) + len(headings)))
    with mpl.rc_context(RC):
        figure = Figure(figsize=(SLIDE[0], height), layout="constrained")
        columns = figure.subplots(1, len(SEASONS), sharey=True)
        for axes, season in zip(columns, SEASONS, strict=True):
            _season(axes, rows, places, SEASONS.index(season))
            axes.set_title(season)
            axes.set_xlabel("h a year")
            axes.set_xlim(0, 1.05 * most)
            axes.set_ylim(max(places) + 0.8, -0.6)
        _labels(columns[0], rows, places, headings)
        _totals(columns[-1], rows, places)
        when = f"year {first}" if first == last else f"years {first} to {last}"
        _legend(figure, dataset, confidence, f"mean of {when}", any(row.again.any() for row in rows))
        put_title(figure, dataset, "Hours by season and task", notice)
    return figure


def _places(dataset: xr.Dataset, name: str) -> list[tuple[int, str]]:
    """Tasks of a strategy: where, and what they are called."""
    titles = dataset["task_name"]
    titles = titles.sel(strategy=name) if "strategy" in titles.dims else titles
    return [(k, str(title)) for k, title in enumerate(titles.values) if str(title)]


def _rows(dataset: xr.Dataset, name: str, first: int, last: int, confidence: float) -> list[_Row]:
    """Hours of a strategy's tasks; one strategy at a time, since work may be gigabytes."""
    here = dataset.sel(strategy=name, year=slice(first, last))
    tail = (1 - confidence) / 2
    rows = []
    for k, title in _places(dataset, name):
        # (replicate, year, season) to (replicate, season); a world without an entry has worked nothing
        hours = _by_world(here["hours"].isel(task=k))
        again = _by_world(here["follow_up_hours"].isel(task=k)) if "follow_up_hours" in dataset else 0 * hours
        low, high = np.quantile(hours, [tail, 1 - tail], axis=0)
        rows.append(_Row(name, title, hours.mean(axis=0), again.mean(axis=0), low, high))
    return rows


def _by_world(hours: xr.DataArray) -> np.ndarray:
    given = hours.transpose("replicate", "year", "season").to_numpy()
    mean: np.ndarray = np.nan_to_num(given).mean(axis=1)
    return mean


def _lines(rows: list[_Row]) -> tuple[list[int], dict[str, int]]:
    """Lines of the tasks, and of the strategies' names above theirs."""
    places, headings, line = [], dict[str, int](), 0
    for row in rows:
        if row.strategy not in headings:
            headings[row.strategy] = line
            line += 1
        places.append(line)
        line += 1
    return places, headings


def _season(axes: Axes, rows: list[_Row], places: list[int], season: int) -> None:
    mean, again, low, high = (np.array([row[k][season] for row in rows]) for k in (2, 3, 4, 5))
    axes.barh(places, mean - again, 0.72, color=_FIRST, edgecolor=_EDGE, lw=0.8)
    axes.barh(places, again, 0.72, left=mean - again, color=_AGAIN, edgecolor=_EDGE, hatch="////", lw=0.8)
    axes.hlines(places, low, high, color="black", lw=1.6)
    axes.vlines(
        np.concatenate([low, high]), np.tile(places, 2) - 0.16, np.tile(places, 2) + 0.16, color="black", lw=1.6
    )
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)


def _labels(axes: Axes, rows: list[_Row], places: list[int], headings: dict[str, int]) -> None:
    titles = [textwrap.shorten(row.task, _LABEL, placeholder="...") for row in rows]
    axes.set_yticks(places, titles)
    for name, line in headings.items():
        axes.annotate(
            textwrap.shorten(name, 60, placeholder="..."),
            (0, line), xycoords=("axes fraction", "data"), xytext=(-6, 0), textcoords="offset points",
            ha="right", va="center", fontweight="bold", fontsize=13, annotation_clip=False, parse_math=False,
        )  # fmt: skip


def _totals(axes: Axes, rows: list[_Row], places: list[int]) -> None:
    """Write the hours of the whole year behind each task."""
    axes.annotate("all year", (1.06, 1.0), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points",
                  ha="left", va="bottom", fontsize=14)  # fmt: skip
    for row, line in zip(rows, places, strict=True):
        total = float(row.mean.sum())
        text = f"{total:,.0f} h" if total >= 10 or total == 0 else f"{total:.1f} h"
        axes.annotate(
            text, (1.06, line), xycoords=("axes fraction", "data"), va="center", fontsize=13, annotation_clip=False
        )


def _legend(figure: Figure, dataset: xr.Dataset, confidence: float, told: str, again: bool) -> None:
    handles: list[Patch | Line2D] = [Patch(facecolor=_FIRST, edgecolor=_EDGE, label="first pass")]
    if again:
        handles.append(Patch(facecolor=_AGAIN, edgecolor=_EDGE, hatch="////", label="follow-up"))
    worlds = dataset.sizes["replicate"]
    if worlds > 1:
        label = f"{percent(confidence)} of {worlds:,} worlds"
        handles.append(Line2D([], [], color="black", lw=1.6, marker="|", ms=9, mew=1.6, label=label))
    figure.legend(handles=handles, loc="outside lower center", ncols=3, title=told)
