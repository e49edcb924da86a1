"""What outcome costs: each strategy's score against its hours and its money a year."""

import textwrap

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from spreadsim.analysis.found import not_beaten
from spreadsim.analysis.found_words import letters_of, score_with_unit
from spreadsim.views.style import COLOURS, GREY, RC, put_title

# colour, marker, size: any one of them tells the three apart
_KINDS = {"given": (COLOURS[0], "s", 90), "cheaper": (COLOURS[2], "o", 70), "found": (COLOURS[1], "*", 320)}
_SAID = {"given": "given", "cheaper": "found for fewer hours or less money", "found": "found by the search"}


def front_chart(judged: xr.Dataset, *, notice: str = "") -> Figure:
    """Draw what a lower score costs.

    Parameters
    ----------
    judged
        From `analysis.found.judge`.
    notice
        What must be said wherever it is shown.

    Returns
    -------
    matplotlib.figure.Figure
        A panel for hours and, if any is spent, one for money; a line joins those that no other beats in both.
    """
    panels = [("hours", "hours worked a year")]
    if float(judged["money"].max()) > 0:
        panels.append(("money", f"{judged.attrs['currency']} a year"))
    with mpl.rc_context(RC):
        figure = Figure(figsize=(7.0 * len(panels) + 1.0, 8.0), layout="constrained")
        every = figure.subplots(1, len(panels), sharey=True, squeeze=False)[0]
        for axes, (cost, title) in zip(every, panels, strict=True):
            _panel(axes, judged, cost)
            axes.set_xlabel(title)
        score = score_with_unit(judged)
        every[0].set_ylabel("\n".join(textwrap.wrap(f"{score} (lower is better)", 40)))
        handles, _ = every[0].get_legend_handles_labels()
        handles += [
            Line2D([], [], linestyle="", label=f"{letter}  {name}") for name, letter in letters_of(judged).items()
        ]
        figure.legend(handles=handles, loc="outside lower left", ncols=len(panels), fontsize=12)
        put_title(figure, judged, "What a better outcome costs", notice)
    return figure


def front_alt(judged: xr.Dataset) -> str:
    """Say what the picture shows, for those who cannot see it."""
    front = [str(name) for name in judged["strategy"].values[judged["front"].values]]
    return f"Score of each strategy against its hours and money a year; no other beats {', '.join(front)}"


def _panel(axes: Axes, judged: xr.Dataset, cost: str) -> None:
    costs, scores = judged[cost].to_numpy(), judged["score"].to_numpy()
    kinds, kept = judged["origin"].values, judged["within"].values
    for kind, (colour, marker, size) in _KINDS.items():
        chosen = (kinds == kind) & kept
        if chosen.any():
            axes.scatter(costs[chosen], scores[chosen], s=size, c=colour, marker=marker, label=_SAID[kind], zorder=3)
    if not kept.all():
        axes.scatter(costs[~kept], scores[~kept], s=80, c=GREY, marker="x", label="breaks a limit", zorder=3)
    points = np.column_stack([costs, scores])[kept]
    front = points[not_beaten(points)]
    front = front[front[:, 0].argsort()]
    label = "no other has both lower"
    axes.plot(front[:, 0], front[:, 1], color=GREY, drawstyle="steps-post", label=label, zorder=2)
    if (scores > 0).all() and scores.max() > 30 * scores.min():
        axes.set_yscale("log")
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:,g}" if value < 1 else f"{value:,.0f}")
    places: dict[tuple[float, float], list[str]] = {}  # marks on top of each other share a text
    for letter, x, y in zip(letters_of(judged).values(), costs, scores, strict=True):
        places.setdefault((float(x), float(y)), []).append(letter)
    for place, letters in places.items():
        axes.annotate(", ".join(letters), place, (8, 6), textcoords="offset points", fontsize=13)
    axes.set_xlim(left=min(0.0, -0.03 * float(costs.max())))
    axes.set_xmargin(0.05)
