"""The map of one session: the ground around its places, with their numbers, and where that is on the site."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.text import Annotation

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.site_map import key_of, lay_site
from spreadsim.views.style import RC
from spreadsim.views.work_sheets.marks import HALO, INK, Box, mark_places

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Place

_WIDTH, _SIDE = 7.48, 1.8  # inches: of the whole, and of the strip on the right
_BELOW = 0.26  # inches under a map, for the scale bar
_GAP = 0.08  # inches between maps
_MARGIN = 8.0  # m around the places
_LEAST = 30.0  # m: no map shows less


def session_map(
    site: Site,
    spots: Sequence[Sequence[Place]],
    numbers: Mapping[str, int],
    *,
    system: str = "metric",
    height: float = 3.4,
) -> Figure:
    """Draw the ground around places that lie together, a map for each such spot.

    Parameters
    ----------
    site
        The site as mapped.
    spots
        Places by spot, 6 spots at most; without any the whole site is drawn.
    numbers
        What is written beside each place, by its label.
    system
        Units of the scale bars, "metric" or "us".
    height
        Of the figure, inches.

    Returns
    -------
    matplotlib.figure.Figure
        North up, to be read in black and white: hosts have a ring, pieces of ground an outline, both a number; the maps
        have letters, which stand on the right where on the site they are. What the steward doesn't know is not drawn.
    """
    site = as_known(site)
    shown: Sequence[Sequence[Place]] = spots or [[]]
    columns = {1: 1, 2: 2, 3: 3, 4: 2}.get(len(shown), 3)
    rows = -(-len(shown) // columns)
    wide = (_WIDTH - _SIDE - _GAP) / columns - _GAP
    tall = height / rows - _BELOW
    with mpl.rc_context({**RC, "axes.grid": False, "font.size": 8, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(_WIDTH, height))
        boxes = []
        for k, places in enumerate(shown):
            box = _frame(site, places, wide / tall)
            row, column = divmod(k, columns)
            left, low = 0.02 + column * (wide + _GAP), height - 0.02 - (row + 1) * (tall + _BELOW) + _BELOW
            axes = figure.add_axes((left / _WIDTH, low / height, wide / _WIDTH, tall / height))
            _draw(axes, site, box, system)
            mark_places(axes, site, places, numbers, box, 72 * wide / (box[1] - box[0]))
            boxes.append(box)
            if len(shown) > 1:
                letter = axes.text(
                    0.015, 0.985, chr(ord("A") + k), transform=axes.transAxes, fontsize=12, fontweight="bold", va="top",
                    zorder=11,
                )  # fmt: skip
                letter.set_path_effects([withStroke(linewidth=3, foreground=HALO)])
        below = _explain(figure, _seen(site, boxes), spots)
        _locate(figure, site, boxes, height, height - below)
    return figure


def as_known(site: Site) -> Site:
    """Give a site without what nobody can be sent to: vine that is not known, hosts known only as a count."""
    hosts = site.hosts
    state = np.where(hosts.can_be_gone_to, hosts.state, 0).astype(hosts.state.dtype)
    return dataclasses.replace(site, hosts=dataclasses.replace(hosts, state=state))


def _seen(site: Site, boxes: Sequence[Box]) -> Site:
    """Give a site that has only what lies in the boxes, for the key."""
    x = (np.arange(site.nx) + 0.5) * site.cell_size
    y = (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
    inside = np.zeros((site.ny, site.nx), bool)
    near, hosts, sources = np.zeros(len(site.hosts), bool), site.hosts, site.sources
    by = np.zeros(len(sources), bool)
    for west, east, south, north in boxes:
        inside |= ((y >= south) & (y <= north))[:, None] & (x >= west) & (x <= east)
        near |= (hosts.x >= west) & (hosts.x <= east) & (hosts.y >= south) & (hosts.y <= north)
        by |= (sources.x >= west) & (sources.x <= east) & (sources.y >= south) & (sources.y <= north)
    return dataclasses.replace(
        site,
        mat=np.where(inside, site.mat, 0.0),
        plantable=np.where(inside, site.plantable, 1.0),
        sensitive=site.sensitive & inside,
        boundary_mat=site.boundary_mat & inside,
        hosts=dataclasses.replace(hosts, state=np.where(near, hosts.state, 0).astype(hosts.state.dtype)),
        sources=dataclasses.replace(sources, x=sources.x[by], y=sources.y[by]),
    )


def _explain(figure: Figure, site: Site, spots: Sequence[Sequence[Place]]) -> float:
    """Put the key on the right: what the numbers stand at, then what is on the maps; inches that it takes."""
    places = [place for spot in spots for place in spot]
    handles: list[Artist] = []
    if any(not len(place.cells) for place in places):
        ring = Line2D([], [], ls="", marker="o", mfc="none", mec=INK, ms=8, mew=1.5, label="to do: host")
        handles.append(ring)
    if any(len(place.cells) for place in places):
        handles.append(Patch(fc="none", ec=INK, lw=1.8, ls="--", label="to do: ground"))
    for handle in key_of(site, False):  # numbers of hosts are those of the whole site
        handle.set_label(re.sub(r" \([\d,]+\)$", "", str(handle.get_label())))
        handles.append(handle)
    corner = ((_WIDTH - _SIDE) / _WIDTH, 1.0)
    key = figure.legend(
        handles=handles, loc="upper left", bbox_to_anchor=corner, fontsize=7, handlelength=1.5, labelspacing=0.35
    )
    return float(key.get_window_extent().height / figure.dpi)


def _draw(axes: Axes, site: Site, box: Box, system: str) -> None:
    """One map: the site within a box."""
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
    _scale_bar(axes, west, east - west, system)


def _scale_bar(axes: Axes, west: float, width: float, system: str) -> None:
    """Draw the scale bar from the west edge of what is shown."""
    lines, texts = list(axes.lines), list(axes.texts)
    draw_scale_bar(axes, width, system, north=False)
    for line in axes.lines[len(lines) :]:
        line.set_xdata(np.asarray(line.get_xdata(), dtype=float) + west)
        line.set_linewidth(3)
    for text in axes.texts[len(texts) :]:
        text.set_fontsize(8)
        if isinstance(text, Annotation):
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


def _locate(figure: Figure, site: Site, boxes: Sequence[Box], height: float, room: float) -> None:
    """Show the site small, and the ground of the maps on it."""
    wide = _SIDE - 0.15
    tall = min(1.3, room - 0.35, wide * site.height / site.width)
    axes = figure.add_axes(((_WIDTH - wide - 0.05) / _WIDTH, 0.08 / height, wide / _WIDTH, tall / height))
    shown = np.where(site.plantable == 0, 0.85, np.where(site.mat > 0, 0.6, 1.0))
    axes.imshow(shown, cmap="gray", vmin=0, vmax=1, extent=(0, site.width, 0, site.height), interpolation="nearest")
    for k, (west, east, south, north) in enumerate(boxes):
        axes.add_patch(Rectangle((west, south), east - west, north - south, fill=False, ec=INK, lw=1.2))
        if len(boxes) > 1:
            middle = (west + east) / 2, (south + north) / 2
            letter = axes.text(*middle, chr(ord("A") + k), fontsize=8, fontweight="bold", va="center", ha="center")
            letter.set_path_effects([withStroke(linewidth=2, foreground=HALO)])
    axes.set_xlim(min(0, *(box[0] for box in boxes)), max(site.width, *(box[1] for box in boxes)))
    axes.set_ylim(min(0, *(box[2] for box in boxes)), max(site.height, *(box[3] for box in boxes)))
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_title("where on the site; north is up", fontsize=7.5, pad=2)
