"""Tables of files, CSV and spreadsheets alike, as columns that remember the line of each row."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import Problem, Problems
from spreadsim.inputs.cells import COVER, FLAG, LENGTH, NUMBER, RAW, TEXT, Style, column_of, has_decimal_commas
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import CLASSES, PERCENT
from spreadsim.inputs.headings import headings_of
from spreadsim.inputs.raw_tables import RawTable, raw_csv

# By name: the kind of a column, and what an empty field stands for; None: it must be filled.
Columns = Mapping[str, tuple[str, object]]

HOSTS: Columns = {
    "x": (LENGTH, None),
    "y": (LENGTH, None),
    "state": (TEXT, "bare"),
    "kind": (TEXT, "tree"),
    "girth": (TEXT, "medium"),
    "top_light": (NUMBER, np.nan),
    "height": (LENGTH, np.nan),
    "years_climbing": (NUMBER, np.nan),
    "known": (FLAG, True),
    "uncertainty": (LENGTH, np.nan),
}
MATS: Columns = {"x": (LENGTH, None), "y": (LENGTH, None), "radius": (LENGTH, None), "cover": (COVER, None)}
DAILY: Columns = {"date": (TEXT, None), **{name: (NUMBER, None) for name in ("temperature", "rain", "wind", "snow")}}
SOURCES: Columns = {"x": (LENGTH, None), "y": (LENGTH, None), "hosts": (NUMBER, 1.0)}
COUNTS: Columns = {"unit": (RAW, ""), "state": (TEXT, None), "count": (NUMBER, None), "kind": (TEXT, "tree")}
_PLACES: Columns = {
    **dict.fromkeys(("longitude", "latitude"), (NUMBER, None)),
    **dict.fromkeys(("easting", "northing"), (LENGTH, None)),
}


@dataclass(frozen=True)
class Table:
    """A table of a file as columns.

    Attributes
    ----------
    path : str
        The file, for messages.
    columns : dict of str to array
        By our names: float64, bool or texts. A cover is its middle; as it was noted it is in ``cover_noted``.
    rows : tuple of str
        What each row is called in messages, such as ``line 3``.
    headings : dict of str to str
        What each column is called in the file, where it is not called by our name.
    """

    path: str
    columns: dict[str, np.ndarray]
    rows: tuple[str, ...]
    headings: Mapping[str, str] = field(default_factory=dict)

    def pick(self, which: np.ndarray) -> Table:
        """Give some of the rows, by a mask."""
        rows = tuple(row for row, kept in zip(self.rows, which.tolist(), strict=True) if kept)
        return replace(self, columns={name: column[which] for name, column in self.columns.items()}, rows=rows)

    def called(self, name: str) -> str:
        """Give what a column is called in the file."""
        return self.headings.get(name, name)

    def absorb(self, problem: Problem, problems: Problems) -> None:
        """Note a problem at entry k of a column at its line of the file instead."""
        match = re.fullmatch(r"\w+\.(\w+)(?:\[(\d+)\])?", problem.place)
        if match is None:
            problems.say(self.path, problem.place, problem.text)
        elif match[2] is None:
            problems.say(self.path, f"column {self.called(match[1])}", problem.text)
        else:
            problems.say(self.path, f"{self.rows[int(match[2])]}, {self.called(match[1])}", problem.text)


def read_csv(path: Path, columns: Columns, problems: Problems) -> Table | None:
    """Read a CSV file with a row of headings at its top.

    Parameters
    ----------
    path : Path
        The file.
    columns : mapping
        Kind of each column that it may have, and what an empty field stands for; None: never empty, and the
        column must be there.
    problems : Problems
        Where to note everything that is wrong, by line and column.

    Returns
    -------
    Table or None
        None if something is wrong.
    """
    check = Check(str(path), problems)
    raw = raw_csv(path, check)
    return None if raw is None else table_of_raw(raw, columns, check)


def table_of_raw(
    raw: RawTable,
    columns: Columns,
    check: Check,
    *,
    metres: float = 1.0,
    scale: str | None = None,
    said: Mapping[str, str] | None = None,
    aliases: Mapping[str, str] | None = None,
) -> Table | None:
    """Make columns of a table of texts.

    Parameters
    ----------
    raw : RawTable
        The texts.
    columns : mapping
        As for `read_csv`.
    check : Check
        Where to note.
    metres : float
        In a unit of length where the heading says none.
    scale : str, optional
        Of covers that say none.
    said : mapping, optional
        Headings by our names.
    aliases : mapping, optional
        See `headings_of`.

    Returns
    -------
    Table or None
        None if something is wrong.
    """
    before = len(check.problems)
    needed = [name for name, (_, empty) in columns.items() if empty is None]
    found = headings_of(raw, tuple(columns), needed, check, said, aliases=aliases)
    if found is not None:
        raw.note_ragged(check)
    if found is None or raw.ragged:
        return None
    kinds = {**_PLACES, **columns}
    rows = tuple(place for place, _ in raw.rows)
    texts = {one.name: [row[one.column] for _, row in raw.rows] for one in found}
    numbers = [one for name, fields in texts.items() if kinds[name][0] in (NUMBER, LENGTH, COVER) for one in fields]
    style = Style(has_decimal_commas(numbers, raw.separator), metres, scale)
    made: dict[str, Any] = {}
    for one in found:
        kind, empty = kinds[one.name]
        made[one.name] = column_of(check, one.text, kind, empty, rows, texts[one.name], style, one.metres)
        if kind == COVER:
            made[f"{one.name}_noted"] = made[one.name]
            made[one.name] = middles(made[one.name], check)
    if len(check.problems) > before:
        return None
    return Table(str(raw.path), made, rows, {one.name: one.text for one in found if one.name != one.text})


def middles(covers: np.ndarray, check: Check) -> np.ndarray:
    """Give the middles of covers, and remark those that are classes."""
    for scale in sorted({cover.scale for cover in covers} & set(CLASSES)):
        check.remark("", f'cover classes of "{scale}" are taken at their middles')
    percent = [cover.middle for cover in covers if cover.scale == PERCENT]
    if percent and 0 < max(percent) <= 0.01:
        check.remark("", f"no cover is above {100 * max(percent):g} %: are they shares (0 to 1) and not percent?")
    return np.array([cover.middle for cover in covers], dtype=np.float64)
