"""A site as it was understood: mats, hosts by state, units, barriers, no-spray ground, vine across the boundary."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.patheffects import withStroke

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.style import RC

_WIDTH, _TALLEST = 12.0, 14.0  # inches
_KEY = 3.4  # inches for the key on the right
_BARRIER, _GROUND, _EDGE = "#c9c9c9", "#ffffff", "#404040"
_RIM = {"mat": "#2171b5", "barrier": "#6b6b6b"}  # pale fills stand out by their outlines
_MATS = ("#c6dbef", "#6baed6", "#2171b5")  # light to full cover
_MAT_STEPS = (0.0, 1 / 3, 2 / 3, 1.0)
_HATCH = "#b07a00"
_BOUNDARY = "#6a3d9a"


class _Look(NamedTuple):
    """A mark told apart by its shape and by how dark it is."""

    label: str
    marker: str
    face: str
    edge: str
    size: float


_HOSTS = (
    _Look("bare host", ".", "#4d4d4d", "#ffffff", 5.5),
    _Look("climbed, not fruiting", "o", "#ffffff", "#000000", 26),
    _Look("fruiting host", "D", "#000000", "#ffffff", 40),
)
_DARK = ("#000000", "#4d4d4d")
_UNKNOWN = "vine on it not known to the steward"
_PLACED = "in grey: placed at random, only their count is known"
_FEW = 1_000  # bare hosts up to which they are drawn larger
_GREY = "#b0b0b0"  # in place of what is dark where they are mapped


def site_map(site: Site, *, system: str = "metric", title: str = "", notice: str = "", bare: bool = True) -> Figure:
    """Draw a site.

    Parameters
    ----------
    site
        The site.
    system
        Units of the scale bar, "metric" or "us".
    title
        Above the map; the site's own if not given.
    notice
        What must be said below it, such as that the site is invented.
    bare
        Whether hosts without vine are drawn.

    Returns
    -------
    matplotlib.figure.Figure
        North up, with scale bar, north arrow and key.
    """
    width = _WIDTH - _KEY
    height = float(np.clip(width * site.height / site.width, 2.5, _TALLEST))
    lines = textwrap.wrap(" ".join((title or site.title or "The site as it was understood").split()), 70)[:2]
    lines += textwrap.wrap(notice, 110)[:3]
    top = 0.35 + 0.28 * len(lines)
    with mpl.rc_context({**RC, "axes.grid": False, "hatch.linewidth": 0.8}):
        figure = Figure(figsize=(_WIDTH, max(height, 4.6) + top + 0.9))
        tall = figure.get_figheight()
        axes = figure.add_axes((0.02, 0.8 / tall, (width - 0.2) / _WIDTH, (tall - top - 0.9) / tall))
        lay_site(axes, site, bare)
        name_units(axes, site, dict.fromkeys(site.unit_names, ""))
        _frame(axes, site)
        draw_scale_bar(axes, site.width, system)
        handles = key_of(site, bare)
        figure.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=((width - 0.05) / _WIDTH, 1 - top / tall),
            fontsize=12,
            handlelength=1.8,
            labelspacing=0.75,
        )
        for place, line in enumerate(lines):
            figure.text(
                0.02, 1 - (0.3 + 0.28 * place) / tall, line, fontsize=15 if place == 0 else 11.5, va="center", ha="left"
            )
    return figure


def lay_site(axes: Axes, site: Site, bare: bool) -> None:
    """Draw what is on a site: ground, mats, borders, hosts; x and y in metres from the south-west corner."""
    _lay_ground(axes, site)
    _mark_boundary(axes, site)
    _mark_hosts(axes, site, bare)


def _lay_ground(axes: Axes, site: Site) -> None:
    """Draw barriers, mats in three steps of cover, no-spray ground hatched, and the borders of units."""
    extent = (0.0, site.width, 0.0, site.height)
    step = np.digitize(site.mat, _MAT_STEPS[1:3]) + 2
    code = np.where(site.plantable == 0, 0, np.where(site.mat > 0, step, 1))
    axes.imshow(
        code,
        cmap=ListedColormap([_BARRIER, _GROUND, *_MATS]),
        vmin=-0.5,
        vmax=4.5,
        extent=extent,
        origin="upper",
        interpolation="nearest",
    )
    x = (np.arange(site.nx) + 0.5) * site.cell_size
    y = (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
    if site.sensitive.any() and min(site.mat.shape) > 1:
        axes.contourf(x, y, site.sensitive.astype(float), levels=[0.5, 1.5], colors="none", hatches=["///"])
        for drawn in axes.collections:
            drawn.set_edgecolor(_HATCH)
            drawn.set_linewidth(0)
        axes.contour(x, y, site.sensitive.astype(float), levels=[0.5], colors=[_HATCH], linewidths=1.2)
    _draw_borders(axes, site, site.plantable == 0, _RIM["barrier"], 0.6)
    _draw_borders(axes, site, (site.mat > 0) & (site.plantable > 0), _RIM["mat"], 0.8)
    _draw_borders(axes, site, site.unit.astype(int), _EDGE, 1.3)


def _draw_borders(axes: Axes, site: Site, kind: np.ndarray, colour: str, width: float) -> None:
    """Draw the sides of cells between ground of different kinds."""
    cell = site.cell_size
    row, column = np.nonzero(kind[:, 1:] != kind[:, :-1])
    upright = [((column + 1) * cell, (site.ny - row) * cell), ((column + 1) * cell, (site.ny - row - 1) * cell)]
    row, column = np.nonzero(kind[1:] != kind[:-1])
    level = [(column * cell, (site.ny - row - 1) * cell), ((column + 1) * cell, (site.ny - row - 1) * cell)]
    for start, end in (upright, level):
        gap = np.full(len(start[0]), np.nan)
        xs, ys = (np.column_stack([start[k], end[k], gap]).ravel() for k in (0, 1))
        axes.plot(xs, ys, color=colour, lw=width, solid_capstyle="butt")


def _mark_boundary(axes: Axes, site: Site) -> None:
    """Draw a thick line outside each side of an edge cell across which mat stands."""
    cell, out = site.cell_size, 0.008 * max(site.width, site.height)
    mark = site.boundary_mat
    for row, y in ((0, site.height + out), (site.ny - 1, -out)):
        for column in np.flatnonzero(mark[row]).tolist():
            axes.plot([column * cell, (column + 1) * cell], [y, y], color=_BOUNDARY, lw=5, clip_on=False)
    for side, x in ((0, -out), (site.nx - 1, site.width + out)):
        for up in (site.ny - np.flatnonzero(mark[:, side])).tolist():
            axes.plot([x, x], [(up - 1) * cell, up * cell], color=_BOUNDARY, lw=5, clip_on=False)


def _mark_hosts(axes: Axes, site: Site, bare: bool) -> None:
    hosts = site.hosts
    for state, look in enumerate(_HOSTS):
        if state == 0 and not bare:
            continue
        for placed in (True, False):
            chosen = (hosts.state == state) & (hosts.placed == placed)
            if not chosen.any():
                continue
            face, edge = (_GREY if placed and part in _DARK else part for part in (look.face, look.edge))
            axes.scatter(
                hosts.x[chosen],
                hosts.y[chosen],
                s=look.size * (6 if state == 0 and (hosts.state == 0).sum() <= _FEW else 1),
                marker=look.marker,
                c=face,
                edgecolors=edge,
                linewidths=1.0 if state else 0.3,
                zorder=3 + state,
                clip_on=False,
            )
    unknown = (hosts.state >= 1) & ~hosts.known
    axes.scatter(hosts.x[unknown], hosts.y[unknown], s=14, marker="x", c="#d55e00", linewidths=1.4, zorder=6)
    near = _near_sources(site)
    axes.scatter(
        site.sources.x[near], site.sources.y[near], s=90, marker="*", c="#000000", zorder=6, edgecolors="#ffffff"
    )


def _near_sources(site: Site) -> np.ndarray:
    """Which seed sources lie close enough to be drawn: within a tenth of the site's extent around it."""
    room = 0.1 * max(site.width, site.height)
    x, y = site.sources.x, site.sources.y
    near: np.ndarray = (x >= -room) & (x <= site.width + room) & (y >= -room) & (y <= site.height + room)
    return near


def middle_of(site: Site, cells: np.ndarray) -> tuple[float, float] | None:
    """Give a point on the cells of a mask, (y, x), where most of them are around, in m; None if there are none."""
    places = np.argwhere(cells)
    if not len(places):
        return None
    row, column = places[np.argmin(((places - places.mean(axis=0)) ** 2).sum(axis=1))]
    return float((column + 0.5) * site.cell_size), float((site.ny - row - 0.5) * site.cell_size)


def name_units(axes: Axes, site: Site, words: Mapping[str, str]) -> None:
    """Write the names of units where most of each is around, and below each its words, if there are any."""
    for number, name in enumerate(site.unit_names, start=1):
        middle = middle_of(site, site.unit == number)
        if name not in words or middle is None:
            continue
        text = axes.text(
            *middle,
            "\n".join([*textwrap.wrap(name, 16)[:3], *filter(None, [words[name]])]),
            ha="center",
            va="center",
            fontsize=13,
            fontweight="bold",
            zorder=8,
            parse_math=False,
        )
        text.set_path_effects([withStroke(linewidth=3.5, foreground="#ffffff")])


def _frame(axes: Axes, site: Site) -> None:
    near = _near_sources(site)
    room = 0.02 * max(site.width, site.height)
    west = min(0.0, *site.sources.x[near], 0.0) - room
    east = max(site.width, *site.sources.x[near], 0.0) + room
    south = min(0.0, *site.sources.y[near], 0.0) - room
    north = max(site.height, *site.sources.y[near], 0.0) + room
    axes.set_xlim(west, east)
    axes.set_ylim(south, north)
    axes.set_aspect("equal", anchor="NW")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.add_patch(
        Polygon(
            [(0, 0), (site.width, 0), (site.width, site.height), (0, site.height)], fill=False, ec="#6b6b6b", lw=1.0
        )
    )


def key_of(site: Site, bare: bool) -> list[Artist]:
    """List what is on the map, and only that."""
    hosts = site.hosts
    found: list[Artist] = []
    names = ("mat, cover up to 1/3", "mat, up to 2/3", "mat, more than 2/3")
    step = np.digitize(site.mat[site.mat > 0], _MAT_STEPS[1:3])
    found += [Patch(fc=_MATS[k], ec=_RIM["mat"], label=names[k]) for k in range(3) if (step == k).any()]
    for state, look in enumerate(_HOSTS):
        count = int((hosts.state == state).sum())
        if count and (state or bare):
            label = f"{look.label} ({count:,})"
            size = 8 if state else 7 if count <= _FEW else 5
            found.append(Line2D([], [], ls="", marker=look.marker, mfc=look.face, mec=look.edge, ms=size, label=label))
    drawn = hosts.placed & ((hosts.state >= 1) | bare)
    if drawn.any():
        label = "\n".join(textwrap.wrap(f"{_PLACED} ({int(drawn.sum()):,})", 26))
        found.append(Line2D([], [], ls="", marker="D", mfc=_GREY, mec="#ffffff", ms=8, label=label))
    if ((hosts.state >= 1) & ~hosts.known).any():
        label = "\n".join(textwrap.wrap(_UNKNOWN, 26))
        found.append(Line2D([], [], ls="", marker="x", mec="#d55e00", ms=6, mew=1.4, label=label))
    if len(site.sources):
        far = int((~_near_sources(site)).sum())
        label = "seed source outside" + (f"\n({far} more too far to show)" if far else "")
        found.append(Line2D([], [], ls="", marker="*", mfc="#000000", mec="#ffffff", ms=12, label=label))
    if site.boundary_mat.any():
        found.append(Line2D([], [], color=_BOUNDARY, lw=5, label="mat across the boundary"))
    if (site.plantable == 0).any():
        label = "the vine cannot grow here\n(water, paths, outside)"
        found.append(Patch(fc=_BARRIER, ec=_RIM["barrier"], label=label))
    if site.sensitive.any():
        found.append(Patch(fc="none", ec=_HATCH, hatch="///", label="no herbicide"))
    if site.unit_names:
        found.append(Line2D([], [], color=_EDGE, lw=1.3, label="border of a unit"))
    return found
