"""The map of one session: the ground around its places, with their numbers, and where that is on the site."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.site_map import key_of, lay_site
from spreadsim.views.style import RC

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Place

_WIDTH, _HEIGHT, _SIDE = 7.4, 4.9, 1.9  # inches: of the whole, and of the strip on the right
_MARGIN = 8.0  # m around the places
_LEAST = 30.0  # m: no map shows less
_WORK = "#d55e00"
_AROUND = ((7, 0), (-7, 0), (0, 8), (0, -8), (7, 8), (-7, 8), (7, -8), (-7, -8), (14, 4), (-14, 4), (14, -4), (-14, -4))


def session_map(site: Site, places: Sequence[Place], *, system: str = "metric") -> Figure:
    """Draw the ground around some places, each with its number.

    Parameters
    ----------
    site
        The site as mapped.
    places
        Hosts are marked with a ring, pieces of ground with an outline; what is searched as a whole has no mark.
    system
        Units of the scale bar, "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        North up; on the right the key, and where on the site it is.
    """
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 8, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(_WIDTH, _HEIGHT))
        west, east, south, north = _frame(site, places)
        wide, tall = _WIDTH - _SIDE - 0.1, _HEIGHT - 0.35
        axes = figure.add_axes((0.0, 0.33 / _HEIGHT, wide / _WIDTH, tall / _HEIGHT))
        lay_site(axes, site, False)
        axes.set_xlim(west, east)
        axes.set_ylim(south, north)
        axes.set_aspect("equal", anchor="NW")
        axes.set_xticks([])
        axes.set_yticks([])
        for drawn in (*axes.collections, *axes.lines):
            drawn.set_clip_on(True)
        _mark(axes, site, places, (wide / (east - west), tall / (north - south)))
        draw_scale_bar_at(axes, west, east - west, system)
        _locate(figure, site, (west, east, south, north))
        figure.legend(
            handles=key_of(site, False),
            loc="upper left",
            bbox_to_anchor=((wide + 0.05) / _WIDTH, 1.0),
            fontsize=7.5,
            handlelength=1.6,
            labelspacing=0.55,
        )
    return figure


def draw_scale_bar_at(axes: Axes, west: float, width: float, system: str) -> None:
    """Draw the scale bar from the west edge of what is shown."""
    before = list(axes.lines)
    texts = list(axes.texts)
    draw_scale_bar(axes, width, system)
    for line in [line for line in axes.lines if line not in before]:
        line.set_xdata(np.asarray(line.get_xdata(), dtype=float) + west)
        line.set_linewidth(3)
    for text in [text for text in axes.texts if text not in texts]:
        text.set_fontsize(8)
        if hasattr(text, "xy") and text.xycoords != "axes fraction":
            text.xy = (text.xy[0] + west, text.xy[1])


def _frame(site: Site, places: Sequence[Place]) -> tuple[float, float, float, float]:
    """West, east, south and north of what is shown: the places, or their whole units, in the picture's proportion."""
    xs, ys = [], []
    for place in places:
        if len(place.cells):
            row, column = np.divmod(place.cells, site.nx)
        elif place.kind == "host":
            xs.append(place.x)
            ys.append(place.y)
            continue
        else:
            row, column = np.nonzero(site.unit == place.unit)
        if len(row):
            xs += [float(column.min()) * site.cell_size, float(column.max() + 1) * site.cell_size]
            ys += [(site.ny - float(row.max()) - 1) * site.cell_size, (site.ny - float(row.min())) * site.cell_size]
    xs, ys = xs or [0.0, site.width], ys or [0.0, site.height]
    ratio = (_WIDTH - _SIDE - 0.1) / (_HEIGHT - 0.35)
    wide = max(max(xs) - min(xs) + 2 * _MARGIN, _LEAST)
    tall = max(max(ys) - min(ys) + 2 * _MARGIN, wide / ratio)
    wide = max(wide, tall * ratio)
    x, y = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    return x - wide / 2, x + wide / 2, y - tall / 2, y + tall / 2


def _mark(axes: Axes, site: Site, places: Sequence[Place], scale: tuple[float, float]) -> None:
    """Ring hosts, outline ground, and put numbers where they cover least of each other (points per metre: scale)."""
    dots = 72 * min(scale)
    hosts = [place for place in places if place.kind == "host"]
    axes.scatter(
        [place.x for place in hosts], [place.y for place in hosts], s=70, facecolors="none", edgecolors=_WORK, lw=1.3,
        zorder=9,
    )  # fmt: skip
    for place in places:
        if len(place.cells):
            _outline(axes, site, place.cells)
    taken: list[tuple[float, float, float, float]] = []
    for place in places:
        if place.kind != "host" and not len(place.cells):
            continue
        wide = 4.4 * len(place.label)
        offsets = _AROUND if place.kind == "host" else ((0, 0), *_AROUND)
        boxes = []
        for dx, dy in offsets:
            x = place.x * dots + dx + (wide / 2 * np.sign(dx) if dx else 0)
            y = place.y * dots + dy
            boxes.append((x - wide / 2, x + wide / 2, y - 4, y + 4))
        best = min(range(len(boxes)), key=lambda k: (sum(_overlap(boxes[k], other) for other in taken), k))
        taken.append(boxes[best])
        left, right, low, high = boxes[best]
        text = axes.annotate(
            place.label, (place.x, place.y), ((left + right) / 2 - place.x * dots, (low + high) / 2 - place.y * dots),
            textcoords="offset points", ha="center", va="center", fontsize=7.5, fontweight="bold", zorder=10,
        )  # fmt: skip
        text.set_path_effects([withStroke(linewidth=2, foreground="#ffffff")])


def _overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> float:
    wide = min(one[1], other[1]) - max(one[0], other[0])
    tall = min(one[3], other[3]) - max(one[2], other[2])
    return wide * tall if wide > 0 and tall > 0 else 0.0


def _outline(axes: Axes, site: Site, cells: np.ndarray) -> None:
    """Draw the sides of cells that have a cell of the piece on one side only."""
    inside = np.zeros((site.ny + 2, site.nx + 2), bool)
    row, column = np.divmod(cells, site.nx)
    inside[row + 1, column + 1] = True
    size = site.cell_size
    row, column = np.nonzero(inside[:, 1:] != inside[:, :-1])
    xs = np.column_stack([column * size, column * size, np.full(len(row), np.nan)])
    ys = np.column_stack([(site.ny + 1 - row) * size, (site.ny - row) * size, np.full(len(row), np.nan)])
    axes.plot(xs.ravel(), ys.ravel(), color=_WORK, lw=1.5, zorder=7)
    row, column = np.nonzero(inside[1:] != inside[:-1])
    xs = np.column_stack([(column - 1) * size, column * size, np.full(len(row), np.nan)])
    ys = np.column_stack([(site.ny - row) * size, (site.ny - row) * size, np.full(len(row), np.nan)])
    axes.plot(xs.ravel(), ys.ravel(), color=_WORK, lw=1.5, zorder=7)


def _locate(figure: Figure, site: Site, frame: tuple[float, float, float, float]) -> None:
    """Show the site small, and the ground of the map on it."""
    wide = _SIDE - 0.15
    tall = min(1.5, wide * site.height / site.width)
    axes = figure.add_axes(((_WIDTH - wide - 0.05) / _WIDTH, 0.3 / _HEIGHT, wide / _WIDTH, tall / _HEIGHT))
    shown = np.where(site.plantable == 0, 0.75, np.where(site.mat > 0, 0.55, 1.0))
    axes.imshow(shown, cmap="gray", vmin=0, vmax=1, extent=(0, site.width, 0, site.height), interpolation="nearest")
    west, east, south, north = frame
    axes.add_patch(Rectangle((west, south), east - west, north - south, fill=False, ec=_WORK, lw=1.6))
    axes.set_xlim(min(0, west), max(site.width, east))
    axes.set_ylim(min(0, south), max(site.height, north))
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_title("where on the site", fontsize=7.5, pad=2)
