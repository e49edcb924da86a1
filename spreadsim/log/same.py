"""Which lines of a file are new to the log, which it has, and which take the place of older ones."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.log.entry import Entry, Log


@dataclass
class Sorted:
    """Lines of a file, sorted.

    Attributes
    ----------
    entries : list of Entry
        New lines, with the lines that they take the place of.
    known : int
        How many are in the log as they are.
    matched : list of str
        Names of those lines of the log.
    filled : int
        How many fill in what stood empty.
    """

    entries: list[Entry] = field(default_factory=list)
    known: int = 0
    matched: list[str] = field(default_factory=list)
    filled: int = 0


def sorted_out(entries: Sequence[Entry], log: Log, check: Check) -> Sorted:
    """Sort the lines of a file, so that a list that grows can be taken again and again.

    Parameters
    ----------
    entries
        With names in order.
    log
        As it is.
    check
        Where to note corrections of lines that are not there, or corrected already, and places of a work list that
        the log has with other entries.
    """
    sort = _Sort(log, check)
    for entry in entries:
        sort.take(entry)
    return sort.out


class _Sort:
    def __init__(self, log: Log, check: Check) -> None:
        self.log, self.check, self.out = log, check, Sorted()
        self.left: dict[tuple[Any, ...], list[Entry]] = defaultdict(list)  # lines of the log not met in the file yet
        for entry in log.entries:
            self.left[entry.content].append(entry)
        self.by_plan = {entry.plan: entry for entry in log.counting if entry.plan is not None}
        self.like = {_likeness(entry): entry for entry in log.counting if entry.plan is None}
        self.planned: dict[tuple[Any, ...], str] = {}
        self.corrected: dict[str, str] = {}

    def take(self, entry: Entry) -> None:
        """Sort one line."""
        if entry.plan is not None and entry.place and not entry.corrects:
            if entry.plan in self.planned:
                found = Said(f"{entry.place} twice in session {entry.session}")
                self.check.add(entry.at, found, f"once: {self.planned[entry.plan]} has it")
                return
            self.planned[entry.plan] = entry.at
        if self._is_known(entry):
            return
        if entry.corrects:
            self._correct(entry)
        elif entry.plan is not None and entry.place and entry.plan in self.by_plan:
            self._fill_in(entry, self.by_plan[entry.plan])
        else:
            self._remark_likeness(entry)
            self.out.entries.append(entry)

    def _is_known(self, entry: Entry) -> bool:
        """Whether the log has the line as it is; two equal lines need two in the log."""
        lines = self.left[entry.content]
        fits = [line for line in lines if not entry.corrects or line.corrects == entry.corrects]
        if not fits:
            return False
        lines.remove(fits[0])
        self.out.known += 1
        self.out.matched.append(fits[0].line)
        return True

    def _correct(self, entry: Entry) -> None:
        newest = self.log.newest.get(entry.corrects)
        place = f"{entry.at}, corrects"
        if newest is None:
            allowed = f"the name of a line of the log, such as {self.log.entries[-1].line}" if self.log.entries else ""
            self.check.add(place, entry.corrects, allowed or "nothing: the log has no lines yet")
        elif newest != entry.corrects:
            self.check.add(place, entry.corrects, f"{newest}, the newest that stands in its place")
        elif entry.corrects in self.corrected:
            self.check.add(place, entry.corrects, f"each line once: {self.corrected[entry.corrects]} corrects it")
        else:
            self.corrected[entry.corrects] = entry.at
            self.out.entries.append(entry)

    def _fill_in(self, entry: Entry, older: Entry) -> None:
        """Take a place of a work list that the log has: filled in now, or with other entries."""
        if not older.filled:
            self.out.filled += entry.filled
            self.out.entries.append(dataclasses.replace(entry, corrects=older.line))
        elif not entry.filled:
            self.check.remark(entry.at, f"empty, but filled in as {older.line} of the log: left out")
            self.out.known += 1
            self.out.matched.append(older.line)
        else:
            found = Said(f"other entries for {entry.place} of session {entry.session} than {older.line} of the log")
            allowed = f"the same; {older.line} under corrects; or, for more work there, a line without a session"
            self.check.add(entry.at, found, allowed)

    def _remark_likeness(self, entry: Entry) -> None:
        """Remark a line that looks like one of the log with a number changed."""
        older = self.like.get(_likeness(entry)) if entry.plan is None and entry.worked else None
        if older is not None:
            told = f"crew, day, place and work are those of {older.line} of the log, and other numbers"
            self.check.remark(entry.at, f"{told}: if it corrects it, name it under corrects; both count now")


def _likeness(entry: Entry) -> tuple[Any, ...]:
    return entry.date, entry.crew, entry.where, entry.unit, entry.task, entry.treatment
