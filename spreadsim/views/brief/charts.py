"""Small charts of the brief, drawn at the size at which they are printed."""

from __future__ import annotations

import textwrap
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from spreadsim.analysis.outcomes import outcome_names, strategy_names
from spreadsim.inputs.task import kind_of_work
from spreadsim.views.brief.facts import Facts, shorten
from spreadsim.views.style import RC, lines_of
from spreadsim.views.through_time import PANELS, draw_panel, lines_key

_PRINT: Any = {**RC, "font.size": 8.5, "axes.titlesize": 9, "axes.labelsize": 8.5, "legend.fontsize": 8}
# from dark to light, with a hatch each: told apart in grey as well
_PARTS = (("first pass", "#08519c", ""), ("follow-up", "#f0b04c", "////"), ("holding", "#dddddd", "...."))
HOLDING = ("search", "sources", "natives")
FEW_OUTCOMES = ("infested_area", "fruiting_hosts", "seeds_exported")


def hours_by_year(facts: Facts) -> Figure | None:
    """Draw the hours of the choice by year: first pass, follow-up, holding; None where there are none.

    Bars are means over the worlds; the line on each is where 90 % of the worlds lie with all three together.
    """
    strategy = facts.chosen
    if strategy is None or "hours" not in outcome_names(facts.dataset):
        return None
    hours = facts.dataset["hours"].sel(strategy=strategy.name).isel(year=slice(1, None)).sum("season")
    table = np.nan_to_num(hours.transpose("replicate", "year", "task").to_numpy())
    again = np.zeros_like(table)
    if "follow_up_hours" in facts.dataset:
        given = facts.dataset["follow_up_hours"].sel(strategy=strategy.name).isel(year=slice(1, None)).sum("season")
        again = np.nan_to_num(given.transpose("replicate", "year", "task").to_numpy())
    kinds = [kind_of_work(facts.experiment.treatment(task.treatment)) for task in strategy.tasks]
    holds = np.array([kind in HOLDING for kind in [*kinds, *[""] * table.shape[2]]][: table.shape[2]])
    parts = [
        (table - again)[:, :, ~holds].sum(axis=2).mean(axis=0),
        again.sum(axis=2).mean(axis=0),
        (table - again)[:, :, holds].sum(axis=2).mean(axis=0),
    ]
    low, high = np.quantile(table.sum(axis=2), [0.05, 0.95], axis=0)
    years = hours["year"].to_numpy()
    with mpl.rc_context({**_PRINT, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(2.85, 2.05), layout="constrained")
        axes = figure.subplots()
        below = np.zeros(len(years))
        for values, (_, colour, hatch) in zip(parts, _PARTS, strict=True):
            axes.bar(years, values, 0.78, bottom=below, color=colour, hatch=hatch, edgecolor="#303030", lw=0.3)
            below = below + values
        if facts.worlds > 1:
            axes.vlines(years, low, high, color="#000000", lw=0.7)
        axes.set_axisbelow(True)
        axes.set_xlim(0.3, float(years[-1]) + 0.7)
        axes.set_ylim(0, 1.05 * max(float(np.max(high, initial=0.0)), float(below.max()), 1.0))
        axes.xaxis.set_major_locator(MaxNLocator(min(len(years), 7), integer=True))
        axes.yaxis.set_major_locator(MaxNLocator(4))
        axes.set_ylabel("hours")
        axes.set_xlabel("year", labelpad=0)
        handles = [Patch(fc=colour, hatch=hatch, ec="#303030", lw=0.5, label=name) for name, colour, hatch in _PARTS]
        figure.legend(handles=handles, loc="outside upper left", ncols=3, handlelength=1.5, columnspacing=0.9)
    return figure


def few_outcomes(facts: Facts) -> Figure:
    """Draw what decides through the years, with bands in which 90 % of the worlds lie."""
    known = outcome_names(facts.dataset)
    panels = [panel for panel in PANELS if panel.outcome in FEW_OUTCOMES and panel.outcome in known]
    lines = lines_of(strategy_names(facts.dataset))
    with mpl.rc_context(_PRINT):
        figure = Figure(figsize=(7.3, 1.7), layout="constrained")
        for axes, panel in zip(figure.subplots(1, len(panels), squeeze=False)[0], panels, strict=True):
            draw_panel(axes, facts.dataset, panel, lines, facts.system, 0.9, small=True)
            axes.set_xlabel("year", labelpad=0)
        handles, names = lines_key(lines, small=True)
        labels = ["\n".join(textwrap.wrap(shorten(name, 80), 38)) for name in names]
        figure.legend(
            handles,
            labels,
            loc="outside lower center",
            ncols=min(3, len(labels)),
            handlelength=3.0,
            fontsize=7.5,
            borderpad=0,
        )
    return figure
