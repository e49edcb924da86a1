"""Vine when the map was made, now, and now had nobody worked."""

from __future__ import annotations

import matplotlib as mpl
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, MaxNLocator

from spreadsim.analysis.wording import percent
from spreadsim.learning.ahead_words import scale_for
from spreadsim.learning.measured import TITLES
from spreadsim.views.style import COLOURS, RC, SLIDE, put_title

_ROWS = (("then", "o", COLOURS[0]), ("now", "s", COLOURS[1]), ("untreated", "^", "#000000"))


def ahead_chart(found: xr.Dataset, *, system: str = "metric") -> Figure:
    """Draw the state then, now and untreated, a panel for each measure.

    Parameters
    ----------
    found
        From `learning.ahead`.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Mark: mean of the worlds; line: where 90 % of them lie; in numbers beside it how the state now differs.
    """
    about = found.attrs
    labels = [f"map of\n{about['mapped']}", f"now, by survey\nof {about['surveyed']}", "now, had\nnobody worked"]
    names = [str(name) for name in found["measure"].to_numpy()]
    with mpl.rc_context(RC):
        figure = Figure(figsize=(SLIDE[0], 0.62 * SLIDE[1]), layout="constrained")
        grid = figure.subplots(1, len(names), squeeze=False, sharey=True)
        for axes, name in zip(grid.flat, names, strict=True):
            _panel(axes, found.sel(measure=name), name, system)
        grid[0, 0].set_yticks(range(len(labels)), labels)
        grid[0, 0].set_ylim(len(labels) - 0.5, -0.5)
        share = percent(float(about["confidence"]))
        handles = [
            Line2D([], [], color="black", ls="", marker="o", ms=9, label="mean of the worlds"),
            Line2D([], [], color="black", lw=2.5, label=f"{share} of {found.sizes['world']:,} worlds"),
        ]
        figure.legend(handles=handles, loc="outside lower center", ncols=2)
        put_title(figure, found, "Are we ahead?", str(about.get("comment", "")))
    return figure


def _panel(axes: Axes, row: xr.Dataset, name: str, system: str) -> None:
    title, kind = TITLES[name]
    scale = scale_for(row, kind, system)
    for at, (when, marker, colour) in enumerate(_ROWS):
        one = row.sel(when=when)
        ends = [float(one[end]) * scale.factor for end in ("low", "high")]
        axes.plot(ends, [at, at], color=colour, lw=2.5, solid_capstyle="butt")
        axes.plot([float(one["mean"]) * scale.factor], [at], marker=marker, ms=10, color=colour, mec="white", zorder=4)
    unit = "" if kind == "hosts" else f", {scale.unit}"
    axes.set_title(f"{title[0].upper()}{title[1:]}{unit}")
    least = float(row["low"].min()) * scale.factor
    if least >= 0.0:
        axes.set_xlim(left=0.0 - 0.03 * axes.get_xlim()[1])
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)
    axes.xaxis.set_major_locator(MaxNLocator(4, steps=[1, 2, 5, 10], integer=kind == "hosts"))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda number, _: f"{number:,.10g}"))


def ahead_alt(found: xr.Dataset) -> str:
    """Describe the picture for those who can't see it."""
    parts = []
    for name in found["measure"].to_numpy().tolist():
        row = found.sel(measure=name)
        scale = scale_for(row, TITLES[name][1], "metric")
        told = [
            f"{scale.with_unit(scale.text(float(row['mean'].sel(when=when))))} {what}"
            for when, what in (("then", "when the map was made"), ("now", "now"), ("untreated", "had nobody worked"))
        ]
        parts.append(f"{TITLES[name][0]} {', '.join(told)}")
    return f"Means and 90 % of worlds of {found.attrs['title']}: {'; '.join(parts)}."
