"""Where vine stands after a survey: the chance of mat, and of mat that nobody knows of."""

from __future__ import annotations

import math
import textwrap

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap, LogNorm, Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.style import RC, put_title

_WIDTH = 13.3  # inches
_BARRIER, _EDGE, _UNSEEN = "#d0d0d0", "#404040", "#9a9a9a"
_LEAST = 0.01  # chance of mat below which a cell stays white
_FAINT = 0.05  # the scale of what nobody knows of reaches at least so far
_SURE = 0.5  # hosts with a greater chance of vine are marked


def learned_map(learned: xr.Dataset, site: Site, *, system: str = "metric") -> Figure:
    """Draw two maps side by side.

    Parameters
    ----------
    learned
        From `learn`.
    site
        The map that it began with.
    system
        Units of the scale bar, "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Left, the chance of mat at the time of the survey; right, that of mat that nobody knows of, on a scale of its
        own. Ground where nobody looked is dotted.
    """
    row = float(np.clip(0.42 * _WIDTH * site.height / site.width, 2.2, 9.0))
    unknown = learned["unknown_mat"].to_numpy()
    most = max(float(unknown.max()), _FAINT)  # so that next to nothing looks like it
    with mpl.rc_context({**RC, "axes.grid": False, "hatch.color": _UNSEEN, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(_WIDTH, row + 2.5), layout="constrained")
        left, right = figure.subplots(1, 2)
        now = learned["mat_now"].to_numpy()
        _lay(figure, left, site, learned, now, Normalize(0.0, 1.0), f"chance of mat (white: under {100 * _LEAST:g} %)")
        left.set_title(f"Mat, {learned.attrs['surveyed']}")
        _mark_hosts(left, site, learned)
        few = LogNorm(10.0 ** math.floor(math.log10(most) - 1.5), 10.0 ** math.ceil(math.log10(most)))
        _lay(
            figure, right, site, learned, unknown, few, "chance in a cell of mat that nobody knows of (each step: x 10)"
        )
        _mark_records(left, site, learned)
        right.set_title("Mat that nobody knows of")
        draw_scale_bar(left, site.width, system)
        _key(figure, site, learned)
        put_title(figure, learned, "Where vine stands after the survey", _notice(learned))
    return figure


def learned_alt(learned: xr.Dataset) -> str:
    """Describe the picture for those who can't see it."""
    expected = float(learned["mat_now"].sum())
    return (
        f"Two maps of {learned.attrs['title']} at the survey of {learned.attrs['surveyed']}: the chance of mat in each "
        f"cell (the sum over cells is {expected:,.0f}), and the chance of mat that nobody knows of, at most "
        f"{float(learned['unknown_mat'].max()):.2f} in a cell."
    )


def _notice(learned: xr.Dataset) -> str:
    warned = "Not to be read without the warnings that were printed with it." if learned.attrs["warnings"] else ""
    return " ".join(text for text in (learned.attrs["notice"], warned) if text)


def _lay(
    figure: Figure, axes: Axes, site: Site, learned: xr.Dataset, layer: np.ndarray, scale: Normalize, label: str
) -> None:
    extent = (0.0, site.width, 0.0, site.height)
    least = float(scale.vmin or 0.0) if isinstance(scale, LogNorm) else _LEAST
    shown = np.ma.masked_where(layer < least, layer)
    image = axes.imshow(shown, cmap="cividis_r", norm=scale, extent=extent, origin="upper", interpolation="nearest")
    barrier = np.ma.masked_where(site.plantable > 0, np.ones(layer.shape))
    axes.imshow(barrier, cmap=ListedColormap([_BARRIER]), extent=extent, origin="upper", interpolation="nearest")
    x = (np.arange(site.nx) + 0.5) * site.cell_size
    y = (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
    unseen = ((learned["looked"].to_numpy() == 0) & (site.plantable > 0)).astype(float)
    if unseen.any() and min(layer.shape) > 1:
        axes.contourf(x, y, unseen, levels=[0.5, 1.5], colors="none", hatches=["..."])
    if min(layer.shape) > 1:
        for unit in range(1, len(site.unit_names) + 1):
            inside = (site.unit == unit).astype(float)
            if 0 < inside.mean() < 1:
                axes.contour(x, y, inside, levels=[0.5], colors=[_EDGE], linewidths=1.0)
    axes.set_xlim(0, site.width)
    axes.set_ylim(0, site.height)
    axes.set_aspect("equal")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color("#777777")
    bar = figure.colorbar(image, ax=axes, location="bottom", shrink=0.7, pad=0.09, aspect=30)
    bar.set_label(label)
    if isinstance(scale, LogNorm):
        ticks = [10.0**k for k in range(-9, 1) if 0.99 * least <= 10.0**k <= 1.01 * float(scale.vmax or 1.0)]
    else:
        ticks = [0.0, 0.25, 0.5, 0.75, 1.0]
    bar.set_ticks(ticks, labels=[f"{100 * tick:.6g} %" for tick in ticks])
    bar.ax.minorticks_off()


def _mark_hosts(axes: Axes, site: Site, learned: xr.Dataset) -> None:
    climbed, fruiting = learned["climbed_now"].to_numpy(), learned["fruiting_now"].to_numpy()
    bears = fruiting > _SURE
    stem = (climbed > _SURE) & ~bears
    axes.scatter(site.hosts.x[stem], site.hosts.y[stem], s=18, marker="o", c="#ffffff", edgecolors="#000000", lw=0.8)
    axes.scatter(site.hosts.x[bears], site.hosts.y[bears], s=30, marker="D", c="#000000", edgecolors="#ffffff", lw=0.8)


def _mark_records(axes: Axes, site: Site, learned: xr.Dataset) -> None:
    row, column = np.nonzero((learned["recorded"].to_numpy() > 0) & ~(site.mat > 0))
    x, y = (column + 0.5) * site.cell_size, (site.ny - row - 0.5) * site.cell_size
    axes.scatter(x, y, s=46, marker="^", c="#d55e00", edgecolors="#ffffff", lw=0.8, zorder=5)


def _key(figure: Figure, site: Site, learned: xr.Dataset) -> None:
    handles: list[Line2D | Patch] = []
    if not site.plantable.all():
        handles.append(Patch(facecolor=_BARRIER, edgecolor="#777777", label="the vine cannot grow here"))
    if ((learned["looked"].to_numpy() == 0) & (site.plantable > 0)).any():
        handles.append(Patch(facecolor="#ffffff", edgecolor=_UNSEEN, hatch="...", label="nobody looked: unknown"))
    if ((learned["recorded"].to_numpy() > 0) & ~(site.mat > 0)).any():
        handles.append(Line2D([], [], ls="", marker="^", mfc="#d55e00", mec="#ffffff", ms=9, label="mat recorded"))
    if learned.sizes.get("host", 0):
        for marker, face, edge, size, what in (
            ("o", "#ffffff", "#000000", 6, "host probably climbed"),
            ("D", "#000000", "#ffffff", 7, "host probably fruiting"),
        ):
            handles.append(Line2D([], [], ls="", marker=marker, mfc=face, mec=edge, ms=size, label=what))
    if handles:
        labels = ["\n".join(textwrap.wrap(str(handle.get_label()), 40)) for handle in handles]
        figure.legend(handles, labels, loc="outside lower center", ncols=4)
