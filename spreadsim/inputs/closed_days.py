"""Days of the year on which nothing is sprayed, whatever the weather: by month, or from day to day."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

import numpy as np

from spreadsim.inputs.checks import Check

MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_LEAP = 2024  # any year that has a 29 February
_MONTHS_ALLOWED = 'a month by name or number, such as "november" or 11'
_DAYS_ALLOWED = 'days such as "11-15/11-30" (month and day, both ends included), or one such as "12-25"'


def month_numbers(check: Check, place: str, values: Any) -> tuple[int, ...]:
    """Check a list of months, by name (the first three letters will do) or number.

    Returns
    -------
    tuple of int
        1 to 12, each once, in the order of the year.
    """
    numbers: set[int] = set()
    for index, value in enumerate(_list_of(check, place, values, _MONTHS_ALLOWED)):
        found = value
        if isinstance(value, str):
            names = [k for k, name in enumerate(MONTHS, 1) if value.strip().lower() in (name, name[:3])]
            found = names[0] if names else value
        if isinstance(found, int | np.integer) and not isinstance(found, bool) and 1 <= found <= 12:
            numbers.add(int(found))
        else:
            check.add(f"{place}[{index}]", value, _MONTHS_ALLOWED)
    return tuple(sorted(numbers))


def spans_of_days(check: Check, place: str, values: Any) -> tuple[str, ...]:
    """Check a list of spans of days; one may go over the end of the year.

    Returns
    -------
    tuple of str
        As given.
    """
    kept = []
    for index, value in enumerate(_list_of(check, place, values, _DAYS_ALLOWED)):
        if _ends(value) is None:
            check.add(f"{place}[{index}]", value, _DAYS_ALLOWED)
        else:
            kept.append(str(value))
    return tuple(kept)


def open_days(months: Iterable[int], spans: Iterable[str]) -> np.ndarray:
    """Give which days are open.

    Parameters
    ----------
    months : ints
        Closed months, 1 to 12.
    spans : texts
        Closed spans, as `spans_of_days` gives them.

    Returns
    -------
    bool (12, 31)
        By month and day, from 0; days that a month does not have are open, and mean nothing.
    """
    days = np.ones((12, 31), dtype=bool)
    for month in months:
        days[month - 1] = False
    for span in spans:
        ends = _ends(span)
        if ends is None:
            raise ValueError(f"{span!r} is no span of days")
        first, last = (31 * (month - 1) + day - 1 for month, day in ends)
        flat = days.reshape(-1)
        if first <= last:
            flat[first : last + 1] = False
        else:  # over the end of the year
            flat[first:] = False
            flat[: last + 1] = False
    return days


def _list_of(check: Check, place: str, values: Any, allowed: str) -> list[Any]:
    if isinstance(values, str | Mapping) or not isinstance(values, Iterable):
        check.add(place, values, f"a list of {allowed}")
        return []
    return list(values)


def _ends(value: object) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """Take a span apart into (month, day) of its first and last day; None if it is none."""
    if not isinstance(value, str) or re.fullmatch(r"\s*\d\d-\d\d\s*(/\s*\d\d-\d\d\s*)?", value, re.ASCII) is None:
        return None
    ends = []
    for text in value.split("/"):
        month, day = (int(part) for part in text.strip().split("-"))
        try:
            date(_LEAP, month, day)
        except ValueError:
            return None
        ends.append((month, day))
    return ends[0], ends[-1]
