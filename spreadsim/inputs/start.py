"""A learned state that a comparison begins from: worlds, the work really done, and what a survey changed in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.arrays import Frozen, freeze
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.cross_checks import check_names
from spreadsim.inputs.dates import span_of
from spreadsim.inputs.settings import LARGEST_SEED, MOST_YEARS
from spreadsim.inputs.site import Site
from spreadsim.inputs.site_hash import site_hash
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.weather import Weather

MOST_WORLDS = 1_000_000
# amendments by what they are of: columns with their types, bounds and what is allowed
CELLS = ("cell_world", "cell", "cell_cover", "cell_known")
HOSTS = ("host_world", "host", "host_state", "host_known")
_BARE, _FRUITING = 0, 2


@dataclass(frozen=True, eq=False)
class Start(Frozen):
    """Where a comparison begins, if not at the map.

    A world is run again from the map through the work that was really done, then amended by what a survey saw; from
    there on every compared strategy goes its own way. All arrays are read-only.

    Attributes
    ----------
    years : int
        Whole years since the map, 1 or more: the comparison begins with the winter of year ``years + 1``.
    seed : int
        Of the worlds, from the map on; 0 to 2**32 - 1.
    numbers : int64 array (worlds)
        Replicate number that each world is run as; one may be there more than once.
    values : mapping of str to float64 array (worlds)
        Parameters of each world by "process.name" or "treatment.role", in the place of draws.
    strategy : Strategy
        The work that was done in these years.
    crews : tuple of Crew
        Who did it, with the hours that they worked.
    site : str
        `site_hash` of the site.
    cell_world, cell, cell_cover, cell_known : int64, int64, float64 and bool arrays of equal length
        What is changed in cells: index of the world (sorted), cell (row x columns + column), living cover as a share
        of the ground (0: the mat there is gone), and whether the steward knows of it.
    host_world, host, host_state, host_known : int64, int64, uint8 and bool arrays of equal length
        The same of hosts: state is an index in `hosts.STATES`. Bare and known: no vine, its follow-up ends.
    surveyed : str
        Date of the survey, ISO 8601; empty if there was none.
    notice : str
        What must be said wherever results are shown.
    weather : Weather or None
        Days fit to spray in these years, for work from a log, which no day and no fund held back; None: those of the
        experiment, as for a strategy that stands for the work.

    Raises
    ------
    InputError
        Everything that is wrong.
    """

    years: int
    seed: int
    numbers: np.ndarray
    values: Mapping[str, Any]
    strategy: Strategy
    crews: tuple[Crew, ...]
    site: str
    cell_world: Any = field(default=())
    cell: Any = field(default=())
    cell_cover: Any = field(default=())
    cell_known: Any = field(default=())
    host_world: Any = field(default=())
    host: Any = field(default=())
    host_state: Any = field(default=())
    host_known: Any = field(default=())
    surveyed: str = ""
    notice: str = ""
    weather: Weather | None = None

    def __post_init__(self) -> None:
        """Check everything, then freeze the arrays."""
        check = Check("Start")
        kept: dict[str, Any] = {
            "years": check.whole("years", self.years, 1, MOST_YEARS),
            "seed": check.whole("seed", self.seed, 0, LARGEST_SEED),
            "numbers": _whole(check, "numbers", self.numbers, 0, LARGEST_SEED),
            "crews": check.instances("crews", self.crews, Crew),
            "site": check.text("site", self.site, empty=False),
            "surveyed": check.text("surveyed", self.surveyed),
            "notice": check.text("notice", self.notice),
        }
        worlds = len(kept["numbers"])
        if not 1 <= worlds <= MOST_WORLDS:
            check.add("numbers", Said(f"{worlds} worlds"), f"1 to {MOST_WORLDS:,} worlds")
        if not isinstance(self.strategy, Strategy):
            check.add("strategy", self.strategy, "a Strategy")
        check_names(check, "crews", kept["crews"])
        if self.weather is not None and not isinstance(self.weather, Weather):
            check.add("weather", self.weather, "a Weather, or None")
        if kept["surveyed"] and span_of(kept["surveyed"]) is None:
            check.add("surveyed", self.surveyed, "a date such as 2024-01-31, or nothing")
        kept["values"] = _values(check, self.values, worlds)
        kept |= {
            "cell_world": _whole(check, "cell_world", self.cell_world, 0, worlds - 1),
            "cell": _whole(check, "cell", self.cell, 0, 2**40),
            "cell_cover": _numbers(check, "cell_cover", self.cell_cover, 0.0, 1.0),
            "cell_known": _flags(check, "cell_known", self.cell_known),
            "host_world": _whole(check, "host_world", self.host_world, 0, worlds - 1),
            "host": _whole(check, "host", self.host, 0, 2**40),
            "host_state": _whole(check, "host_state", self.host_state, _BARE, _FRUITING).astype(np.uint8),
            "host_known": _flags(check, "host_known", self.host_known),
        }
        for names in (CELLS, HOSTS):
            _check_rows(check, names, kept)
        check.done()
        for name, value in kept.items():
            if isinstance(value, np.ndarray):
                value = freeze(value)
            object.__setattr__(self, name, value)

    def __eq__(self, other: object) -> bool:
        """Compare all fields."""
        if not isinstance(other, Start):
            return NotImplemented
        if self.values.keys() != other.values.keys():
            return False
        same = all(np.array_equal(column, other.values[name]) for name, column in self.values.items())
        return same and _without_values(self) == _without_values(other)

    def __hash__(self) -> int:
        """Hash by the plain fields."""
        return hash((self.years, self.seed, len(self.numbers), self.strategy.name, self.site, self.surveyed))

    @property
    def worlds(self) -> int:
        """How many worlds there are."""
        return len(self.numbers)

    def check_against(self, check: Check, site: Site, place: str = "start") -> None:
        """Note what does not fit a site: another one, cells and hosts that it does not have, mat on a barrier."""
        if self.site != site_hash(site):
            check.add(place, Said("a start that was learned on another site"), "one that belongs to the site as it is")
            return
        bounds = (("cell", site.ny * site.nx, "cells"), ("host", len(site.hosts), "hosts"))
        for name, many, what in bounds:
            column = getattr(self, name)
            outside = np.flatnonzero(column >= many)
            if len(outside):
                at = f"{place}.{name}[{outside[0]}]"
                check.add(at, int(column[outside[0]]), f"0 to {many - 1}: the site has {many:,} {what}")
        if len(self.cell) and self.cell.max() < site.ny * site.nx:
            barred = np.flatnonzero((self.cell_cover > 0) & (site.plantable.ravel()[self.cell] <= 0))
            if len(barred):
                at = f"{place}.cell_cover[{barred[0]}]"
                check.add(at, float(self.cell_cover[barred[0]]), "0 where the vine cannot grow")


def _without_values(start: Start) -> list[Any]:
    plain = []
    for name in start.__dataclass_fields__:
        value = getattr(start, name)
        if name != "values":
            plain.append(value.tolist() if isinstance(value, np.ndarray) else value)
    return plain


def _column(check: Check, place: str, values: Any, kinds: str, allowed: str) -> np.ndarray:
    """Give a column of one kind of numbers, an empty one where it is none."""
    try:
        column = np.asarray(values)
    except (TypeError, ValueError):
        column = np.zeros((0, 0), object)
    if column.ndim == 1 and not column.size:
        return column.astype("f8")
    if column.ndim != 1 or column.dtype.kind not in kinds:
        check.add(place, values, allowed)
        return np.zeros(0)
    return column


def _whole(check: Check, place: str, values: Any, low: int, high: int) -> np.ndarray:
    allowed = f"whole numbers, {low} to {high}"
    column = _column(check, place, values, "iu", allowed)
    wrong = np.flatnonzero((column < low) | (column > high))
    if len(wrong):
        check.add(f"{place}[{wrong[0]}]", int(column[wrong[0]]), allowed)
        return np.full(len(column), low, np.int64)
    return column.astype(np.int64)


def _numbers(check: Check, place: str, values: Any, low: float, high: float) -> np.ndarray:
    allowed = f"numbers, {low:g} to {high:g}" if np.isfinite(high) else "finite numbers"
    column = _column(check, place, values, "iuf", allowed).astype(np.float64)
    wrong = np.flatnonzero(~((column >= low) & (column <= high) & np.isfinite(column)))
    if len(wrong):
        check.add(f"{place}[{wrong[0]}]", float(column[wrong[0]]), allowed)
    return column


def _flags(check: Check, place: str, values: Any) -> np.ndarray:
    column = _column(check, place, values, "biu", "true or false")
    wrong = np.flatnonzero((column != 0) & (column != 1))
    if len(wrong):
        check.add(f"{place}[{wrong[0]}]", int(column[wrong[0]]), "true or false")
    return column.astype(bool)


def _values(check: Check, values: Any, worlds: int) -> Mapping[str, np.ndarray]:
    if not isinstance(values, Mapping):
        check.add("values", values, "arrays by the names of parameters")
        return MappingProxyType({})
    kept = {}
    for name, given in values.items():
        place = f'values["{name}"]'
        column = freeze(_numbers(check, place, given, -np.inf, np.inf))
        if len(column) != worlds:
            check.add(place, Said(f"{len(column)} numbers"), f"{worlds}, one for each world")
        kept[str(name)] = column
    return MappingProxyType(kept)


def _check_rows(check: Check, names: tuple[str, ...], kept: Mapping[str, np.ndarray]) -> None:
    """Note columns of different length, worlds out of order, and a thing that is amended twice in one world."""
    world, what = names[0], names[1]
    lengths = {name: len(kept[name]) for name in names}
    if len(set(lengths.values())) > 1:
        check.add(world, Said(", ".join(f"{n} of {name}" for name, n in lengths.items())), "columns of one length")
        return
    if (np.diff(kept[world]) < 0).any():
        check.add(world, Said("worlds out of order"), "rows that are sorted by world")
        return
    pairs = np.stack([kept[world], kept[what]], axis=1)
    if len(np.unique(pairs, axis=0)) < len(pairs):
        check.add(what, Said("one more than once in the same world"), "each once in a world")
