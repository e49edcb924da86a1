"""A tally: what a session did, written beside what was planned, and read back."""

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from spreadsim.errors import InputError, Problems, Said, one_of
from spreadsim.inputs.formulas import unmarked
from spreadsim.inputs.site_mark import site_mark
from spreadsim.inputs.toml import read_text
from spreadsim.planning.worklist.listed import WorkList
from spreadsim.planning.worklist.sessions import Session

PLANNED = (
    *("session", "number", "season", "year", "crew", "unit", "task", "treatment", "place", "planned_hours"),
    *("strategy", "site"),
)
FILLED = ("date", "done", "hours", "people", "found", "something_else", "notes")
_LATER = ("strategy", "site", "something_else")  # tallies of older versions have none of these
DONE = ("yes", "part", "no")


@dataclass(frozen=True)
class TallyRow:
    """One place of a session; None or empty where nothing was written."""

    session: int
    place: str
    number: int | None
    """On the sheet's map; None for what is not on it."""
    task: str
    crew: str
    planned_hours: float
    date: date | None
    done: str
    """`yes`, `part`, `no` or empty."""
    hours: float | None
    people: int | None
    found: int | None
    """Further hosts with vine that were found there."""
    something_else: int | None
    """Plants that turned out to be no vine."""
    notes: str


@dataclass(frozen=True)
class Tally:
    """A tally that was read."""

    rows: tuple[TallyRow, ...]

    @property
    def sentence(self) -> str:
        """Say how much is done, and how the hours compare with the plan."""
        count = len(self.rows)
        done = [row for row in self.rows if row.done == "yes"]
        parts = [row for row in self.rows if row.done == "part"]
        timed = [row for row in done if row.hours is not None]
        text = f"Of {count} places {len(done)} {'is' if len(done) == 1 else 'are'} done and {len(parts)} in part"
        blank = sum(not row.done for row in self.rows)
        text += f"; {blank} have no entry." if blank else "."
        spent = sum(row.hours or 0.0 for row in timed)
        planned = sum(row.planned_hours for row in timed)
        if timed and planned > 0:
            text += f" Those done took {spent:.3g} h where {planned:.3g} h were planned, {spent / planned:.2g} times."
        elif done:
            text += " No hours were written down for those done, so the plan's hours can't be checked."
        found = sum(row.found or 0 for row in self.rows)
        text += f" {found} further hosts with vine were found: put them on the list of hosts." if found else ""
        other = sum(row.something_else or 0 for row in self.rows)
        return text + (f" {other} of what was gone to turned out to be something else." if other else "")


def tally_rows(work: WorkList, sessions: Sequence[Session]) -> Iterator[tuple[object, ...]]:
    """Give the lines of the tally to fill in, the headings first."""
    yield (*PLANNED, *FILLED)
    site = site_mark(work.experiment.site)
    for session in sessions:
        crew = work.experiment.crews[session.crew].name
        numbers = session.numbers
        for job in session.jobs:
            place = job.place
            task = work.strategy.tasks[place.task].label
            when = work.season_name(session.season).split(" ")
            yield (
                session.number,
                numbers.get(place.label, ""),
                when[0],
                int(when[-1]),
                crew,
                work.unit_name(place.unit),
                task,
                " or ".join(place.treatments),
                place.label,
                round(job.hours, 2),
                work.strategy.name,
                site,
                *("",) * len(FILLED),
            )


def read_tally(path: str | Path) -> Tally:
    """Read a tally that was filled in.

    Parameters
    ----------
    path
        CSV as `tally.csv` is written: separated by commas, semicolons or tabs. Fields may stay empty.

    Raises
    ------
    InputError
        All that can't be read, by line and column.
    """
    path = Path(path)
    problems = Problems()
    text = read_text(path)
    first = text.split("\n", 1)[0]
    separator = next((mark for mark in ",;\t" if mark in first), ",")
    try:
        reader = csv.DictReader(io.StringIO(text), delimiter=separator, strict=True)
        names = [name.strip().lower() for name in reader.fieldnames or ()]
        reader.fieldnames = names
        missing = [name for name in (*PLANNED, *FILLED) if name not in names and name not in _LATER]
        if missing:
            problems.add(str(path), "line 1", Said(f"no column {', '.join(missing)}"), ", ".join((*PLANNED, *FILLED)))
            raise InputError(*problems.found)
        lines = [(reader.line_num, line) for line in reader]
    except csv.Error as error:
        raise InputError(f"{path}: not valid CSV: {error}") from error
    rows = []
    seen: set[tuple[int, str, str]] = set()
    for number, line in lines:
        fields = dict.fromkeys(_LATER, "") | {name: _plain(line.get(name)) for name in names}
        if any(fields.values()):
            row = _row(_Line(str(path), number, fields, problems))
            key = row.session, row.place, row.task
            if key in seen and row.place:
                problems.add(str(path), f"line {number}", Said(f"{row.place} twice in session {row.session}"), "once")
            seen.add(key)
            rows.append(row)
    if problems.found:
        raise InputError(*problems.found)
    return Tally(tuple(rows))


def _plain(text: str | None) -> str:
    """A field without blanks around it, and without the mark that keeps a spreadsheet from taking it for a formula."""
    return unmarked((text or "").strip()).strip()


@dataclass(frozen=True)
class _Line:
    file: str
    number: int
    fields: dict[str, str]
    problems: Problems

    def wrong(self, name: str, allowed: str) -> None:
        self.problems.add(self.file, f"line {self.number}, {name}", self.fields[name], allowed)

    def number_of(self, name: str, *, whole: bool = False, most: float = 10_000.0) -> float | None:
        """A number from 0 to a most, or None for an empty field; decimals may have a comma."""
        text = self.fields[name]
        if not text:
            return None
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = math.nan
        if not 0 <= value <= most or (whole and value != int(value)):
            self.wrong(name, f"a {'whole ' if whole else ''}number, 0 to {most:,.0f}, or nothing")
            return None
        return value


def _row(line: _Line) -> TallyRow:
    done = line.fields["done"].lower()
    done = {"y": "yes", "x": "yes", "n": "no", "partly": "part"}.get(done, done)
    if done and done not in DONE:
        line.wrong("done", f"{one_of(DONE)}, or nothing")
    when = None
    if line.fields["date"]:
        try:
            when = date.fromisoformat(line.fields["date"])
        except ValueError:
            line.wrong("date", "a day as 2027-01-30, or nothing")
    session = line.number_of("session", whole=True)
    if session is None and not line.fields["session"]:
        line.wrong("session", "the number of the sheet")
    number = line.number_of("number", whole=True)
    people, found = line.number_of("people", whole=True), line.number_of("found", whole=True)
    other = line.number_of("something_else", whole=True)
    return TallyRow(
        session=int(session or 0),
        place=line.fields["place"],
        number=None if number is None else int(number),
        task=line.fields["task"],
        crew=line.fields["crew"],
        planned_hours=line.number_of("planned_hours") or 0.0,
        date=when,
        done=done,
        hours=line.number_of("hours"),
        people=None if people is None else int(people),
        found=None if found is None else int(found),
        something_else=None if other is None else int(other),
        notes=line.fields["notes"],
    )
