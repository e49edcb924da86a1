"""Maps of where mat probably stands: each strategy at the start, the middle and the end."""

import math
import textwrap
from typing import NamedTuple

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from spreadsim.analysis.outcomes import strategy_names
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.errors import InputError
from spreadsim.inputs import units
from spreadsim.inputs.site import Site
from spreadsim.views.style import RC, put_title

MOST_ROWS = 4
_WIDTH = 13.3  # inches
_BARRIER = "#d0d0d0"


class _Look(NamedTuple):
    """A mark that is seen on white and on the darkest mat, and told apart by its shape."""

    label: str
    marker: str
    face: str
    edge: str
    size: float


_HOSTS = {
    1: _Look("climbed host at the start", "o", "#ffffff", "#000000", 24),
    2: _Look("fruiting host at the start", "D", "#000000", "#ffffff", 40),
}


def pages(names: tuple[str, ...]) -> list[tuple[str, ...]]:
    """Share strategies out over figures of at most `MOST_ROWS`, each with no action on top."""
    first = tuple(name for name in names if name == NO_ACTION)
    others = tuple(name for name in names if name != NO_ACTION)
    most = MOST_ROWS - len(first)
    figures = max(1, -(-len(others) // most))
    step = max(1, -(-len(others) // figures))  # evenly, so that no figure holds a lonely last one
    return [first + others[place : place + step] for place in range(0, max(1, len(others)), step)]


def occupancy_maps(
    dataset: xr.Dataset,
    *,
    site: Site | None = None,
    hosts: bool = True,
    system: str = "metric",
    strategies: tuple[str, ...] = (),
    notice: str = "",
) -> Figure:
    """Draw the share of worlds with mat, by strategy (rows) and year (columns).

    Parameters
    ----------
    dataset
        What `compare` returned, with `occupancy`.
    site
        Gives barriers and hosts; without it neither is drawn.
    hosts
        Whether to mark the hosts that were climbed at the start, on the maps of the start.
    system
        Units of the scale bar, "metric" or "us".
    strategies
        Which to draw, at most `MOST_ROWS`; the first few of the dataset if none is named; see `pages`.
    notice
        What must be said above the maps, such as that the site is invented.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset has no maps.
    """
    if "occupancy" not in dataset or "strategy" not in dataset.dims:
        raise InputError("dataset: found no occupancy by strategy, allowed a dataset with maps")
    names = (strategies or strategy_names(dataset))[:MOST_ROWS]
    years = _chosen_years(dataset)
    x, y = dataset["x"].to_numpy(), dataset["y"].to_numpy()
    cell = abs(float(x[1] - x[0])) if len(x) > 1 else (site.cell_size if site else 1.0)
    width, height = len(x) * cell, len(y) * cell
    row = min(3.6, max(1.6, 0.9 * _WIDTH / (len(years) + 0.6) * height / width))
    with mpl.rc_context({**RC, "axes.grid": False}):
        figure = Figure(figsize=(_WIDTH, 1.9 + row * len(names)), layout="constrained")
        grid = figure.subplots(len(names), len(years), squeeze=False)
        for axes_row, name in zip(grid, names, strict=True):
            for axes, year in zip(axes_row, years, strict=True):
                layer = dataset["occupancy"].sel(strategy=name, year=year).to_numpy()
                image = _draw(axes, layer, (width, height), site)
                if hosts and site is not None and year == years[0]:
                    _mark_hosts(axes, site)
            label = "\n".join(textwrap.wrap(name, 18, break_on_hyphens=False)[:4])
            axes_row[0].set_ylabel(label, rotation=0, ha="right", va="center", fontsize=14)
        for axes, year in zip(grid[0], years, strict=True):
            axes.set_title("start" if year == 0 else f"end of year {year}", loc="center")
        _scale_bar(grid[-1][0], width, system)
        bar = figure.colorbar(image, ax=list(grid.flat), location="right", shrink=0.9, pad=0.02, aspect=30)
        bar.set_label("share of worlds with mat (white: none)")
        bar.set_ticks([0, 0.25, 0.5, 0.75, 1], labels=["0", "25 %", "50 %", "75 %", "100 %"])
        _legend(figure, site, hosts)
        put_title(figure, dataset, "Where mat stands", notice)
    return figure


def _chosen_years(dataset: xr.Dataset) -> list[int]:
    """Start, middle and end of the years for which there are maps (some runs keep only a few)."""
    corner = dataset["occupancy"].isel(strategy=0, y=0, x=0)
    years = [int(year) for year in corner["year"].to_numpy()[np.isfinite(corner.to_numpy())]]
    if not years:
        raise InputError("dataset: found occupancy missing in all years, allowed a dataset with maps")
    middle = min(years, key=lambda year: abs(2 * year - years[0] - years[-1]))
    return sorted({years[0], middle, years[-1]})


def _draw(axes: Axes, layer: np.ndarray, size: tuple[float, float], site: Site | None) -> AxesImage:
    """One map in metres from the south-west corner; cells that no world has mat in stay white."""
    extent = (0.0, size[0], 0.0, size[1])
    shown = np.ma.masked_where(~(layer > 0), layer)
    image = axes.imshow(shown, cmap="cividis_r", vmin=0, vmax=1, extent=extent, origin="upper", interpolation="nearest")
    if site is not None and site.plantable.shape == layer.shape:
        barrier = np.ma.masked_where(site.plantable > 0, np.ones(layer.shape))
        axes.imshow(barrier, cmap=ListedColormap([_BARRIER]), extent=extent, origin="upper", interpolation="nearest")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color("#777777")
    return image


def _mark_hosts(axes: Axes, site: Site) -> None:
    for state, look in _HOSTS.items():
        chosen = site.hosts.state == state
        axes.scatter(
            site.hosts.x[chosen],
            site.hosts.y[chosen],
            s=look.size,
            marker=look.marker,
            c=look.face,
            edgecolors=look.edge,
            linewidths=1.0,
        )


def _scale_bar(axes: Axes, width: float, system: str) -> None:
    """Draw a bar of a round length, about a quarter of the map, below its south-west corner."""
    one, unit = units.display(1.0, "length", system)
    most = 0.3 * width * one
    step = 10 ** math.floor(math.log10(most))
    length = max(factor * step for factor in (1, 2, 5) if factor * step <= most)
    axes.add_patch(
        Rectangle((0, -0.06), length / one / width, 0.025, transform=axes.transAxes, color="black", clip_on=False)
    )
    axes.annotate(
        f"{length:,.10g} {unit}, north up",
        (0, -0.09),
        xycoords="axes fraction",
        va="top",
        ha="left",
        fontsize=13,
    )


def _legend(figure: Figure, site: Site | None, hosts: bool) -> None:
    if site is None:
        return
    handles: list[Artist] = []
    labels: list[str] = []
    if not site.plantable.all():
        handles.append(Patch(facecolor=_BARRIER, edgecolor="#777777"))
        labels.append("the vine cannot grow here")
    if hosts and (site.hosts.state >= 1).any():
        for look in _HOSTS.values():
            mark = Line2D([], [], ls="", marker=look.marker, mfc=look.face, mec=look.edge, ms=8)
            handles.append(mark)
            labels.append(look.label)
    if handles:
        figure.legend(handles, labels, loc="outside lower center", ncols=3)
