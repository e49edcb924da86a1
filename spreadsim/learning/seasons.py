"""How many seasons of the model lie between the map that an experiment starts from and a new survey."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from spreadsim.errors import MISSING, Said
from spreadsim.inputs import Survey
from spreadsim.inputs.checks import Check
from spreadsim.inputs.dates import Span
from spreadsim.inputs.seasons import date_of_map, first_day, first_season, season_called, season_number, span_given

__all__ = ["Between", "between", "first_season", "in_winter", "season_number"]

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
    start = date_of_map(first, since, check)
    new = _surveyed(survey, on, check)
    if start is None or new is None:
        return Between(date.min, date.min, 1)
    middle = new[0] + (new[1] - new[0]) / 2
    begin = first_season(start)
    seasons = season_number(middle) - begin
    if middle < start:
        check.add("date", Said(f"a survey of {middle}"), f"one after the map, which is of {start}")
    elif seasons < 1:
        allowed = (
            f"one from {first_day(begin + 1)} on: worlds begin with {season_called(begin)}, the nearest to the map"
        )
        check.add("date", Said(f"a survey of {middle}"), allowed)
    elif seasons > 4 * MOST_YEARS:
        check.add("date", Said(f"a survey of {middle}"), f"one within {MOST_YEARS} years after the map ({start})")
    if season_number(new[0]) != season_number(new[1]) and on is None:
        check.remark(
            "date", f"days from {new[0]} to {new[1]}: all of it is taken for {season_called(season_number(middle))}"
        )
    return Between(start, middle, max(seasons, 1))


def _surveyed(survey: Survey, on: object, check: Check) -> Span | None:
    if on is not None:
        return span_given("date", on, check)
    spans = [record.dates for record in survey.records if record.dates is not None]
    if not spans:
        check.add("date", MISSING, "eventDate in the survey, or the date of the survey, such as 2025-12-01")
        return None
    return min(span[0] for span in spans), max(span[1] for span in spans)
