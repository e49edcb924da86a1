"""Days of work: which are possible, and how many hours a day has."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from spreadsim.errors import Said
from spreadsim.inputs import Experiment
from spreadsim.inputs.checks import Check
from spreadsim.log.entry import Entry

LONGEST, LONG = 24.0, 16.0  # h a person and day: more can't be; more is odd
_SLACK = 1e-6
_MOST_NAMED = 4


def with_days(entries: Iterable[Entry], check: Check) -> list[Entry]:
    """Give lines of a session the day that its other lines have, where all have the same: it is often written once."""
    entries = list(entries)
    known: dict[object, set[date]] = defaultdict(set)
    for entry in entries:
        if entry.session is not None and entry.date is not None:
            known[entry.strategy, entry.year, entry.season, entry.session].add(entry.date)
    given: dict[date, list[str]] = defaultdict(list)
    out = []
    for entry in entries:
        days = known[entry.strategy, entry.year, entry.season, entry.session] if entry.session is not None else set()
        if entry.date is None and (entry.worked or entry.found or entry.something_else) and len(days) == 1:
            day = next(iter(days))
            given[day].append(entry.at)
            entry = dataclasses.replace(entry, date=day)
        out.append(entry)
    for day, rows in given.items():
        check.remark("date", f"{day} is taken for {_named(rows)} too, as for the rest of the session")
    return out


def check_days(entries: Iterable[Entry], mapped: date, today: date, check: Check) -> None:
    """Note days before the map and days to come."""
    for entry in entries:
        if entry.date is not None and entry.date < mapped:
            allowed = f"a day from {mapped} on, the day of the map: years of the log count from it"
            check.add(f"{entry.at}, date", Said(str(entry.date)), allowed)
        elif entry.date is not None and entry.date > today:
            check.add(f"{entry.at}, date", Said(str(entry.date)), f"no day after today, {today}")


def check_hours(entries: Sequence[Entry], older: Sequence[Entry], experiment: Experiment, check: Check) -> None:
    """Note more hours than a day has: of a line, and of a crew's day with all its lines, those of the log among them.

    Parameters
    ----------
    entries
        New lines.
    older
        Lines of the log that count beside them.
    experiment
        A crew has as many people as it says, where no line of its day says how many there were.
    check
        Where to note.
    """
    usual = {crew.name: max(1, round(crew.people)) for crew in experiment.crews}
    days: dict[tuple[date, str], list[Entry]] = defaultdict(list)
    for entry in (*older, *entries):
        if entry.date is not None and entry.hours and entry.crew:
            days[entry.date, entry.crew].append(entry)
    new = set(map(id, entries))
    for (day, crew), lines in days.items():
        mine = [entry for entry in lines if id(entry) in new]
        if not mine:
            continue
        people = max((entry.people for entry in lines if entry.people), default=0)
        hint = "" if people else ": the experiment says so; write how many were there under people"
        people = people or usual.get(crew, 1)
        before = len(check.problems)
        for entry in mine:
            there = entry.people or people
            if entry.hours and entry.hours > LONGEST * there + _SLACK:
                check.add(f"{entry.at}, hours", entry.hours, f"at most {LONGEST:g} h a day for each of {there}{hint}")
        total = sum(entry.hours or 0.0 for entry in lines)
        where = _named([entry.at if id(entry) in new else f"{entry.line} of the log" for entry in lines])
        told = f"{total:g} h of {crew} on {day} ({where})"
        if len(check.problems) > before:
            continue
        if total > LONGEST * people + _SLACK:
            if people and not hint:
                hint = ": if more were there that day, write how many under people"
            check.add("hours", Said(told), f"at most {LONGEST:g} h a day for each of {people}{hint}")
        elif total > LONG * people + _SLACK:
            check.remark("hours", f"{told} is more than {LONG:g} h for each of {people}: is it right?")


def _named(rows: Sequence[str]) -> str:
    more = len(rows) - _MOST_NAMED
    return ", ".join(rows[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
