"""A line of the log, and the log: what was worked where, by whom, for how long, and what was found."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from spreadsim.inputs.seasons import first_season, season_number
from spreadsim.schema import SEASONS

DONE = ("yes", "part", "no")


@dataclass(frozen=True)
class Entry:
    """A line of the log; None or empty where nothing was written.

    Attributes
    ----------
    line : str
        Its name in the log, such as ``2027-1:14``; empty before it is kept.
    corrects : str
        The line that it replaces.
    date : date or None
        Of the work.
    crew : str
        Name of a crew of the experiment.
    people : int or None
        How many of it were there that day.
    hours : float or None
        Of all people together.
    done : str
        ``yes``, ``part``, ``no``, or empty.
    unit : str
        Name of a unit; empty for ground in none.
    place : str
        As a work list calls it: ``H12`` is host 12, from 0; ``G3``, ``U2``, ``F2``.
    host : int or None
        Number of the host, from 0.
    x, y : float or None
        In the site's reference system.
    task, treatment : str
        What was done: a task of a strategy, the name of a treatment, or several with "or" between.
    found : int or None
        Further hosts with vine that were found.
    something_else : int or None
        Plants that turned out to be no vine.
    notes : str
        Free.
    session : int or None
        Number of the sheet, for lines of a work list.
    season, year : str, int or None
        For which it was planned; years are those of the model, from 1.
    planned_hours : float or None
        Of the place, of all people together.
    strategy : str
        The one that the work list was made of.
    at : str
        Where it stands in the file that was read, for messages.
    """

    line: str = ""
    corrects: str = ""
    date: date | None = None
    crew: str = ""
    people: int | None = None
    hours: float | None = None
    done: str = ""
    unit: str = ""
    place: str = ""
    host: int | None = None
    x: float | None = None
    y: float | None = None
    task: str = ""
    treatment: str = ""
    found: int | None = None
    something_else: int | None = None
    notes: str = ""
    session: int | None = None
    season: str = ""
    year: int | None = None
    planned_hours: float | None = None
    strategy: str = ""
    at: str = field(default="", compare=False)

    @property
    def filled(self) -> bool:
        """Whether anything was written into it: lines of a work list begin empty."""
        return any((self.date, self.done, self.hours, self.found, self.something_else, self.notes))

    @property
    def worked(self) -> bool:
        """Whether somebody worked there."""
        return self.done in ("yes", "part") or bool(self.hours)

    @property
    def content(self) -> tuple[Any, ...]:
        """All that it says, without its name in the log and what it corrects."""
        return tuple(getattr(self, name) for name in FIELDS[2:])

    @property
    def plan(self) -> tuple[Any, ...] | None:
        """What tells a place of a work list from all others; None for a line that was on none."""
        if self.session is None:
            return None
        return self.strategy, self.year, self.season, self.session, self.place, self.task, self.crew

    @property
    def where(self) -> str:
        """The place in a few words: a label, a host, coordinates, or the unit."""
        if self.place or self.host is not None:
            return self.place or f"H{self.host}"
        return f"{self.x:g}, {self.y:g}" if self.x is not None and self.y is not None else self.unit

    def planned_season(self) -> int | None:
        """Season for which it was planned, from 0 for winter of year 1; None where it says none."""
        return None if self.year is None or not self.season else 4 * (self.year - 1) + SEASONS.index(self.season)


FIELDS = tuple(one.name for one in dataclasses.fields(Entry) if one.name != "at")


def digest(entries: Iterable[Entry]) -> str:
    """Give a SHA-256 of lines: of what they say, not of how a file writes it."""
    said = [[str(getattr(entry, name)) for name in FIELDS] for entry in entries]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


@dataclass(frozen=True)
class Log:
    """All lines of the log of a site, older ones and their corrections.

    Attributes
    ----------
    entries : tuple of Entry
        Every line, in the order in which they were taken.
    mapped : date or None
        Day of the map from which years count; None for an empty log.
    taken : dict of str to str
        When each file was taken and from which, by its name without the ending.
    """

    entries: tuple[Entry, ...] = ()
    mapped: date | None = None
    taken: dict[str, str] = field(default_factory=dict)

    @cached_property
    def newest(self) -> dict[str, str]:
        """The line that counts now in place of each, by name; lines that nothing corrects are their own."""
        replaced = {entry.corrects: entry.line for entry in self.entries if entry.corrects}
        found = {}
        for entry in self.entries:
            last = entry.line
            while last in replaced:  # a line corrects older ones only, so there is no circle
                last = replaced[last]
            found[entry.line] = last
        return found

    @cached_property
    def counting(self) -> tuple[Entry, ...]:
        """The lines that count: those that no other corrects."""
        return tuple(entry for entry in self.entries if self.newest[entry.line] == entry.line)

    def season_of(self, day: date) -> int:
        """Season of the model in which a day lies, from 0 for winter of year 1; negative before that."""
        assert self.mapped is not None, "a log with lines has the day of its map"
        return season_number(day) - first_season(self.mapped)
