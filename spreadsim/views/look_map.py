"""Where to look next: pieces by what an hour there avoids, and what hours avoid in all."""

from __future__ import annotations

import math
import textwrap

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap, LogNorm, to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from spreadsim.inputs.site import Site
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.style import RC, ink_on, put_title

_WIDTH = 13.3  # inches
_BARRIER, _EDGE, _GRID, _UNSEEN, _LINE = "#d0d0d0", "#202020", "#9a9a9a", "#808080", "#24507a"
_SPAN = 1000.0  # from the most an hour avoids to the least that gets a colour
_HALF = 0.5  # of a piece: less looked at is dotted


def look_map(found: xr.Dataset, site: Site, *, system: str = "metric") -> Figure:
    """Draw a map of the pieces and a chart of harm avoided against hours.

    Parameters
    ----------
    found
        From `look_next`.
    site
        The ground.
    system
        Units of the scale bar, "metric" or "us".

    Returns
    -------
    matplotlib.figure.Figure
        Darker pieces avoid more an hour; numbers are the order of going. Pieces of which the last survey looked at less
        than half are dotted; those in which no world has unknown vine are white.
    """
    row = float(np.clip(0.62 * _WIDTH * site.height / site.width, 3.2, 9.0))
    with mpl.rc_context({**RC, "axes.grid": False, "hatch.color": _UNSEEN, "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(_WIDTH, row + 2.4), layout="constrained")
        left, right = figure.subplots(1, 2, width_ratios=[2.4, 1.0])
        _lay(figure, left, site, found)
        draw_scale_bar(left, site.width, system)
        _chart(right, found)
        _key(figure, site, found)
        hours, horizon = found.attrs["hours"], found.attrs["horizon"]
        told = f"{hours:g} h of looking in {found.attrs['season']}, by harm avoided in {horizon} years"
        notice = " ".join(text for text in (found.attrs["notice"], told) if text)
        put_title(figure, found, "Where to look next", notice)
    return figure


def look_alt(found: xr.Dataset) -> str:
    """Describe the picture for those who can't see it."""
    order = _order(found)
    names = [f"{found['unit'].values[k]} {found['piece'].values[k]}".strip() for k in order[:5]]
    first = f"first {', '.join(names)}" if names else "no piece is worth any"
    return (
        f"A map of {found.attrs['title']} in {found.sizes['piece']} pieces, {len(order)} of which get some of "
        f"{found.attrs['hours']:g} hours of looking: {first}. Beside it a chart of harm avoided against hours."
    )


def _order(found: xr.Dataset) -> list[int]:
    rank = found["rank"].to_numpy()
    order = np.argsort(rank, kind="stable")
    return [int(k) for k in order[rank[order] > 0]]


def _lay(figure: Figure, axes: Axes, site: Site, found: xr.Dataset) -> None:
    extent = (0.0, site.width, 0.0, site.height)
    of_cell, rate = found["piece_of_cell"].to_numpy(), found["rate"].to_numpy()
    most = float(rate.max(initial=0.0)) or 1.0
    scale = LogNorm(most / _SPAN, most)
    layer = np.where(of_cell >= 0, rate[of_cell], 0.0)
    shown = np.ma.masked_where(layer < most / _SPAN, layer)
    image = axes.imshow(shown, cmap="cividis_r", norm=scale, extent=extent, origin="upper", interpolation="nearest")
    barrier = np.ma.masked_where(of_cell >= 0, np.ones(layer.shape))
    axes.imshow(barrier, cmap=ListedColormap([_BARRIER]), extent=extent, origin="upper", interpolation="nearest")
    x = (np.arange(site.nx) + 0.5) * site.cell_size
    y = (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
    if min(of_cell.shape) > 1:
        if "looked" in found:
            unseen = np.where(of_cell >= 0, found["looked"].to_numpy()[of_cell] < _HALF, False).astype(float)
            if unseen.any():
                axes.contourf(x, y, unseen, levels=[0.5, 1.5], colors="none", hatches=["..."])
        _edges(axes, site, of_cell, _GRID, 0.7)
        if site.unit_names:
            _edges(axes, site, site.unit, _EDGE, 1.6)
    for rank, k in enumerate(_order(found), 1):
        place = (float(found["piece_x"][k]) - site.origin[0], float(found["piece_y"][k]) - site.origin[1])
        ink = ink_on(to_hex(image.cmap(scale(max(rate[k], most / _SPAN)))))
        axes.text(*place, str(rank), ha="center", va="center", fontsize=11, color=ink, fontweight="bold")
    axes.set_xlim(0, site.width)
    axes.set_ylim(0, site.height)
    axes.set_aspect("equal")
    _number_squares(axes, site, found)
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color("#777777")
    axes.set_title("Where an hour avoids most; numbers: order of going", pad=22)
    bar = figure.colorbar(image, ax=axes, location="bottom", shrink=0.7, pad=0.09, aspect=30)
    bar.set_label("harm that an hour avoids, of the most (each step: x 10)")
    ticks = [most / 10**k for k in range(int(math.log10(_SPAN)), -1, -1)]
    bar.set_ticks(ticks, labels=[f"{100 * tick / most:g} %" for tick in ticks])
    bar.ax.minorticks_off()


def _number_squares(axes: Axes, site: Site, found: xr.Dataset) -> None:
    """Write letters of columns and numbers of rows around, by which pieces are called."""
    size = float(found.attrs["size"])
    for k, (set_ticks, whole) in enumerate(((axes.set_xticks, site.width), (axes.set_yticks, site.height))):
        names = list(dict.fromkeys(str(found.attrs[("columns", "rows")[k]]).split()))
        edges = np.minimum(size * np.arange(len(names) + 1), whole)
        middle = (edges[:-1] + edges[1:]) / 2
        set_ticks(middle if k == 0 else site.height - middle, labels=names, fontsize=10)
    axes.tick_params(length=0, top=True, labeltop=True, bottom=False, labelbottom=False)


def _edges(axes: Axes, site: Site, numbers: np.ndarray, colour: str, width: float) -> None:
    """Draw lines between cells of different numbers."""
    size, top = site.cell_size, site.height
    row, column = np.nonzero(numbers[:, 1:] != numbers[:, :-1])
    axes.vlines((column + 1) * size, top - (row + 1) * size, top - row * size, color=colour, lw=width)
    row, column = np.nonzero(numbers[1:] != numbers[:-1])
    axes.hlines(top - (row + 1) * size, column * size, (column + 1) * size, color=colour, lw=width)


def _chart(axes: Axes, found: xr.Dataset) -> None:
    about = found.attrs
    hours, avoided = found["curve_hours"].to_numpy(), found["curve_avoided"].to_numpy()
    whole = float(about["score"]) if len(about["weighed"]) else float(avoided.max(initial=0.0))
    whole = whole or 1.0
    share = 100.0 * avoided / whole
    axes.plot(hours, share, color=_LINE, lw=2.2)
    used = float(about["hours"])
    at = float(np.interp(used, hours, share))
    axes.plot([used, used], [0.0, at], color="black", lw=1.2, ls=(0, (4, 2)))
    axes.plot([used], [at], marker="o", color="black", ms=6)
    right = max(1.25 * used, float(hours[np.searchsorted(share, 0.9 * share.max(initial=0.0))]) if len(hours) else used)
    axes.annotate(f"{used:g} h", (used, at), xytext=(-6, -10), textcoords="offset points", ha="right", va="top")
    axes.set_xlim(0, right)
    axes.set_ylim(0, 100)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.grid(visible=True)
    axes.set_xlabel("hours of looking")
    axes.set_ylabel("% of the harm" if len(about["weighed"]) else "% of what can be found")
    axes.set_title("Harm avoided" if len(about["weighed"]) else "Found")


def _key(figure: Figure, site: Site, found: xr.Dataset) -> None:
    handles: list[Line2D | Patch] = [
        Patch(facecolor="white", edgecolor=_GRID, label="no unknown vine in any world, or hardly any harm")
    ]
    if not site.plantable.all():
        handles.append(Patch(facecolor=_BARRIER, edgecolor="#777777", label="the vine cannot grow here"))
    if "looked" in found and (found["looked"] < _HALF).any():
        handles.append(Patch(facecolor="white", edgecolor=_UNSEEN, hatch="...", label="nobody looked at most of it"))
    if site.unit_names:
        handles.append(Line2D([], [], color=_EDGE, lw=1.6, label="edge of a unit"))
    told = "" if "looked" in found else "no second survey tells where people have looked since the map"
    figure.legend(handles=handles, loc="outside lower center", ncols=2, title="\n".join(textwrap.wrap(told, 110)))
