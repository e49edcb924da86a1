"""The map of page one: units by the year in which work begins there, and those left for now."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PathCollection
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from spreadsim.analysis.wording import percent
from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.site_map import key_of, lay_site, middle_of
from spreadsim.views.style import RC

if TYPE_CHECKING:
    from spreadsim.planning.briefing import Beginning, Entry

# dark is soon; told apart without colour by how dark they are, and by the words on them
_SOON = ("#08519c", "#3182bd", "#6baed6", "#a6cbe3", "#d5e4f2")
_LATER, _BARRIER, _EDGE = "#ffffff", "#c9c9c9", "#303030"
_TITLES = {"stems": "Climbing stems", "mat": "Mats on the ground"}
_WIDTH, _TALLEST = 4.4, 1.75  # inches: of all maps together, and of one
_MANY = 6  # units: more have small names


def entry_map(site: Site, beginning: Beginning, system: str) -> Figure:
    """Draw the site for each kind of work, units coloured by the year in which it begins there.

    Returns
    -------
    matplotlib.figure.Figure
        Units where it has not begun in half of the worlds within the years looked at are hatched: left for now.
    """
    kinds = list(dict.fromkeys(entry.kind for entry in beginning.entries))
    wide = _WIDTH / max(2, len(kinds)) - 0.1
    tall = min(wide * site.height / site.width, _TALLEST)
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 8.5, "hatch.linewidth": 0.5}):
        figure = Figure(figsize=(_WIDTH, tall + 0.62))
        whole = figure.get_figheight()
        for place, kind in enumerate(kinds):
            left = place * (wide + 0.1) / figure.get_figwidth()
            axes = figure.add_axes((left, 0.42 / whole, wide / figure.get_figwidth(), tall / whole))
            entries = {entry.unit: entry for entry in beginning.entries if entry.kind == kind}
            _draw(axes, site, entries, beginning.first, beginning.years)
            axes.set_title(_TITLES[kind], fontsize=9.5, fontweight="bold", pad=4)
            if place == 0:
                _scale_bar(axes, site, system)
        _key(figure, site, beginning)
    return figure


def small_site_map(site: Site, system: str) -> Figure:
    """Draw the site for half a page's width: mats, hosts with vine, units, and a key beside it."""
    wide = 2.0
    tall = float(np.clip(wide * site.height / site.width, 1.0, 2.0))
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 7.5, "hatch.linewidth": 0.5}):
        figure = Figure(figsize=(3.6, tall + 0.3))
        whole = figure.get_figheight()
        axes = figure.add_axes((0.005, 0.27 / whole, wide / 3.6, tall / whole))
        lay_site(axes, site, False)
        for drawn in (*axes.collections, *axes.lines):
            drawn.set_clip_on(True)
        edge = 0.03 * max(site.width, site.height)  # marks at the border stay whole
        axes.set_xlim(-edge, site.width + edge)
        axes.set_ylim(-edge, site.height + edge)
        axes.set_aspect("equal", anchor="NW")
        axes.set_xticks([])
        axes.set_yticks([])
        _scale_bar(axes, site, system)
        for marks in axes.collections:  # drawn for a page of its own
            if isinstance(marks, PathCollection):
                marks.set_sizes(0.35 * np.asarray(marks.get_sizes()))
                marks.set_linewidth(0.5)
        handles = key_of(site, False)
        for handle in handles:
            handle.set_label("\n".join(textwrap.wrap(str(handle.get_label()), 22)))
        figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=((wide + 0.02) / 3.6, 1.0), fontsize=7.4,
            handlelength=1.4, labelspacing=0.3, borderpad=0.1, handletextpad=0.5, markerscale=0.65,
        )  # fmt: skip
    return figure


def _scale_bar(axes: Axes, site: Site, system: str) -> None:
    """Draw the scale bar small, with north said instead of drawn."""
    lines, texts = len(axes.lines), len(axes.texts)
    draw_scale_bar(axes, site.width, system)
    for line in axes.lines[lines:]:
        line.set_linewidth(3)
    bar, *arrow = axes.texts[texts:]
    bar.set(fontsize=7.5, text=f"{bar.get_text()}, north up")
    for text in arrow:
        text.remove()


def _draw(axes: Axes, site: Site, entries: dict[int, Entry], first: int, years: int) -> None:
    extent = (0.0, site.width, 0.0, site.height)
    code = np.full(site.unit.shape, years)
    for unit, entry in entries.items():
        code[site.unit == unit] = years if entry.year is None else entry.year - 1 - first
    code[site.plantable == 0] = years + 1
    colours = ListedColormap([*_SOON[:years], _LATER, _BARRIER])
    axes.imshow(code, cmap=colours, vmin=-0.5, vmax=years + 1.5, extent=extent, origin="upper", interpolation="nearest")
    for unit, entry in entries.items():
        mask = (site.unit == unit) & (site.plantable > 0)
        if entry.year is None and min(mask.shape) > 1:
            x, y = (np.arange(site.nx) + 0.5) * site.cell_size, (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
            axes.contourf(x, y, mask.astype(float), levels=[0.5, 1.5], colors="none", hatches=["...."])
    _borders(axes, site)
    for unit, entry in entries.items():
        _name(axes, site, unit, entry)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_aspect("equal", anchor="NW")
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color("#777777")


def _borders(axes: Axes, site: Site) -> None:
    unit, extent = site.unit.astype(float), (0.0, site.width, 0.0, site.height)
    if min(unit.shape) < 2:
        return
    x, y = (np.arange(site.nx) + 0.5) * site.cell_size, (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
    for number in range(1, len(site.unit_names) + 1):
        axes.contour(x, y, (unit == number).astype(float), levels=[0.5], colors=[_EDGE], linewidths=1.0)
    axes.set_xlim(extent[:2])
    axes.set_ylim(extent[2:])


def _name(axes: Axes, site: Site, unit: int, entry: Entry) -> None:
    """Write a unit's name and its year where most of it is around; ground in no unit has no name on the map."""
    if not unit:
        return
    middle = middle_of(site, (site.unit == unit) & (site.plantable > 0))
    if middle is None:
        return
    many = len(site.unit_names) > _MANY
    name = "\n".join(textwrap.wrap(site.unit_names[unit - 1], 14)[: 1 if many else 2])
    when = "left for now" if entry.year is None else f"year {entry.year}"
    when += "" if many else f" ({percent(entry.share)})"
    axes.text(
        *middle,
        name if many else f"{name}\n{when}",
        ha="center",
        va="center",
        fontsize=5.5 if many else 7.5,
        linespacing=1.15,
        zorder=8,
        parse_math=False,
        bbox={"boxstyle": f"round,pad={0.1 if many else 0.25}", "fc": "#ffffff", "ec": "none", "alpha": 0.92},
    )


def _key(figure: Figure, site: Site, beginning: Beginning) -> None:
    years = sorted({entry.year for entry in beginning.entries if entry.year is not None})
    handles = [
        Patch(fc=_SOON[year - 1 - beginning.first], ec="#777777", label=f"begun in year {year}") for year in years
    ]
    if any(entry.year is None for entry in beginning.entries):
        label = f"left for now (not by year {beginning.first + beginning.years})"
        handles.append(Patch(fc=_LATER, ec="#777777", hatch="....", label=label))
    if (site.plantable == 0).any():
        handles.append(Patch(fc=_BARRIER, ec="#777777", label="no ground for vine"))
    figure.legend(
        handles=handles, loc="lower right", bbox_to_anchor=(1.0, -0.02), ncols=min(3, len(handles)), fontsize=7.2,
        handlelength=1.4, columnspacing=1.0, handletextpad=0.4, borderpad=0.1, labelspacing=0.2,
    )  # fmt: skip
