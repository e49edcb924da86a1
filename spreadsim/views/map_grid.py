"""Maps in rows and columns: the frame that maps of shares and of differences have in common."""

import math
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, ListedColormap
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from spreadsim.analysis.outcomes import first_year
from spreadsim.errors import InputError
from spreadsim.inputs import units
from spreadsim.inputs.site import Site
from spreadsim.views.style import GREY, RC, put_title

_WIDTH = 13.3  # inches
_BARRIER = "#d0d0d0"
_DOTS = 0.05  # differences above it are dotted


@dataclass(frozen=True)
class Kind:
    """What maps show.

    Attributes
    ----------
    title : str
        Of the figure, where the dataset has none.
    colours : Colormap
        From the least to the most.
    least : float
        0 for shares, -1 for differences; the most is 1.
    bar : str
        What the colours mean.
    ticks : dict of float to str
        Numbers beside the bar.
    """

    title: str
    colours: Colormap
    least: float
    bar: str
    ticks: Mapping[float, str]


@dataclass(frozen=True)
class _Look:
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


def map_grid(
    dataset: xr.Dataset,
    layers: Mapping[tuple[str, int], np.ndarray],
    kind: Kind,
    *,
    site: Site | None,
    hosts: bool,
    system: str,
    notice: str,
) -> Figure:
    """Draw maps, a row for each strategy and a column for each year.

    Parameters
    ----------
    dataset
        Gives the title and the place of cells.
    layers
        (y, x) by strategy and year, in order; all pairs of the names and years that occur.
    kind
        What they show.
    site
        Gives barriers and hosts; without it neither is drawn.
    hosts
        Whether to mark the hosts that were climbed at the start, on maps of year 0.
    system
        Units of the scale bar, "metric" or "us".
    notice
        What must be said above the maps.

    Returns
    -------
    matplotlib.figure.Figure
    """
    names, years = (list(dict.fromkeys(key[k] for key in layers)) for k in (0, 1))
    width, height = extent_of(dataset, site)
    hosts = hosts and 0 in years
    # of one year, strategies stand beside each other
    beside = len(years) == 1 and len(names) > 1
    columns, rows = (len(names), 1) if beside else (len(years), len(names))
    row = min(3.6, max(1.6, 0.9 * _WIDTH / (columns + 0.6) * height / width), 7.0 / rows)
    with mpl.rc_context({**RC, "axes.grid": False}):
        figure = Figure(figsize=(_WIDTH, (2.4 if beside else 1.9) + row * rows), layout="constrained")
        grid = figure.subplots(rows, columns, squeeze=False)
        for axes, ((_, year), layer) in zip(grid.flat, layers.items(), strict=True):
            image = draw_layer(axes, layer, kind, (width, height), site)
            if hosts and site is not None and year == 0:
                _mark_hosts(axes, site)
        sides = [[when(int(str(year)), first_year(dataset)) for year in years], [str(name) for name in names]]
        above, left = reversed(sides) if beside else sides
        for axes, label in zip(grid[0], above, strict=True):
            axes.set_title("\n".join(textwrap.wrap(label, 84 // columns)[:3]), loc="center")
        for axes, label in zip(grid[:, 0], left, strict=True):
            label = "\n".join(textwrap.wrap(label, 18, break_on_hyphens=False)[:4])
            axes.set_ylabel(label, rotation=0, ha="right", va="center", fontsize=14)
        scale_bar(grid[-1][0], width, system)
        bar = figure.colorbar(image, ax=list(grid.flat), location="right", shrink=0.9, pad=0.02, aspect=30)
        bar.set_label(kind.bar)
        bar.set_ticks(list(kind.ticks), labels=list(kind.ticks.values()))
        legend(figure, site, hosts, kind)
        put_title(figure, dataset, kind.title, notice)
    return figure


def when(year: int, first: int) -> str:
    """Say which map it is, of runs that begin at the end of a first year."""
    return "start" if year == first else f"end of year {year}"


def extent_of(dataset: xr.Dataset, site: Site | None) -> tuple[float, float]:
    """Width and height of the maps, m."""
    x, y = dataset["x"].to_numpy(), dataset["y"].to_numpy()
    cell = abs(float(x[1] - x[0])) if len(x) > 1 else (site.cell_size if site else 1.0)
    return len(x) * cell, len(y) * cell


def years_of(dataset: xr.Dataset) -> list[int]:
    """Years for which there are maps; some runs keep only a few.

    Raises
    ------
    InputError
        There are none.
    """
    if "occupancy" not in dataset or "strategy" not in dataset.dims:
        raise InputError("dataset: found no occupancy by strategy, allowed a dataset with maps")
    corner = dataset["occupancy"].isel(strategy=0, y=0, x=0)
    years = [int(year) for year in corner["year"].to_numpy()[np.isfinite(corner.to_numpy())]]
    if not years:
        raise InputError("dataset: found occupancy missing in all years, allowed a dataset with maps")
    return years


def with_maps(dataset: xr.Dataset, years: tuple[int, ...]) -> list[int]:
    """Give the years asked for if there are maps of them; else an `InputError` that lists those there are."""
    known = years_of(dataset)
    if missing := [year for year in years if year not in known]:
        raise InputError(f"year: found {missing[0]}, allowed those with maps: {', '.join(map(str, known))}")
    return sorted(set(years))


def draw_layer(axes: Axes, layer: np.ndarray, kind: Kind, size: tuple[float, float], site: Site | None) -> AxesImage:
    """Draw one map in metres from the south-west corner; where there is nothing it stays white."""
    extent = (0.0, size[0], 0.0, size[1])
    image = axes.imshow(
        blanked(layer),
        cmap=kind.colours,
        vmin=kind.least,
        vmax=1,
        extent=extent,
        origin="upper",
        interpolation="nearest",
    )
    if kind.least < 0 and min(layer.shape) > 1 and (layer > _DOTS).any():  # the sign without colour
        axes.contourf(layer, levels=[_DOTS, 2.0], colors="none", hatches=["..."], extent=extent, origin="upper")
    if site is not None and site.plantable.shape == layer.shape:
        barrier = np.ma.masked_where(site.plantable > 0, np.ones(layer.shape))
        axes.imshow(barrier, cmap=ListedColormap([_BARRIER]), extent=extent, origin="upper", interpolation="nearest")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color(GREY)
    return image


def blanked(layer: np.ndarray) -> np.ma.MaskedArray:
    """Leave out where there is nothing."""
    return np.ma.masked_where(~(np.abs(layer) > 0), layer)


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


def scale_bar(axes: Axes, width: float, system: str) -> None:
    """Draw a bar of a round length, about a quarter of the map, below its south-west corner."""
    one, unit = units.display(1.0, "length", system)
    most = 0.3 * width * one
    step = 10 ** math.floor(math.log10(most))
    length = max(factor * step for factor in (1, 2, 5) if factor * step <= most)
    axes.add_patch(
        Rectangle((0, -0.06), length / one / width, 0.025, transform=axes.transAxes, color="black", clip_on=False)
    )
    axes.annotate(
        f"{length:,.10g} {unit}, north up", (0, -0.09), xycoords="axes fraction", va="top", ha="left", fontsize=13
    )


def legend(figure: Figure, site: Site | None, hosts: bool, kind: Kind) -> None:
    """Say what marks on the maps mean."""
    handles: list[Artist] = []
    if site is not None and not site.plantable.all():
        handles.append(Patch(facecolor=_BARRIER, edgecolor=GREY, label="the vine cannot grow here"))
    if hosts and site is not None and (site.hosts.state >= 1).any():
        for look in _HOSTS.values():
            mark = Line2D([], [], ls="", marker=look.marker, mfc=look.face, mec=look.edge, ms=8, label=look.label)
            handles.append(mark)
    if kind.least < 0 and any(axes.collections for axes in figure.axes[:-1]):
        handles.append(Patch(facecolor="none", edgecolor="black", hatch="...", label="dotted: more mat"))
    if handles:
        figure.legend(handles=handles, loc="outside lower center", ncols=3)
