"""The map of page one: units by the year in which work begins there, and those left for now."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke

from spreadsim.analysis.wording import percent
from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.style import RC

if TYPE_CHECKING:
    from spreadsim.planning.briefing import Beginning, Entry

# dark is soon; told apart without colour by how dark they are, and by the words on them
_SOON = ("#08519c", "#3182bd", "#6baed6", "#a6cbe3", "#d5e4f2")
_LATER, _BARRIER, _EDGE = "#ffffff", "#c9c9c9", "#303030"
_TITLES = {"stems": "Climbing stems", "mat": "Mats on the ground"}
_WIDTH, _TALLEST = 7.3, 2.75  # inches: of all maps together, and of one


def entry_map(site: Site, beginning: Beginning, system: str) -> Figure:
    """Draw the site for each kind of work, units coloured by the year in which it begins there.

    Returns
    -------
    matplotlib.figure.Figure
        Units where it has not begun in half of the worlds within the years looked at are hatched: left for now.
    """
    kinds = list(dict.fromkeys(entry.kind for entry in beginning.entries))
    wide = _WIDTH / max(2, len(kinds)) - 0.12
    tall = min(wide * site.height / site.width, _TALLEST)
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 8.5, "hatch.linewidth": 0.5}):
        figure = Figure(figsize=((wide + 0.12) * len(kinds), tall + 0.78))
        whole = figure.get_figheight()
        for place, kind in enumerate(kinds):
            left = place * (wide + 0.12) / figure.get_figwidth()
            axes = figure.add_axes((left, 0.53 / whole, wide / figure.get_figwidth(), tall / whole))
            entries = {entry.unit: entry for entry in beginning.entries if entry.kind == kind}
            _draw(axes, site, entries, beginning.years)
            axes.set_title(_TITLES[kind], fontsize=9.5, fontweight="bold", pad=4)
            if place == 0:
                draw_scale_bar(axes, site.width, system)
                for text in axes.texts:
                    if text.get_fontsize() == 13:
                        text.set_fontsize(8)
        _key(figure, site, beginning)
    return figure


def _draw(axes: Axes, site: Site, entries: dict[int, Entry], years: int) -> None:
    extent = (0.0, site.width, 0.0, site.height)
    code = np.full(site.unit.shape, years)
    for unit, entry in entries.items():
        code[site.unit == unit] = years if entry.year is None else entry.year - 1
    code[site.plantable == 0] = years + 1
    colours = ListedColormap([*_SOON[:years], _LATER, _BARRIER])
    axes.imshow(
        code, cmap=colours, vmin=-0.5, vmax=years + 1.5, extent=extent, origin="upper", interpolation="nearest"
    )
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
    cells = np.argwhere((site.unit == unit) & (site.plantable > 0))
    if not len(cells):
        return
    middle = cells[np.argmin(((cells - cells.mean(axis=0)) ** 2).sum(axis=1))]
    name = "\n".join(textwrap.wrap(site.unit_names[unit - 1], 15)[:2])
    when = "left for now" if entry.year is None else f"year {entry.year}"
    text = axes.text(
        (middle[1] + 0.5) * site.cell_size,
        (site.ny - middle[0] - 0.5) * site.cell_size,
        f"{name}\n{when} ({percent(entry.share)})",
        ha="center",
        va="center",
        fontsize=8,
        linespacing=1.1,
        fontweight="bold",
        zorder=8,
        parse_math=False,
    )
    text.set_path_effects([withStroke(linewidth=2.6, foreground="#ffffff")])


def _key(figure: Figure, site: Site, beginning: Beginning) -> None:
    years = sorted({entry.year for entry in beginning.entries if entry.year is not None})
    handles = [Patch(fc=_SOON[year - 1], ec="#777777", label=f"begun in year {year}") for year in years]
    if any(entry.year is None for entry in beginning.entries):
        label = f"left for now (not by year {beginning.years})"
        handles.append(Patch(fc=_LATER, ec="#777777", hatch="....", label=label))
    if (site.plantable == 0).any():
        handles.append(Patch(fc=_BARRIER, ec="#777777", label="no ground for vine"))
    figure.legend(
        handles=handles, loc="lower right", bbox_to_anchor=(1.0, -0.01), ncols=len(handles), fontsize=8,
        handlelength=1.4, columnspacing=1.0, handletextpad=0.4, borderpad=0.1,
    )  # fmt: skip
