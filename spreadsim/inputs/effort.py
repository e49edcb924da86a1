"""How long and how much ground was looked at, as records say it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from spreadsim.inputs.units import ACRE, FOOT, HECTARE

_HOURS: Mapping[str, float] = MappingProxyType(
    {
        **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 1.0),
        **dict.fromkeys(("min", "mins", "minute", "minutes"), 1 / 60),
    }
)
_SQUARE: Mapping[str, float] = MappingProxyType(
    {
        **dict.fromkeys(("m2", "m²", "sq m", "square metre", "square metres", "square meter", "square meters"), 1.0),
        **dict.fromkeys(("ha", "hectare", "hectares"), HECTARE),
        **dict.fromkeys(("ac", "acre", "acres"), ACRE),
        **dict.fromkeys(("km2", "km²", "square kilometre", "square kilometres", "square kilometer"), 1e6),
        **dict.fromkeys(("ft2", "ft²", "sq ft", "square foot", "square feet"), FOOT * FOOT),
    }
)
_PEOPLE = r"(?:person|people|persons|observer|observers|searcher|searchers|volunteer|volunteers|staff)"
_NUMBER = r"(\d+(?:\.\d+)?)"
_TIME = r"(hours|hour|hrs|hr|h|minutes|minute|mins|min)"
_TIMES = re.compile(rf"{_NUMBER}\s*{_PEOPLE}?[\s-]*{_TIME}(?:\s+{_NUMBER}\s*(minutes|minute|mins|min))?")
_PRODUCT = re.compile(rf"{_NUMBER}\s*{_PEOPLE}\s*(?:x|×|\*|for|,)?\s*{_NUMBER}\s*{_TIME}(?:\s+each)?")
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)")


class Effort(NamedTuple):
    """Hours of people, and ground looked at in m2; None where nothing is said."""

    hours: float | None = None
    area: float | None = None


def effort_of(text: str) -> Effort | None:
    """Read an effort: ``2 hours``, ``3 observer-hours``, ``90 min``, ``1:30``, ``2 people x 1.5 h``, ``400 m2``.

    Hours are those of all people together: with a number of people before, they are multiplied.

    Returns
    -------
    Effort or None
        None where it is none of these, such as a distance walked.
    """
    plain = " ".join(text.lower().split())
    hours = area = None
    for part in re.split(r"\s*[;|]\s*|\s+and\s+", plain):
        found, ground = _hours(part), _area(part)
        if found is None and ground is None:
            return None
        hours = found if hours is None else hours
        area = ground if area is None else area
    return Effort(hours, area)


def hours_with(value: float, unit: str) -> float | None:
    """Give hours of a number and a unit such as ``person hours``; None if it is no time."""
    plain = re.sub(rf"^{_PEOPLE}[\s-]*", "", " ".join(unit.lower().split()))
    return value * _HOURS[plain] if plain in _HOURS else None


def area_with(value: float, unit: str) -> float | None:
    """Give m2 of a number and a unit such as ``ha``; None if it is no area."""
    plain = " ".join(unit.lower().split())
    return value * _SQUARE[plain] if plain in _SQUARE else None


def _hours(text: str) -> float | None:
    match = _PRODUCT.fullmatch(text)
    if match is not None:
        return float(match[1]) * float(match[2]) * _HOURS[match[3]]
    match = _TIMES.fullmatch(text)
    if match is not None:
        return float(match[1]) * _HOURS[match[2]] + (float(match[3]) / 60 if match[3] else 0.0)
    match = _CLOCK.fullmatch(text)
    return None if match is None else int(match[1]) + int(match[2]) / 60


def _area(text: str) -> float | None:
    match = re.fullmatch(rf"{_NUMBER}\s*(\D.*)", text)
    return None if match is None else area_with(float(match[1]), match[2])
