"""A scale bar of a round length, and which way is north."""

from __future__ import annotations

import math

from matplotlib.axes import Axes
from matplotlib.transforms import ScaledTranslation, blended_transform_factory

from spreadsim.inputs import units

_BELOW = 0.16  # inches below the map


def draw_scale_bar(axes: Axes, width: float, system: str, *, north: bool = True) -> None:
    """Draw a bar below the south-west corner of a map in metres, and an arrow that points north beside it.

    Parameters
    ----------
    axes
        With x in metres from the west edge.
    width
        Of the map, m.
    system
        "metric" or "us".
    north
        Whether the arrow is drawn.
    """
    one, unit = units.display(1.0, "length", system)
    most = 0.3 * width * one
    step = 10 ** math.floor(math.log10(most))
    length = max(factor * step for factor in (1, 2, 5) if factor * step <= most)
    figure = axes.get_figure()
    if figure is None:
        raise ValueError("axes without a figure")
    lower = ScaledTranslation(0, -_BELOW, figure.dpi_scale_trans)
    under = blended_transform_factory(axes.transData, axes.transAxes) + lower
    axes.plot([0, length / one], [0, 0], color="black", lw=5, solid_capstyle="butt", transform=under, clip_on=False)
    axes.annotate(
        f"{length:,.10g} {unit}", (length / one, 0), xycoords=under, xytext=(8, 0), textcoords="offset points",
        va="center", fontsize=13,
    )  # fmt: skip
    if not north:
        return
    arrow = {"arrowstyle": "-|>", "color": "black", "lw": 1.6, "shrinkA": 0, "shrinkB": 0}
    points = "offset points"
    axes.annotate("", (width, 0), xytext=(0, -30), arrowprops=arrow, xycoords=under, textcoords=points)
    axes.annotate(
        "N",
        (width, 0),
        xytext=(-9, -16),
        xycoords=under,
        textcoords=points,
        ha="right",
        va="center",
        fontsize=13,
        fontweight="bold",
    )
