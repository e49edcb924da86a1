"""Seasons of the calendar and of the model: worlds begin with the winter nearest to the day of the map."""

from __future__ import annotations

from datetime import date

from spreadsim.errors import MISSING
from spreadsim.inputs.checks import Check
from spreadsim.inputs.dates import Span, span_of
from spreadsim.inputs.survey import Survey
from spreadsim.schema import SEASONS


def season_number(day: date) -> int:
    """Count seasons through the years; one that divides by 4 is a winter, from December on."""
    return 4 * (day.year + (day.month == 12)) + day.month % 12 // 3


def first_season(mapped: date) -> int:
    """Give the winter nearest to a map: worlds begin with a winter."""
    year, season = divmod(season_number(mapped), 4)
    return 4 * year if season < 2 else 4 * year + 4


def season_called(number: int) -> str:
    """Say which season of the calendar a number means: "winter 2026/27", "spring 2027"."""
    year, season = divmod(number, 4)
    return f"{SEASONS[season]} {f'{year - 1}/{year % 100:02d}' if season == 0 else year}"


def first_day(number: int) -> date:
    """Give the first day of a season."""
    year, season = divmod(number, 4)
    return date(year, 3 * season, 1) if season else date(year - 1, 12, 1)


def span_given(place: str, value: object, check: Check) -> Span | None:
    """Read what may be a date, or a text that says a day or a month; None if it is neither, which is noted."""
    if isinstance(value, date):
        return value, value
    span = span_of(value) if isinstance(value, str) else None
    if span is None:
        check.add(place, value, "a date such as 2024-11-15, or a month such as 2024-11")
    return span


def date_of_map(first: Survey | None, since: object, check: Check) -> date | None:
    """Give the date of a map: the one that is said, else the last day of the survey that the site names.

    Parameters
    ----------
    first
        The survey that the site names, if any.
    since
        A date, or a text such as ``2024-11-15``; it goes before `first`.
    check
        Where to note what is missing or wrong.
    """
    if since is not None:
        span = span_given("since", since, check)
        return None if span is None else span[1]
    days = [record.dates[1] for record in first.records if record.dates is not None] if first is not None else []
    if not days:
        allowed = "the date of the map, such as 2024-11-15, or a site that names a survey with dates"
        check.add("since", MISSING, allowed)
        return None
    return max(days)
