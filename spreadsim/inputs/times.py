"""Numbers by season and spans of years, as crews, tasks and funds give them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from spreadsim.errors import one_of
from spreadsim.inputs.checks import Check
from spreadsim.schema import SEASONS

MOST_SEASONS = 1600  # of the longest experiment
Years = tuple[int, int | None] | None


def by_season(check: Check, place: str, values: Any) -> tuple[float, float, float, float]:
    """Check numbers of at least 0 by season.

    Parameters
    ----------
    check : Check
        Where to note problems.
    place : str
        The place named there.
    values : float, mapping or four numbers
        One for every season; by season, 0 where not named; or in the order of the year.

    Returns
    -------
    tuple of four floats
        From winter to autumn.
    """
    if isinstance(values, Mapping):
        for season in values:
            if season not in SEASONS:
                check.add(f"{place}.{season}", values[season], one_of(SEASONS))
        four = [check.number(f"{place}.{season}", values.get(season, 0.0), 0) for season in SEASONS]
    elif isinstance(values, Iterable) and not isinstance(values, str):
        listed = list(values)
        if len(listed) != len(SEASONS):
            check.add(place, listed, "four numbers, from winter to autumn")
            return 0.0, 0.0, 0.0, 0.0
        four = [check.number(f"{place}[{index}]", value, 0) for index, value in enumerate(listed)]
    else:
        four = [check.number(place, values, 0)] * len(SEASONS)
    return four[0], four[1], four[2], four[3]


def span_of_years(check: Check, years: Any, place: str = "years") -> Years:
    """Check a first and a last year.

    Parameters
    ----------
    check : Check
        Where to note problems.
    years : sequence of one or two numbers, or None
        From 1, both included; without a last one, or with None for it, there is no end.
    place : str
        The place named there.

    Returns
    -------
    tuple of (int, int or None), or None
        None: all years.
    """
    if years is None:
        return None
    if isinstance(years, str | Mapping) or not isinstance(years, Sequence) or len(years) not in (1, 2):
        check.add(place, years, "first and last year, such as [1, 5], or [6] for the sixth and all later ones")
        return None
    first = check.whole(f"{place}[0]", years[0], 1)
    if len(years) == 1 or years[1] is None:
        return first, None
    return first, check.whole(f"{place}[1]", years[1], first)
