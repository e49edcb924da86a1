"""Maps of where mat probably stands: each strategy at the start, the middle and the end, or less no action."""

import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from spreadsim.analysis.outcomes import strategy_names
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.errors import InputError
from spreadsim.inputs.site import Site
from spreadsim.views.map_grid import Kind, map_grid, with_maps, years_of
from spreadsim.views.style import changes, shares

MOST_ROWS = 4


def pages(names: tuple[str, ...], most: int = MOST_ROWS) -> list[tuple[str, ...]]:
    """Share strategies out over figures of at most so many, each with no action on top."""
    first = tuple(name for name in names if name == NO_ACTION)
    others = tuple(name for name in names if name != NO_ACTION)
    room = most - len(first)
    figures = max(1, -(-len(others) // room))
    step = max(1, -(-len(others) // figures))  # evenly, so that no figure holds a lonely last one
    return [first + others[place : place + step] for place in range(0, max(1, len(others)), step)]


def share_kind() -> Kind:
    """How shares of worlds are shown."""
    ticks = {0.0: "0", 0.25: "25 %", 0.5: "50 %", 0.75: "75 %", 1.0: "100 %"}
    return Kind("Where mat stands", shares(), 0.0, "share of worlds with mat (white: none)", ticks)


def occupancy_maps(
    dataset: xr.Dataset,
    *,
    site: Site | None = None,
    hosts: bool = True,
    system: str = "metric",
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
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
    years
        Which to draw; the first, the middle and the last of those with maps if none is named.
    notice
        What must be said above the maps, such as that the site is invented.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    InputError
        The dataset has no maps, or none of a year that is named.
    """
    known = years_of(dataset)
    names = (strategies or strategy_names(dataset))[:MOST_ROWS]
    middle = min(known, key=lambda year: abs(2 * year - known[0] - known[-1]))
    chosen = with_maps(dataset, years or (known[0], middle, known[-1]))
    occupancy = dataset["occupancy"]
    layers = {(name, year): occupancy.sel(strategy=name, year=year).to_numpy() for name in names for year in chosen}
    return map_grid(dataset, layers, share_kind(), site=site, hosts=hosts, system=system, notice=notice)


def change_maps(
    dataset: xr.Dataset,
    *,
    site: Site | None = None,
    system: str = "metric",
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    notice: str = "",
) -> Figure:
    """Draw by how much the share of worlds with mat differs from no action, by strategy (rows) and year (columns).

    Parameters
    ----------
    dataset
        What `compare` returned, with `occupancy` and the strategy no action.
    site
        Gives barriers; without it they are not drawn.
    system
        Units of the scale bar, "metric" or "us".
    strategies
        Which to draw, at most `MOST_ROWS`; the first few of the dataset if none is named.
    years
        Which to draw; three of those with maps, up to the last, if none is named.
    notice
        What must be said above the maps.

    Returns
    -------
    matplotlib.figure.Figure
        More mat than under no action is dotted, so that the sign is seen without colour.

    Raises
    ------
    InputError
        The dataset has no maps or no strategy no action, or nothing beside it.
    """
    known = years_of(dataset)
    against(dataset)
    names = [name for name in strategies or strategy_names(dataset) if name != NO_ACTION][:MOST_ROWS]
    if not names:
        raise InputError("strategy: found no action alone, allowed another that is compared with it")
    later = known[1:] or known
    usual = tuple(later[max(0, -(-len(later) * part // 3) - 1)] for part in (1, 2, 3))
    chosen = with_maps(dataset, years or usual)
    occupancy = dataset["occupancy"]
    layers: dict[tuple[str, int], np.ndarray] = {}
    for year in chosen:
        without = occupancy.sel(strategy=NO_ACTION, year=year).to_numpy()
        layers |= {(name, year): occupancy.sel(strategy=name, year=year).to_numpy() - without for name in names}
    ordered = {(name, year): layers[name, year] for name in names for year in chosen}
    ticks = {-1.0: "-100 %", -0.5: "-50 %", 0.0: "0", 0.5: "+50 %", 1.0: "+100 %"}
    kind = Kind(
        "Where mat stands, beside no action", changes(), -1.0, "share of worlds with mat, minus no action's", ticks
    )
    return map_grid(dataset, ordered, kind, site=site, hosts=False, system=system, notice=notice)


def against(dataset: xr.Dataset) -> None:
    """Raise an `InputError` unless the dataset has no action to compare with."""
    if NO_ACTION not in strategy_names(dataset):
        raise InputError(f'dataset: found no strategy "{NO_ACTION}", allowed outcomes that have it')
