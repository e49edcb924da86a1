"""The fields of one line of work: checked by themselves, and made an entry of the log."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from spreadsim.errors import Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.log.entry import DONE, Entry
from spreadsim.schema import SEASONS

_DONE = {"y": "yes", "x": "yes", "done": "yes", "true": "yes", "1": "yes", "n": "no", "not": "no", "false": "no"}
_DONE |= {"0": "no", "partly": "part", "in part": "part"}
_HOST = re.compile(r"[Hh]?(\d{1,9})")


class Line:
    """A line of a table on its way to an entry.

    Parameters
    ----------
    row : str
        What it is called in messages.
    fields, numbers : dict
        Its texts and numbers, by our names.
    table : Table
        That it stands in.
    check : Check
        Where to note what is wrong.
    """

    def __init__(
        self, row: str, fields: dict[str, str], numbers: dict[str, float | None], table: Table, check: Check
    ) -> None:
        self.row, self.fields, self.numbers, self.table, self.check = row, fields, numbers, table, check

    def wrong(self, name: str, found: object, allowed: str) -> None:
        """Note what is wrong with a field."""
        self.check.add(f"{self.row}, {self.table.called(name)}", found, allowed)

    def whole(self, name: str, least: int = 0) -> int | None:
        """Give a whole number; None where there is none, or a wrong one, which is noted."""
        value = self.numbers[name]
        if value is None:
            return None
        if value != int(value) or value < least:
            self.wrong(name, value, f"a whole number, at least {least}, or nothing")
            return None
        return int(value)

    def entry(self, day: date | None) -> Entry:
        """Give the entry, of a day that was read already."""
        people, (x, y) = self.whole("people", 1), self._point()
        values: dict[str, Any] = {
            name: self.fields[name]
            for name in ("line", "corrects", "crew", "unit", "place", "task", "treatment", "notes", "strategy")
        }
        return Entry(
            **values,
            at=self.row,
            date=day,
            people=people,
            hours=self._hours(people),
            done=self._done(),
            host=self._host(),
            x=x,
            y=y,
            found=self.whole("found"),
            something_else=self.whole("something_else"),
            session=self._session(),
            season=self._season(),
            year=self.whole("year", 1),
            planned_hours=self.numbers["planned_hours"],
        )

    def _hours(self, people: int | None) -> float | None:
        """Hours of all people together, said so or as hours of each."""
        each, together = self.numbers["hours_each"], self.numbers["hours"]
        if each is None:
            return together
        if people is None:
            self.wrong("hours_each", each, "none where people is empty: say how many there were")
            return together
        if together is not None and abs(together - each * people) > 0.01 * max(together, each * people) + 0.01:
            self.wrong("hours", together, f"{people} people x {each:g} h = {each * people:g} h, or nothing")
        return round(each * people, 6) if together is None else together

    def _done(self) -> str:
        told = self.fields["done"].lower()
        done = _DONE.get(told, told)
        if done and done not in DONE:
            self.wrong("done", self.fields["done"], f"{one_of(DONE)}, or nothing")
            return ""
        return done

    def _host(self) -> int | None:
        """Give the host that is named by its number, or by a place such as H12."""
        told, place = self.fields["host"], self.fields["place"]
        named = _HOST.fullmatch(told)
        if told and named is None:
            self.wrong("host", told, "the number of a host, such as 12 or H12, from 0")
        by_place = re.fullmatch(r"H(\d{1,9})", place)
        if named and by_place and int(named[1]) != int(by_place[1]):
            self.wrong("host", told, f"the host of its place, {place}, or nothing")
        chosen = named or by_place
        return int(chosen[1]) if chosen else None

    def _point(self) -> tuple[float | None, float | None]:
        x, y = self.numbers["x"], self.numbers["y"]
        if (x is None) != (y is None):
            self.wrong("x" if x is None else "y", Said("nothing"), "both x and y, or neither")
        return x, y

    def _session(self) -> int | None:
        told = self.fields["session"]
        if told and not re.fullmatch(r"\d{1,9}", told):
            self.wrong("session", told, "the number of a sheet of a work list, or nothing")
        return int(told) if re.fullmatch(r"\d{1,9}", told) else None

    def _season(self) -> str:
        told = self.fields["season"].lower()
        if told and told not in SEASONS:
            self.wrong("season", self.fields["season"], f"{one_of(SEASONS)}, or nothing")
            return ""
        return told
