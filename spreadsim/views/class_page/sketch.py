"""The ground at the start as a drawing for paper: shapes that tell mats and hosts apart without colour."""

from collections.abc import Iterator
from typing import Any

import numpy as np
from markupsafe import Markup

from spreadsim.inputs.site import Site
from spreadsim.views.class_page.reel import blocks, coarseness

_WIDTH = 600.0
_MARKS = {
    1: '<path class="climbed" d="M{x:.1f} {top:.1f}l4 7h-8z"/>',
    2: '<path class="fruiting" d="M{x:.1f} {high:.1f}l6 6l-6 6l-6 -6z"/>',
}


def sketch(site: Site) -> Markup:
    """Draw barriers, mat and climbed hosts of a site as SVG; numbers only, no text of the site."""
    side = coarseness(site.ny, site.nx)
    pixel = _WIDTH / (site.nx / side)
    height = site.ny / side * pixel
    barrier = blocks((site.plantable <= 0).astype("f8"), side, np.add) * 2 > side * side
    mat = blocks(site.mat.astype("f8"), side, np.maximum) > 0
    marks = "".join(_hosts(site, pixel / (side * site.cell_size), height))
    return Markup(
        f'<svg viewBox="-1 -1 {_WIDTH + 2:.0f} {height + 2:.0f}" role="img" aria-label="Map of the start">'
        f'<rect class="edge" width="{_WIDTH:.0f}" height="{height:.1f}"/>'
        f'<path class="barrier" d="{_rows(barrier, pixel)}"/><path class="mat" d="{_rows(mat, pixel)}"/>{marks}</svg>'
    )


def _rows(layer: Any, pixel: float) -> str:
    """Cells side by side as one rectangle."""
    padded = np.zeros((layer.shape[0], layer.shape[1] + 2), "i1")
    padded[:, 1:-1] = layer
    turns = np.diff(padded, axis=1)
    rows, first = np.nonzero(turns > 0)
    after = np.nonzero(turns < 0)[1]
    return "".join(
        f"M{a * pixel:.1f} {r * pixel:.1f}h{(b - a) * pixel:.1f}v{pixel:.1f}h{(a - b) * pixel:.1f}z"
        for r, a, b in zip(rows, first, after, strict=True)
    )


def _hosts(site: Site, scale: float, height: float) -> Iterator[str]:
    for state, mark in _MARKS.items():
        for j in np.flatnonzero(site.hosts.state == state):
            x, y = site.hosts.x[j] * scale, height - site.hosts.y[j] * scale
            yield mark.format(x=x, top=y - 4, high=y - 6)
