"""The map of one session: the ground around its places, with their numbers, and where that is on the site."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.text import Annotation

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.site_map import key_of, lay_site
from spreadsim.views.style import RC

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Place

_WIDTH, _SIDE = 7.4, 1.9  # inches: of the whole, and of the strip on the right
_BELOW = 0.3  # inches under a map, for the scale bar
_MARGIN = 8.0  # m around the places
_LEAST = 30.0  # m: no map shows less
_WORK = "#d55e00"
_AROUND = ((7, 0), (-7, 0), (0, 8), (0, -8), (7, 8), (-7, 8), (7, -8), (-7, -8), (14, 4), (-14, 4), (14, -4), (-14, -4))
Box = tuple[float, float, float, float]  # west, east, south, north


def session_map(site: Site, spots: Sequence[Sequence[Place]], *, system: str = "metric") -> Figure:
    """Draw the ground around places that lie together, a map for each such spot.

    Parameters
    ----------
    site
        The site as mapped.
    spots
        Places by spot, 6 spots at most; without any the whole site is drawn.
    system
        Units of the scale bars, "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        North up. Hosts have a ring, pieces of ground an outline, both a number; the maps have letters, which stand on
        the right where on the site they are.
    """
    shown: Sequence[Sequence[Place]] = spots or [[]]
    columns = 1 if len(shown) == 1 else 2 if len(shown) <= 4 else 3
    rows = -(-len(shown) // columns)
    wide = (_WIDTH - _SIDE - 0.1) / columns - 0.08
    tall = {1: 4.2, 2: 2.9, 3: 2.2}[columns] * (0.85 if rows == 2 else 1.0)
    height = max(rows * (tall + _BELOW + 0.12), 4.1)
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 8, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(_WIDTH, height))
        boxes = []
        for k, places in enumerate(shown):
            box = _frame(site, places, wide / tall)
            row, column = divmod(k, columns)
            left, low = column * (wide + 0.08), height - (row + 1) * (tall + _BELOW + 0.12) + _BELOW
            axes = figure.add_axes((left / _WIDTH, low / height, wide / _WIDTH, tall / height))
            _draw(axes, site, places, box, wide, system)
            boxes.append(box)
            if len(shown) > 1:
                letter = axes.text(
                    0.015, 0.985, chr(ord("A") + k), transform=axes.transAxes, fontsize=12, fontweight="bold", va="top",
                    zorder=11,
                )  # fmt: skip
                letter.set_path_effects([withStroke(linewidth=3, foreground="#ffffff")])
        _locate(figure, site, boxes, height)
        handles = key_of(site, False)
        for handle in handles:  # numbers of hosts are those of the whole site
            handle.set_label(re.sub(r" \([\d,]+\)$", "", str(handle.get_label())))
        figure.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=((_WIDTH - _SIDE) / _WIDTH, 1.0),
            fontsize=7.5,
            handlelength=1.6,
            labelspacing=0.5,
        )
    return figure


def _draw(axes: Axes, site: Site, places: Sequence[Place], box: Box, wide: float, system: str) -> None:
    """One map: the site within a box, and the places."""
    west, east, south, north = box
    lay_site(axes, site, False)
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal", anchor="NW")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color("#777777")
    for drawn in (*axes.collections, *axes.lines):
        drawn.set_clip_on(True)
    _mark(axes, site, places, 72 * wide / (east - west))
    draw_scale_bar_at(axes, west, east - west, system)


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
        if isinstance(text, Annotation) and text.xycoords != "axes fraction":
            text.xy = (text.xy[0] + west, text.xy[1])


def _frame(site: Site, places: Sequence[Place], ratio: float) -> Box:
    """Ground that holds the places with a margin, in the picture's proportion; the whole site if there are none."""
    xs, ys = [], []
    for place in places:
        xs.append(place.x)
        ys.append(place.y)
        if len(place.cells):
            row, column = np.divmod(place.cells, site.nx)
            xs += [float(column.min()) * site.cell_size, float(column.max() + 1) * site.cell_size]
            ys += [(site.ny - float(row.max()) - 1) * site.cell_size, (site.ny - float(row.min())) * site.cell_size]
    xs, ys = xs or [0.0, site.width], ys or [0.0, site.height]
    wide = max(max(xs) - min(xs) + 2 * _MARGIN, _LEAST)
    tall = max(max(ys) - min(ys) + 2 * _MARGIN, wide / ratio)
    wide = max(wide, tall * ratio)
    x, y = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    return x - wide / 2, x + wide / 2, y - tall / 2, y + tall / 2


def _mark(axes: Axes, site: Site, places: Sequence[Place], dots: float) -> None:
    """Ring hosts, outline ground, and put numbers where they cover least of each other (so many points a metre)."""
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


def _locate(figure: Figure, site: Site, boxes: Sequence[Box], height: float) -> None:
    """Show the site small, and the ground of the maps on it."""
    wide = _SIDE - 0.15
    tall = min(1.4, wide * site.height / site.width)
    axes = figure.add_axes(((_WIDTH - wide - 0.05) / _WIDTH, 0.08 / height, wide / _WIDTH, tall / height))
    shown = np.where(site.plantable == 0, 0.75, np.where(site.mat > 0, 0.55, 1.0))
    axes.imshow(shown, cmap="gray", vmin=0, vmax=1, extent=(0, site.width, 0, site.height), interpolation="nearest")
    for k, (west, east, south, north) in enumerate(boxes):
        axes.add_patch(Rectangle((west, south), east - west, north - south, fill=False, ec=_WORK, lw=1.4))
        if len(boxes) > 1:
            middle = (west + east) / 2, (south + north) / 2
            letter = axes.text(*middle, chr(ord("A") + k), fontsize=8, fontweight="bold", va="center", ha="center")
            letter.set_path_effects([withStroke(linewidth=2, foreground="#ffffff")])
    axes.set_xlim(min(0, *(box[0] for box in boxes)), max(site.width, *(box[1] for box in boxes)))
    axes.set_ylim(min(0, *(box[2] for box in boxes)), max(site.height, *(box[3] for box in boxes)))
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_title("where on the site", fontsize=7.5, pad=2)
