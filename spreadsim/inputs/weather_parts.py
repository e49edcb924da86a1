"""Checks of what the weather is made of."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from spreadsim.errors import MISSING, InputError, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.daily import Daily, read_daily
from spreadsim.inputs.times import by_season
from spreadsim.schema import SEASONS

Four = tuple[float, float, float, float]
USUAL_DAYS = (4.0, 6.0, 8.0, 5.0)
MIN_TEMPERATURE = 7.0  # degC
MAX_WIND = 4.5  # m/s
# What each limit usually is, and the ways of telling the weather that it goes with.
_LIMITS = {
    "min_temperature": (MIN_TEMPERATURE, ("monthly", "daily")),
    "max_wind": (MAX_WIND, ("daily",)),
}


def mean_days_of(check: Check, fit_days: Any) -> Four:
    """Check mean numbers of days by season, 0 to 92."""
    days = by_season(check, "fit_days", fit_days)
    for season, number in zip(SEASONS, days, strict=True):
        if number > 92:
            check.add(f"fit_days.{season}", number, "0 to 92 days")
    return days


def limit_of(check: Check, name: str, value: object, bounds: tuple[float, float], ways: list[str]) -> float:
    """Give a limit, the usual one where it is None; note one that is of no use with the ways taken."""
    usual, used = _LIMITS[name]
    if value is None:
        return usual
    if not set(used) & set(ways):
        check.add(name, value, f"none, unless there is {' or '.join(used)}")
    return check.number(name, value, *bounds)


def record_of(check: Check, given: Any) -> Daily | None:
    """Give a record of days, of a path or of its fields; None if anything is wrong."""
    if isinstance(given, str | Path):
        return read_daily(Path(given), check.problems)
    made: Daily | None = part_of(check, "daily", Daily, given)
    return made


def part_of(check: Check, place: str, kind: Any, given: Any) -> Any:
    """Give an object of a kind, made of a mapping of its fields if need be; None if anything is wrong."""
    if isinstance(given, kind):
        return given
    fields = kind.__dataclass_fields__
    if not isinstance(given, Mapping):
        check.add(place, given, f"a {kind.__name__}, or a mapping of {', '.join(fields)}")
        return None
    before = len(check.problems)
    for name in given:
        if name not in fields:
            check.add(f"{place}.{name}", Said("a name that is not known"), ", ".join(fields))
    for name in fields:
        if name not in given and name != "year_sd":
            check.add(f"{place}.{name}", MISSING, "numbers, always")
    if len(check.problems) > before:
        return None
    try:
        return kind(**given)
    except InputError as error:
        check.problems.absorb(error, file=check.thing, place=place)
        return None
