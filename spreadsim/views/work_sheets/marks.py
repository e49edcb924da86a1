"""Marks on the map of a session: rings, outlines, and numbers that cover little."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke

from spreadsim.inputs.site import Site

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Place

INK, HALO = "#000000", "#ffffff"  # told apart by any printer
_AROUND = tuple(
    (dx, dy) for d in (7, 11, 15) for dx, dy in ((d, 0), (-d, 0), (0, d), (0, -d), (d, d), (-d, d), (d, -d), (-d, -d))
)
Box = tuple[float, float, float, float]  # west, east, south, north


def mark_places(
    axes: Axes, site: Site, places: Sequence[Place], numbers: Mapping[str, int], box: Box, dots: float
) -> None:
    """Ring hosts, outline ground, and put numbers where they cover least (so many points a metre)."""
    hosts = [place for place in places if not len(place.cells)]
    xs, ys = [place.x for place in hosts], [place.y for place in hosts]
    for width, colour in ((3.2, HALO), (1.5, INK)):
        axes.scatter(xs, ys, s=75, facecolors="none", edgecolors=colour, lw=width, zorder=9)
    for place in places:
        if len(place.cells):
            _outline(axes, site, place.cells)
    seen = site.hosts.state > 0
    taken = [
        (x * dots - 5, x * dots + 5, y * dots - 5, y * dots + 5)
        for x, y in zip(site.hosts.x[seen].tolist(), site.hosts.y[seen].tolist(), strict=True)
        if box[0] <= x <= box[1] and box[2] <= y <= box[3]
    ]
    letter = (box[0] * dots, box[0] * dots + 14, box[3] * dots - 14, box[3] * dots)
    frame = (box[0] * dots, box[1] * dots, box[2] * dots, box[3] * dots)
    taken.append(letter)
    for place in places:
        text = str(numbers[place.label])
        wide = 5.5 * len(text) + 1
        offsets = ((0, 0), *_AROUND) if len(place.cells) else _AROUND
        boxes = []
        for dx, dy in offsets:
            x = place.x * dots + dx + (wide / 2 * np.sign(dx) if dx else 0)
            y = place.y * dots + dy + (2 * np.sign(dy) if dy else 0)
            boxes.append((x - wide / 2, x + wide / 2, y - 4.5, y + 4.5))
        best = min(range(len(boxes)), key=lambda k: (_covered(boxes[k], taken, frame), k))
        taken.append(boxes[best])
        left, right, low, high = boxes[best]
        drawn = axes.annotate(
            text, (place.x, place.y), ((left + right) / 2 - place.x * dots, (low + high) / 2 - place.y * dots),
            textcoords="offset points", ha="center", va="center", fontsize=8.5, fontweight="bold", zorder=10,
        )  # fmt: skip
        drawn.set_path_effects([withStroke(linewidth=2.2, foreground=HALO)])


def _covered(box: Box, taken: Sequence[Box], frame: Box) -> float:
    """How much a number covers of what is drawn, or lies beyond the map."""
    area = (box[1] - box[0]) * (box[3] - box[2])
    return sum(_overlap(box, other) for other in taken) + 4 * (area - _overlap(box, frame))


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
    _edge(axes, xs.ravel(), ys.ravel())
    row, column = np.nonzero(inside[1:] != inside[:-1])
    xs = np.column_stack([(column - 1) * size, column * size, np.full(len(row), np.nan)])
    ys = np.column_stack([(site.ny - row) * size, (site.ny - row) * size, np.full(len(row), np.nan)])
    _edge(axes, xs.ravel(), ys.ravel())


def _edge(axes: Axes, xs: np.ndarray, ys: np.ndarray) -> None:
    for style, colour in (("-", HALO), ("--", INK)):
        axes.plot(xs, ys, color=colour, lw=3.4 if style == "-" else 1.8, ls=style, zorder=7)
