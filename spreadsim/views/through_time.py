"""Outcomes through time: one small chart for each outcome, one line and band for each strategy."""

import textwrap
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from spreadsim.analysis.outcomes import by_year, first_year, outcome_names, strategy_names
from spreadsim.analysis.wording import Scale, percent
from spreadsim.views.style import RC, SLIDE, Line, lines_of, put_title


@dataclass(frozen=True)
class Panel:
    """One small chart."""

    outcome: str
    title: str
    kind: str


PANELS = (
    Panel("infested_area", "Infested area", "area"),
    Panel("climbed_hosts", "Climbed hosts", "hosts"),
    Panel("fruiting_hosts", "Fruiting hosts", "hosts"),
    Panel("seeds_exported", "Seeds leaving the site", "seeds"),
    Panel("native_cover", "Native cover", "share"),
    Panel("hours", "Hours worked", "hours"),
)


def through_time(
    dataset: xr.Dataset,
    *,
    system: str = "metric",
    confidence: float = 0.9,
    strategies: tuple[str, ...] = (),
    notice: str = "",
) -> Figure:
    """Draw the outcomes of all strategies through the years.

    Parameters
    ----------
    dataset
        What `compare` returned.
    system
        Units to show, "metric" or "us".
    confidence
        Share of the worlds that a band holds.
    strategies
        Which to draw; all if none is named. Their colours stay those that they have among all.
    notice
        What must be said below the figure, such as that the site is invented.

    Returns
    -------
    matplotlib.figure.Figure
        Lines are means over the worlds; the bars behind the last year repeat the bands there, side by
        side, for where bands hide each other. An outcome that the dataset lacks is left out.
    """
    every = lines_of(strategy_names(dataset))
    lines = {name: every[name] for name in strategies or every}
    known = outcome_names(dataset)
    panels = [panel for panel in PANELS if panel.outcome in known]
    with mpl.rc_context(RC):
        figure = Figure(figsize=SLIDE, layout="constrained")
        rows = max(1, -(-len(panels) // 3))
        grid = figure.subplots(rows, 3, squeeze=False, sharex=True)
        for axes, panel in zip(grid.flat, panels, strict=False):
            draw_panel(axes, dataset, panel, lines, system, confidence)
        for axes in grid.flat[len(panels) :]:
            axes.set_visible(False)
        for axes in grid[-1]:
            axes.set_xlabel("year")
        _legend(
            figure,
            lines,
            f"line: mean of {dataset.sizes['replicate']:,} worlds; band and bar: {percent(confidence)} of them",
        )
        put_title(figure, dataset, "Outcomes through time", notice)
    return figure


def lines_key(lines: dict[str, Line], *, small: bool = False) -> tuple[list[Line2D], list[str]]:
    """Give the marks and names for a key of lines; `small` as for `draw_panel`."""
    width, size = (1.6, 4.0) if small else (2.5, 7.0)
    handles = [
        Line2D([], [], color=line.colour, ls=line.dashes, marker=line.marker, lw=width, ms=size)
        for line in lines.values()
    ]
    return handles, [textwrap.shorten(name, 48, placeholder="...") for name in lines]


def _legend(figure: Figure, lines: dict[str, Line], told: str) -> None:
    handles, labels = lines_key(lines)
    columns = min(len(labels), 4 if max(map(len, labels)) < 24 else 3 if max(map(len, labels)) < 37 else 2)
    figure.legend(handles, labels, loc="outside lower center", ncols=columns, handlelength=3.5, title=told)


def draw_panel(
    axes: Axes,
    dataset: xr.Dataset,
    panel: Panel,
    lines: dict[str, Line],
    system: str,
    confidence: float,
    *,
    small: bool = False,
) -> None:
    """Draw one outcome of all strategies through the years.

    Parameters
    ----------
    axes
        Where to.
    dataset
        What `compare` returned.
    panel
        Which outcome.
    lines
        By strategy, from `style.lines_of`.
    system
        Units to show, "metric" or "us".
    confidence
        Share of the worlds that a band holds.
    small
        Thinner lines, for a chart of a few centimetres.
    """
    width, size = (1.6, 4.0) if small else (2.5, 7.0)
    values = by_year(dataset, panel.outcome).dropna("year", how="all")
    tail = (1 - confidence) / 2
    mean = values.mean("replicate")
    bands = values.quantile([tail, 1 - tail], dim="replicate")
    bands = bands.sel(strategy=list(lines))
    scale = Scale(bands.to_numpy().ravel(), panel.kind, system)
    years = values["year"].to_numpy()
    step = max(1, len(years) // 6)
    alpha = 0.16 if len(lines) <= 4 else 0.08
    first = first_year(dataset)
    last = max(first + 1.0, float(years[-1]))
    length = last - first
    for place, (name, line) in enumerate(lines.items()):
        low, high = bands.sel(strategy=name).to_numpy() * scale.factor
        middle = mean.sel(strategy=name).to_numpy() * scale.factor
        axes.fill_between(years, low, high, color=line.colour, alpha=alpha, lw=0)
        every = (1 + place * step // max(1, len(lines)), step)
        style: Any = {"color": line.colour, "marker": line.marker, "ms": size}
        axes.plot(years, middle, ls=line.dashes, lw=width, markevery=every, **style)
        beside = last + length * (0.03 + 0.025 * place)
        axes.plot([beside, beside], [low[-1], high[-1]], color=line.colour, lw=1.2 * width, solid_capstyle="butt")
        face = line.colour if line.marker else "#ffffff"
        style |= {"marker": line.marker or "o", "ms": 0.85 * size}
        axes.plot([beside], middle[-1:], mfc=face, clip_on=False, **style)
    unit = {"hosts": "", "seeds": scale.unit.replace("seeds", "a year")}.get(panel.kind, scale.unit)
    between = "\n" if small else " "  # a chart of a few centimetres has no room for both in a line
    axes.set_title(f"{panel.title},{between}{unit}" if unit else panel.title)
    axes.set_xlim(first, last + length * (0.04 + 0.025 * len(lines)))
    top = 100.0 if panel.kind == "share" else float(np.nanmax(bands.to_numpy(), initial=0.0)) * scale.factor
    axes.set_ylim(0, 1.05 * top if top > 0 else 1)
    axes.set_xticks(_ticks(first, int(last)))
    axes.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 2.5, 5, 10], integer=panel.kind in ("hosts", "seeds")))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda number, _: f"{number:,.10g}"))


def _ticks(first: int, last: int) -> list[int]:
    """Years to name on the axis, from the first to the last: none beyond, where the bars stand."""
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if last - first <= 7 * step)
    return [year for year in range(last + 1) if year >= first and (year % step == 0 or year == first)]
