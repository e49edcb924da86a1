"""Planned against done: one table by season, task and unit, and what was found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from spreadsim.inputs import Experiment
from spreadsim.inputs.crew import Crew
from spreadsim.log.entry import Entry, Log
from spreadsim.log.naming import middle_of
from spreadsim.schema import SEASONS

CREW_HOURS = "all that crews plan"  # stands in for a plan where no line of the log came from a work list


@dataclass
class Row:
    """A task in a unit and a season.

    Attributes
    ----------
    season : int
        From 0, winter of year 1.
    task, unit : str
        `CREW_HOURS` for hours that are planned for no task; unit empty for ground in none.
    planned_hours, hours : float
        Of all people together; planned for the season, and worked in it.
    listed, free : dict of str to list of str
        By place, what lines of work lists say of it (``yes``, ``part``, ``no`` or empty), and what others say.
    found, something_else : int
        Further hosts with vine; plants that turned out to be no vine.
    unlisted : float
        Hours, of those worked, of lines that no work list planned.
    """

    season: int
    task: str
    unit: str
    planned_hours: float = 0.0
    hours: float = 0.0
    listed: dict[str, list[str]] = field(default_factory=dict)
    free: dict[str, list[str]] = field(default_factory=dict)
    found: int = 0
    something_else: int = 0
    unlisted: float = 0.0

    @property
    def places(self) -> dict[str, str]:
        """What became of each place: ``yes``, ``part``, ``no`` or empty.

        A place of several sessions is done when all of them did their part, or when somebody went there besides and
        says so.
        """
        return {place: self._became(place) for place in {**self.listed, **self.free}}

    def _became(self, place: str) -> str:
        listed, free = self.listed.get(place, []), self.free.get(place, [])
        if "yes" in free or (listed and set(listed) == {"yes"}):
            return "yes"
        every = {*listed, *free}
        return "part" if every & {"yes", "part"} else "" if "" in every else "no"

    def count(self, done: str) -> int:
        """Count places with this answer."""
        return sum(one == done for one in self.places.values())

    @property
    def left(self) -> float:
        """Planned hours that were not worked."""
        return max(0.0, self.planned_hours - self.hours)

    @property
    def year(self) -> int:
        """Of the model, from 1; 0 or less before its first winter."""
        return self.season // 4 + 1

    @property
    def season_name(self) -> str:
        """Say which season it is: "winter of year 1"."""
        name = SEASONS[self.season % 4]
        return f"{name} of year {self.year}" if self.year > 0 else f"{name} before the first winter of the map"


def last_season(log: Log) -> int:
    """Give the season of the newest day of work; -1 where no line has a day."""
    days = [entry.date for entry in log.counting if entry.date is not None]
    return log.season_of(max(days)) if days else -1


def planned_against_done(experiment: Experiment, log: Log) -> list[Row]:
    """Put together what was planned and what was done.

    Parameters
    ----------
    experiment
        Whose crews' hours stand for the plan of all seasons of work, if no line of the log came from a work list.
    log
        From `read_log`; lines that others correct don't count.

    Returns
    -------
    list of Row
        By season, task and unit. What was planned stands in the season for which it was planned, hours and what was
        found in that of their day; a place stands where it was planned, else where it was worked.
    """
    rows: dict[tuple[int, str, str], Row] = {}

    def row(season: int, entry: Entry) -> Row:
        key = season, work_of(entry), entry.unit
        return rows.setdefault(key, Row(*key))

    for entry in log.counting:
        season = None if entry.date is None else log.season_of(entry.date)
        planned = entry.planned_season() if entry.session is not None else None
        if planned is not None:
            one = row(planned, entry)
            one.planned_hours += entry.planned_hours or 0.0
        elif season is not None:
            one = row(season, entry)
        else:
            continue
        if planned is not None:
            one.listed.setdefault(entry.where, []).append(entry.done)
        elif entry.worked or entry.done:
            one.free.setdefault(entry.where, []).append(entry.done)
        if season is not None:
            one = row(season, entry)
            one.hours += entry.hours or 0.0
            one.unlisted += (entry.hours or 0.0) if planned is None else 0.0
            one.found += entry.found or 0
            one.something_else += entry.something_else or 0
    return sorted([*rows.values(), *_by_crews(experiment, rows.values())], key=lambda one: _order(one, experiment))


def work_of(entry: Entry) -> str:
    """Give what a line calls the work: its task, else its treatment."""
    return entry.task or entry.treatment


def crew_hours(experiment: Experiment, season: int) -> float:
    """Give the hours that crews plan for a season, whatever their turnout."""
    return sum(crew.hours[season % 4] for crew in experiment.crews if _is_there(crew, season))


def found_rows(experiment: Experiment, log: Log) -> list[tuple[Any, ...]]:
    """Give what was found as a table, headings first: where to look for hosts that are to be put on the list."""
    rows: list[tuple[Any, ...]] = [("line", "date", "unit", "place", "x", "y", "found", "something_else", "notes")]
    for entry in log.counting:
        if entry.found or entry.something_else:
            x, y = middle_of(experiment, entry) or ("", "")
            day = "" if entry.date is None else entry.date.isoformat()
            counts = (entry.found or 0, entry.something_else or 0)
            rows.append((entry.line, day, entry.unit, entry.where, x, y, *counts, entry.notes))
    return rows


def _is_there(crew: Crew, season: int) -> bool:
    first, last = crew.years or (1, None)
    year = season // 4 + 1
    return season >= crew.lead_seasons and first <= year and (last is None or year <= last)


def _by_crews(experiment: Experiment, rows: Iterable[Row]) -> list[Row]:
    """Give crews' hours for each season of the log, worked or not, where no line of it came from a work list.

    Where one did, a season of which no list says anything has no plan: what crews could work is not what was planned.
    """
    rows = list(rows)
    if not rows or any(row.listed for row in rows):
        return []
    seasons = [row.season for row in rows]
    hours = {season: crew_hours(experiment, season) for season in range(max(0, min(seasons)), max(seasons) + 1)}
    return [Row(season, CREW_HOURS, "", planned_hours=value) for season, value in hours.items() if value > 0]


def _order(row: Row, experiment: Experiment) -> tuple[Any, ...]:
    units = ("", *experiment.site.unit_names)
    place = units.index(row.unit) if row.unit in units else len(units)
    return row.season, row.task == CREW_HOURS, row.task, place, row.unit
