"""A design: which values of which factors a sweep goes through."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spreadsim.errors import InputError, show
from spreadsim.inputs.checks import Check
from spreadsim.inputs.design_fractions import hypercube, sobol_sequence
from spreadsim.inputs.parameter import SCALES
from spreadsim.inputs.settings import LARGEST_SEED

MOST_POINTS = 1_000_000
MOST_FACTORS = 1000
KINDS = MappingProxyType(
    {
        "grid": "every combination of the values",
        "latin hypercube": "each factor's range in as many slices as points, one point in each",
        "sobol": "a Sobol sequence, shifted at random",
        "listed": "points written out one by one",
    }
)


@dataclass(frozen=True)
class Factor:
    """One thing that a sweep varies.

    Attributes
    ----------
    name : str
        Where it stands: ``mat.front_speed`` (vine), ``pull.mat_kill`` (treatment), ``crews.staff.hours``,
        ``crews.staff.hours_factor``, ``strategies.mats only.tasks.pull.share``, ``years``... See `varied`.
    values : tuple or None
        The values to take; else `low` and `high`, or neither for a parameter's own range.
    low, high : float or None
        The range.
    scale : str or None
        ``"linear"`` or ``"log"``: how the range is divided; None: as the parameter's profile says, else linear.
    levels : int or None
        In a grid: how many values a range gives, its ends included.
    beyond_range : bool
        Allow values of a parameter outside the range in its profile.

    Raises
    ------
    InputError
        For everything that is not allowed.
    """

    name: str
    values: tuple[Any, ...] | None = None
    low: float | None = None
    high: float | None = None
    scale: str | None = None
    levels: int | None = None
    beyond_range: bool = False

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check(f'Factor "{self.name}"')
        check.text("name", self.name, empty=False)
        if self.values is not None:
            self._check_values(check)
        for end in ("low", "high"):
            if getattr(self, end) is not None:
                check.number(end, getattr(self, end))
        if (self.low is None) != (self.high is None):
            check.add("low" if self.low is None else "high", None, "both low and high, or neither")
        if self.scale is not None:
            check.choice("scale", self.scale, SCALES)
        if self.levels is not None:
            check.whole("levels", self.levels, 1, MOST_POINTS)
        check.flag("beyond_range", self.beyond_range)
        check.done()
        if self.low is not None and self.high is not None:
            if self.low >= self.high:
                check.add("low", self.low, f"less than high ({self.high:g})")
            elif self.scale == "log" and self.low <= 0:
                check.add("low", self.low, "above 0 on the log scale")
        check.done()

    def _check_values(self, check: Check) -> None:
        given: Any = self.values
        if isinstance(given, str | Mapping) or not hasattr(given, "__iter__"):
            check.add("values", given, "a list of values")
            return
        values = tuple(_plain(value) for value in given)
        if not values:
            check.add("values", [], "at least one value")
        if len({repr(value) for value in values}) < len(values):
            check.add("values", list(values), "each only once")
        for name in ("low", "high", "scale", "levels"):
            if getattr(self, name) is not None:
                check.add(name, getattr(self, name), "nothing, since the values are given")
        object.__setattr__(self, "values", values)


@dataclass(frozen=True)
class Design:
    """The points of a sweep; made by `grid`, `latin_hypercube`, `sobol` or `listed`.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    factors : tuple of Factor
        What varies.
    points : int
        How many points.
    seed : int
        Of a Latin hypercube and of the shift of a Sobol sequence; the worlds have the experiment's.
    rows : tuple of tuple of int
        Of points written out: which value each factor takes.

    Raises
    ------
    InputError
        For everything that is not allowed.
    """

    kind: str
    factors: tuple[Factor, ...]
    points: int
    seed: int = 0
    rows: tuple[tuple[int, ...], ...] = ()

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check("sweep")
        check.choice("kind", self.kind, KINDS)
        factors = check.instances("factors", self.factors, Factor)
        if not 1 <= len(factors) <= MOST_FACTORS and not len(check.problems):
            check.add("factors", len(factors), f"1 to {MOST_FACTORS}")
        for k, factor in enumerate(factors):
            if factor.name in [other.name for other in factors[:k]]:
                check.add(f"factors[{k}]", factor.name, "each only once")
        check.whole("points", self.points, 1, MOST_POINTS)
        check.whole("seed", self.seed, 0, LARGEST_SEED)
        if self.kind == "sobol" and isinstance(self.points, int) and self.points & (self.points - 1):
            check.add("points", self.points, "a power of two (64, 128, ...), for which the sequence is balanced")
        check.done()
        object.__setattr__(self, "factors", factors)

    def fractions(self) -> NDArray[np.float64]:
        """Give where each point lies in the range of each factor, 0 to 1, (points, factors).

        A factor with `values` takes the one whose slice of 0 to 1 holds the fraction.
        """
        width = len(self.factors)
        if self.kind == "grid":
            counts = [count_of(factor) for factor in self.factors]
            places = np.indices(counts).reshape(width, -1).T
            inner = [(places[:, k] + 0.5) / counts[k] for k in range(width)]
            ends = [places[:, k] / max(1, counts[k] - 1) for k in range(width)]
            return np.stack([inner[k] if f.values is not None else ends[k] for k, f in enumerate(self.factors)], axis=1)
        if self.kind == "listed":
            return (np.array(self.rows) + 0.5) / [count_of(factor) for factor in self.factors]
        return (hypercube if self.kind == "latin hypercube" else sobol_sequence)(self.points, width, self.seed)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        factors = [{key: getattr(one, key) for key in Factor.__dataclass_fields__} for one in self.factors]
        rows = [list(row) for row in self.rows]
        return {"kind": self.kind, "points": self.points, "seed": self.seed, "factors": factors, "rows": rows}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Design:
        """Make a design of what `to_dict` gave."""
        factors = tuple(Factor(**one) for one in data["factors"])
        return cls(data["kind"], factors, data["points"], data["seed"], tuple(tuple(row) for row in data["rows"]))


def grid(factors: Sequence[Factor]) -> Design:
    """Give every combination of the values of the factors; the last factor varies fastest.

    Raises
    ------
    InputError
        If a factor has neither values nor levels, or there are more than a million points.
    """
    check = Check("sweep")
    kept = check.instances("factors", factors, Factor)
    for factor in kept:
        if factor.values is None and factor.levels is None:
            check.add(f'factor "{factor.name}"', None, "values, or levels of its range, in a grid")
    check.done()
    return Design("grid", kept, math.prod(count_of(factor) for factor in kept))


def latin_hypercube(factors: Sequence[Factor], points: int, seed: int = 0) -> Design:
    """Give points of which each factor's range, in as many equal slices, has one in each slice.

    McKay, Beckman and Conover 1979, Technometrics 21:239 (from memory). Two designs of different numbers of points
    share none.

    Raises
    ------
    InputError
        For everything that is not allowed.
    """
    return Design("latin hypercube", _without_levels(factors), points, seed)


def sobol(factors: Sequence[Factor], points: int, seed: int = 0) -> Design:
    """Give the first points of a Sobol sequence, shifted at random: even in all factors together.

    The sequence is scipy's (direction numbers of Joe and Kuo 2008, from memory), not scrambled; each factor's
    binary digits are flipped by a random word, which keeps the balance of the points and does not depend on scipy's
    version. Twice as many points hold the first ones.

    Parameters
    ----------
    factors, seed
        As for a Latin hypercube.
    points
        A power of two.

    Raises
    ------
    InputError
        For everything that is not allowed, and when its points are asked for and scipy is not installed.
    """
    return Design("sobol", _without_levels(factors), points, seed)


def listed(points: Sequence[Mapping[str, Any]], *, beyond_range: bool = False) -> Design:
    """Give a design of points written out: one mapping of names to values for each, all of the same names.

    Raises
    ------
    InputError
        If there are none or their names differ.
    """
    rows = [dict(point) if isinstance(point, Mapping) else {} for point in points]
    names = list(rows[0]) if rows else []
    for k, row in enumerate(rows):
        if set(row) != set(names) or not names:
            raise InputError(f"sweep: points[{k}]: found {show(points[k])}, allowed values of {', '.join(names)}")
    columns = {name: [_plain(row[name]) for row in rows] for name in names}
    values = {name: {repr(value): value for value in column} for name, column in columns.items()}
    places = {name: {said: k for k, said in enumerate(known)} for name, known in values.items()}
    factors = tuple(Factor(name, tuple(values[name].values()), beyond_range=beyond_range) for name in names)
    chosen = tuple(tuple(places[name][repr(columns[name][k])] for name in names) for k in range(len(rows)))
    return Design("listed", factors, len(rows), rows=chosen)


def count_of(factor: Factor) -> int:
    """Give how many values a factor takes in a grid."""
    return factor.levels or 1 if factor.values is None else len(factor.values)


def _without_levels(factors: Sequence[Factor]) -> tuple[Factor, ...]:
    check = Check("sweep")
    kept = check.instances("factors", factors, Factor)
    for factor in kept:
        if factor.levels is not None:
            check.add(f'factor "{factor.name}".levels', factor.levels, "nothing: they are for a grid")
    check.done()
    return kept


def _plain(value: Any) -> Any:
    """A value as Python has it: numpy's scalars and arrays become numbers and tuples."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    return tuple(value) if isinstance(value, list) else value
