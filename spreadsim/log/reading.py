"""Lines of work read from a file: a work list's tally that was filled in, or sessions as people note them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.errors import Said
from spreadsim.inputs.cells import LENGTH, NUMBER, RAW, Style, column_of, has_decimal_commas
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Columns, Table
from spreadsim.inputs.dates import read_spans
from spreadsim.inputs.formulas import unmarked
from spreadsim.inputs.headings import headings_of
from spreadsim.inputs.raw_tables import RawTable, raw_csv
from spreadsim.inputs.spreadsheet import is_spreadsheet, raw_sheet
from spreadsim.log.entry import Entry
from spreadsim.log.fields import Line

_NAMED = (
    "columns date, crew, people, hours (of all together) or hours_each, done (yes, part, no), unit or host or x and y, "
    "task or treatment, found, something_else, notes, corrects"
)
SHEETS = ("tally", "log", "sessions")
_TEXTS = (
    *("line", "corrects", "date", "crew", "done", "unit", "place", "host", "task", "treatment", "notes"),
    *("session", "season", "strategy", "site"),
)
_NUMBERS = ("people", "hours", "hours_each", "found", "something_else", "year", "planned_hours")
_COUNTS = ("found", "something_else")
_WORD = re.compile(r"[^\d=#]+")  # formulas and errors of spreadsheets are told as such
COLUMNS: Columns = {
    **dict.fromkeys(_TEXTS, (RAW, "")),
    **dict.fromkeys(_NUMBERS, (NUMBER, math.nan)),
    **dict.fromkeys(("x", "y", "easting", "northing"), (LENGTH, math.nan)),
}
# Plain words that people put over a column.
ALIASES: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("day", "when"), "date"),
        **dict.fromkeys(("team", "who"), "crew"),
        **dict.fromkeys(("persons", "number of people"), "people"),
        **dict.fromkeys(("hours (h)", "person hours", "hours of all", "hours together"), "hours"),
        **dict.fromkeys(("hours per person", "hours a person", "hours of each"), "hours_each"),
        **dict.fromkeys(("work", "what was done"), "task"),
        **dict.fromkeys(("host number", "tree"), "host"),
        **dict.fromkeys(("further hosts", "new hosts", "hosts found", "found hosts"), "found"),
        **dict.fromkeys(("other plant", "other plants", "not the vine"), "something_else"),
        **dict.fromkeys(("note", "comment", "comments", "remarks"), "notes"),
        **dict.fromkeys(("correction of", "replaces"), "corrects"),
    }
)
_MOST = 1_000_000


def read_lines(path: Path, check: Check, sheet: str | None = None) -> tuple[list[Entry], list[str]] | None:
    """Read lines of work, each checked by itself.

    Parameters
    ----------
    path : Path
        CSV as spreadsheets write it, or a spreadsheet. Columns may stand in any order, with others between.
    check : Check
        Where to note what is wrong, by line and column.
    sheet : str, optional
        Of a spreadsheet.

    Returns
    -------
    tuple of list of Entry, list of str
        The lines, and what each says of the site it is for.
    None if something is wrong that keeps lines from being read.
    """
    raw = raw_sheet(path, SHEETS, check, sheet) if is_spreadsheet(path) else _raw_csv(path, check, sheet)
    table = None if raw is None else _table(raw, check)
    if raw is None or table is None or not _has_columns(raw, table, check):
        return None
    if not table.rows:
        check.add("", Said("no line below the headings"), "at least one line of work")
        return None
    columns = {name: _texts(table, name) for name in _TEXTS}
    days = _days(columns["date"], table, check)
    numbers = {name: _numbers(table, name, check) for name in (*_NUMBERS, "x", "y")}
    entries = []
    for k, row in enumerate(table.rows):
        fields = {name: column[k] for name, column in columns.items()}
        line = Line(row, fields, {name: column[k] for name, column in numbers.items()}, table, check)
        entries.append(line.entry(days[k]))
    return entries, columns["site"]


def _raw_csv(path: Path, check: Check, sheet: str | None) -> RawTable | None:
    if sheet is not None:
        check.add("sheet", sheet, "none: only spreadsheets (.xlsx) have sheets")
        return None
    return raw_csv(path, check)


def _table(raw: RawTable, check: Check) -> Table | None:
    """Read each column by itself, so that all that is wrong is told at once.

    People type 3,5 beside the 3.5 of a list that was made here, so each column of numbers has its own decimal mark.
    """
    found = headings_of(raw, tuple(COLUMNS), (), check, aliases=ALIASES)
    if found is None:
        return None
    raw.note_ragged(check)
    rows = tuple(place for place, _ in raw.rows)
    columns: dict[str, Any] = {}
    for one in found:
        if one.name not in COLUMNS:
            columns[one.name] = None
            continue
        kind, empty = COLUMNS[one.name]
        fields = [row[one.column] for _, row in raw.rows]
        if one.name in _COUNTS:
            fields = _without_words(fields, rows, one.text, check)
        style = Style(kind != RAW and has_decimal_commas(fields, raw.separator))
        columns[one.name] = column_of(check, one.text, kind, empty, rows, fields, style, one.metres)
    headings = {one.name: one.text for one in found if one.name != one.text}
    return None if raw.ragged else Table(raw.path, columns, rows, headings)


def _without_words(fields: list[str], rows: Sequence[str], name: str, check: Check) -> list[str]:
    """Leave out words that stand for a count, such as what was found; told once, in the first line with one."""
    words = [k for k, field in enumerate(fields) if _WORD.fullmatch(field) and any(map(str.isalpha, field))]
    if not words:
        return fields
    allowed = "a count: how many, a whole number, or nothing; what it was stands in notes"
    more = len(words) - 1
    if more:
        allowed += f" (as in {more} more line{'s' if more > 1 else ''})"
    check.add(f"{rows[words[0]]}, {name}", fields[words[0]], allowed)
    return ["" if k in words else field for k, field in enumerate(fields)]


def _has_columns(raw: RawTable, table: Table, check: Check) -> bool:
    """Note what no log can be without."""
    before = len(check.problems)
    names = set(table.columns)
    for wanted in (("date",), ("crew",), ("hours", "hours_each", "done")):
        if not names & set(wanted):
            check.add(raw.at, Said(f'no column "{wanted[0]}"'), _NAMED)
    if names & {"longitude", "latitude"}:
        check.add(raw.at, Said("longitude and latitude"), "x and y in the reference system of the site, unit or host")
    return len(check.problems) == before


def _texts(table: Table, name: str) -> list[str]:
    """Give a column without the mark that keeps a spreadsheet from taking a text for a formula."""
    column = table.columns.get(name)
    return [""] * len(table.rows) if column is None else [unmarked(str(text)) for text in column]


def _numbers(table: Table, name: str, check: Check) -> list[float | None]:
    """Give a column of numbers from 0 on, None where it is empty; places may be anywhere."""
    column = table.columns.get({"x": "easting", "y": "northing"}.get(name, name), table.columns.get(name))
    if column is None:
        return [None] * len(table.rows)
    found: list[float | None] = []
    for row, value in zip(table.rows, column.tolist(), strict=True):
        if math.isnan(value):
            found.append(None)
        elif name in _NUMBERS and not 0 <= value <= _MOST:
            check.add(f"{row}, {table.called(name)}", value, f"0 to {_MOST:,}, or nothing")
            found.append(None)
        else:
            found.append(float(value))
    return found


def _days(fields: Sequence[str], table: Table, check: Check) -> list[date | None]:
    """Read dates, each of which must be one day."""
    days: list[date | None] = []
    spans = read_spans(list(fields), table.rows, table.called("date"), check)
    for span, text, row in zip(spans, fields, table.rows, strict=True):
        if span is not None and span[0] != span[1]:
            check.add(f"{row}, {table.called('date')}", text, "one day, such as 2027-01-30")
        days.append(None if span is None else span[0])
    return days
