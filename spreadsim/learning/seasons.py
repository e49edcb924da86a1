"""How many seasons of the model lie between the map that an experiment starts from and a new survey."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from spreadsim.errors import MISSING, Said
from spreadsim.inputs import Survey
from spreadsim.inputs.checks import Check
from spreadsim.inputs.dates import Span, span_of
from spreadsim.schema import SEASONS

MOST_YEARS = 50


@dataclass(frozen=True)
class Between:
    """The time that worlds are run for.

    Attributes
    ----------
    since : date
        Of the map.
    on : date
        Of the new survey: the middle of its days.
    seasons : int
        Whole seasons before that of the survey, from the winter nearest to the map.
    """

    since: date
    on: date
    seasons: int

    @property
    def years(self) -> int:
        """Years of the model that they lie in."""
        return -(-self.seasons // 4)


def season_number(day: date) -> int:
    """Count seasons through the years; one that divides by 4 is a winter, from December on."""
    return 4 * (day.year + (day.month == 12)) + day.month % 12 // 3


def first_season(mapped: date) -> int:
    """Give the winter nearest to a map: worlds begin with a winter."""
    year, season = divmod(season_number(mapped), 4)
    return 4 * year if season < 2 else 4 * year + 4


def in_winter(day: date) -> bool:
    """Tell whether a day is in winter, when an evergreen vine stands out."""
    return season_number(day) % 4 == 0


def between(first: Survey | None, since: object, survey: Survey, on: object, check: Check) -> Between:
    """Work out the time between map and survey, noting what is wrong.

    Parameters
    ----------
    first
        The survey that the site names, if any: its last day is the date of the map.
    since
        Date of the map where it is said (a date, or text such as ``2024-11-15``); it goes before `first`.
    survey
        The new one.
    on
        Its date where its records have none, or all of them should count as of one day.
    check
        Where to note.
    """
    start = _mapped(first, since, check)
    new = _surveyed(survey, on, check)
    if start is None or new is None:
        return Between(date.min, date.min, 1)
    middle = new[0] + (new[1] - new[0]) / 2
    begin = first_season(start)
    seasons = season_number(middle) - begin
    if middle < start:
        check.add("date", Said(f"a survey of {middle}"), f"one after the map, which is of {start}")
    elif seasons < 1:
        allowed = f"one from {_first_day(begin + 1)} on: worlds begin with {_called(begin)}, the nearest to the map"
        check.add("date", Said(f"a survey of {middle}"), allowed)
    elif seasons > 4 * MOST_YEARS:
        check.add("date", Said(f"a survey of {middle}"), f"one within {MOST_YEARS} years after the map ({start})")
    if season_number(new[0]) != season_number(new[1]) and on is None:
        check.remark("date", f"days from {new[0]} to {new[1]}: all of it is taken for {_called(season_number(middle))}")
    return Between(start, middle, max(seasons, 1))


def _mapped(first: Survey | None, since: object, check: Check) -> date | None:
    if since is not None:
        span = _read("since", since, check)
        return None if span is None else span[1]
    days = [record.dates[1] for record in first.records if record.dates is not None] if first is not None else []
    if not days:
        allowed = "the date of the map, such as 2024-11-15, or a site that names a survey with dates"
        check.add("since", MISSING, allowed)
        return None
    return max(days)


def _surveyed(survey: Survey, on: object, check: Check) -> Span | None:
    if on is not None:
        return _read("date", on, check)
    spans = [record.dates for record in survey.records if record.dates is not None]
    if not spans:
        check.add("date", MISSING, "eventDate in the survey, or the date of the survey, such as 2025-12-01")
        return None
    return min(span[0] for span in spans), max(span[1] for span in spans)


def _read(place: str, value: object, check: Check) -> Span | None:
    if isinstance(value, date):
        return value, value
    span = span_of(value) if isinstance(value, str) else None
    if span is None:
        check.add(place, value, "a date such as 2024-11-15, or a month such as 2024-11")
    return span


def _called(number: int) -> str:
    year, season = divmod(number, 4)
    return f"{SEASONS[season]} {f'{year - 1}/{year % 100:02d}' if season == 0 else year}"


def _first_day(number: int) -> date:
    year, season = divmod(number, 4)
    return date(year, 3 * season, 1) if season else date(year - 1, 12, 1)
