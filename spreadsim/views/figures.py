"""The figures that people ask for by name: one function each, all called alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TypeAlias

import xarray as xr
from matplotlib.figure import Figure

from spreadsim.analysis.outcomes import check_strategy, strategy_names
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs.embed import unembed
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.site import Site
from spreadsim.inputs.units import SYSTEMS
from spreadsim.views import differences as differences_chart
from spreadsim.views import hours_chart, map_series, maps, site_map, style
from spreadsim.views.description import notices
from spreadsim.views.through_time import through_time

Pages: TypeAlias = list[tuple[str, ...]]


@dataclass(frozen=True)
class _Given:
    """What figures need beside the outcomes: from the inputs that these carry, where they do."""

    names: tuple[str, ...]
    site: Site | None
    system: str
    notice: str


def draw_site(outcomes: xr.Dataset | Experiment, *, system: str | None = None) -> Figure:
    """Draw the site as it was understood: mats, hosts by state, units, barriers, no-spray ground.

    Parameters
    ----------
    outcomes
        What `compare` returned, or an experiment.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        The outcomes carry no experiment.
    """
    inputs = outcomes if isinstance(outcomes, Experiment) else unembed(outcomes)
    title = inputs.site.title or inputs.title
    told = " ".join(notices(inputs))
    return site_map.site_map(inputs.site, system=_system(system) or inputs.units, title=title, notice=told)


def draw_outcomes(
    outcomes: xr.Dataset, *, strategies: tuple[str, ...] = (), system: str | None = None, confidence: float = 0.9
) -> Figure:
    """Draw the outcomes through the years, a line and a band for each strategy.

    Parameters
    ----------
    outcomes
        What `compare` returned.
    strategies
        Names of those to draw; all if none is named.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.
    confidence
        Share of the worlds that a band holds.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        A name or units that are not allowed.
    """
    given = _given(outcomes, strategies, system)
    return through_time(
        outcomes, system=given.system, confidence=confidence, strategies=given.names, notice=given.notice
    )


def draw_differences(
    outcomes: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    system: str | None = None,
    confidence: float = 0.9,
) -> Figure:
    """Draw how strategies differ from no action at the end of a year, with intervals.

    Parameters
    ----------
    outcomes
        What `compare` returned, with the strategy no action.
    strategies
        Names of those to draw, 8 at most; the first of all if none is named.
    years
        The last of them is shown; the last of all if none is named.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.
    confidence
        Of intervals, and the share of the worlds that a thin line holds.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        A name, year or units that are not allowed, or no action is missing.
    """
    given = _given(outcomes, strategies, system)
    return differences_chart.differences(
        outcomes,
        system=given.system,
        confidence=confidence,
        strategies=given.names,
        year=years[-1] if years else -1,
        notice=given.notice,
    )


def draw_hours(
    outcomes: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    system: str | None = None,
    confidence: float = 0.9,
) -> Figure:
    """Draw hours by season and task, first passes and follow-up apart.

    Parameters
    ----------
    outcomes
        What `compare` returned.
    strategies
        Names of those to draw; all that work if none is named.
    years
        Hours are the mean from the first of them to the last; all years if none is named.
    system
        Taken as elsewhere; hours are hours in all units.
    confidence
        Share of the worlds that a thin line holds.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        A name or year that is not allowed, or nobody works.
    """
    given = _given(outcomes, strategies, system)
    return hours_chart.hours_by_season(
        outcomes, strategies=given.names, years=tuple(years), confidence=confidence, notice=given.notice
    )


def draw_maps(
    outcomes: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    system: str | None = None,
) -> Figure:
    """Draw maps of the share of worlds with mat, a row for each strategy and a column for each year.

    Parameters
    ----------
    outcomes
        What `compare` returned, with maps.
    strategies
        Names of those to draw, 4 at most; the first of all if none is named.
    years
        Which to draw; the first, the middle and the last with maps if none is named.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        A name, year or units that are not allowed, or there are no maps.
    """
    given = _given(outcomes, strategies, system)
    return maps.occupancy_maps(
        outcomes,
        site=given.site,
        system=given.system,
        strategies=given.names,
        years=tuple(years),
        notice=given.notice,
    )


def draw_changes(
    outcomes: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    system: str | None = None,
) -> Figure:
    """Draw maps of the share of worlds with mat minus that of no action.

    Parameters
    ----------
    outcomes
        What `compare` returned, with maps and the strategy no action.
    strategies
        Names of those to draw, 4 at most; the first of all if none is named.
    years
        Which to draw; three up to the last with maps if none is named.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.

    Returns
    -------
    matplotlib.figure.Figure
        `save_figure` writes it.

    Raises
    ------
    InputError
        A name, year or units that are not allowed, or there are no maps or no action is missing.
    """
    given = _given(outcomes, strategies, system)
    return maps.change_maps(
        outcomes,
        site=given.site,
        system=given.system,
        strategies=given.names,
        years=tuple(years),
        notice=given.notice,
    )


def draw_series(
    outcomes: xr.Dataset,
    *,
    strategies: tuple[str, ...] = (),
    years: tuple[int, ...] = (),
    system: str | None = None,
) -> map_series.MapSeries:
    """Draw the maps year after year, strategies side by side, as a moving picture.

    Parameters
    ----------
    outcomes
        What `compare` returned, with maps.
    strategies
        Names of those to draw, 6 at most; the first of all if none is named.
    years
        Which to show; all with maps if none is named.
    system
        Units to show, "metric" or "us"; those of the experiment if not given.

    Returns
    -------
    MapSeries
        `save_figure` writes it as GIF, animated WebP or PNG, or as PDF with a page for each year.

    Raises
    ------
    InputError
        A name, year or units that are not allowed, or there are no maps.
    """
    given = _given(outcomes, strategies, system)
    return map_series.map_series(
        outcomes,
        site=given.site,
        system=given.system,
        strategies=given.names,
        years=tuple(years),
        notice=given.notice,
    )


def save_figure(
    figure: Figure | map_series.MapSeries, path: str | Path, *, description: str = "", pixels: int | None = None
) -> Path:
    """Write a figure in the format that the file's ending says.

    Parameters
    ----------
    figure
        What one of the functions `draw_...` gave.
    path
        .svg or .pdf for paper, .png or .webp for a screen; a series: .gif, .webp, .png, or .pdf.
    description
        What it shows, for those who cannot see it; kept in the file where the format has a place for it.
    pixels
        Width of a bitmap; 150 dots an inch if not given, 1280 for a moving picture.

    Returns
    -------
    pathlib.Path
        The file, written whole or not at all.

    Raises
    ------
    InputError
        Another ending.
    OSError
        The disk refused.
    """
    if isinstance(figure, map_series.MapSeries):
        return map_series.write_series(figure, Path(path), pixels=pixels or 1280)
    return style.write(figure, Path(path), description, pixels=pixels)


@dataclass(frozen=True)
class Named:
    """A figure that can be asked for by name.

    Attributes
    ----------
    draw : callable
        One of the functions above.
    pages : callable
        Shares the strategies out over figures that have room for them; one page for all where it gives one.
    by_year : bool
        Whether years may be chosen.
    description : str
        What it shows, for those who cannot see it.
    endings : tuple of str
        Of the files that it can be written to.
    """

    draw: Callable[..., Figure | map_series.MapSeries]
    pages: Callable[[xr.Dataset, tuple[str, ...]], Pages]
    by_year: bool
    description: str
    endings: tuple[str, ...] = style.STILLS


def _one(_: xr.Dataset, names: tuple[str, ...]) -> Pages:
    return [names]


def _worked(_: xr.Dataset, names: tuple[str, ...]) -> Pages:
    others = tuple(name for name in names if name != NO_ACTION)
    step = maps.MOST_ROWS
    return [others[at : at + step] for at in range(0, len(others), step)]


FIGURES: Mapping[str, Named] = MappingProxyType(
    {
        "site": Named(draw_site, _one, False, "The site as it was understood: mats, hosts by state, units, barriers"),
        "outcomes": Named(draw_outcomes, _one, False, "Outcomes of each strategy by year, with bands of worlds"),
        "differences": Named(
            draw_differences, _worked, True, "How each strategy differs from no action in the same worlds"
        ),
        "hours": Named(draw_hours, hours_chart.pages_of_hours, True, "Hours a year by season and task"),
        "maps": Named(draw_maps, lambda _, names: maps.pages(names), True, "Share of worlds with mat on the ground"),
        "changes": Named(draw_changes, _worked, True, "Share of worlds with mat, minus that of no action"),
        "series": Named(
            draw_series,
            lambda _, names: maps.pages(names, map_series.MOST_MAPS),
            True,
            "Share of worlds with mat, year after year",
            map_series.MOVING,
        ),
    }
)


def _given(outcomes: xr.Dataset, strategies: tuple[str, ...], system: str | None) -> _Given:
    if "strategy" not in outcomes.dims:
        raise InputError("dataset: found no dimension strategy, allowed what compare returned, with strategies")
    names = tuple(check_strategy(outcomes, name, "strategy") for name in strategies) or strategy_names(outcomes)
    try:
        inputs = unembed(outcomes)
    except InputError:  # made by hand, or written by another version: drawn without the ground
        told = str(outcomes.attrs.get("comment", ""))
        return _Given(names, None, _system(system) or "metric", told)
    return _Given(names, inputs.site, _system(system) or inputs.units, " ".join(notices(inputs)))


def _system(system: str | None) -> str | None:
    if system is not None and system not in SYSTEMS:
        raise InputError(f"system: found {show(system)}, allowed {one_of(SYSTEMS)}")
    return system
