"""The four ways to lay out a design."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from spreadsim.errors import InputError, show
from spreadsim.inputs.checks import Check
from spreadsim.inputs.design import Design
from spreadsim.inputs.design_factor import Factor, count_of, plain


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
    columns = {name: [plain(row[name]) for row in rows] for name in names}
    values = {name: {repr(value): value for value in column} for name, column in columns.items()}
    places = {name: {said: k for k, said in enumerate(known)} for name, known in values.items()}
    factors = tuple(Factor(name, tuple(values[name].values()), beyond_range=beyond_range) for name in names)
    chosen = tuple(tuple(places[name][repr(columns[name][k])] for name in names) for k in range(len(rows)))
    return Design("listed", factors, len(rows), rows=chosen)


def _without_levels(factors: Sequence[Factor]) -> tuple[Factor, ...]:
    check = Check("sweep")
    kept = check.instances("factors", factors, Factor)
    for factor in kept:
        if factor.levels is not None:
            check.add(f'factor "{factor.name}".levels', factor.levels, "nothing: they are for a grid")
    check.done()
    return kept
