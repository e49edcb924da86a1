"""Reading CSV files into columns, remembering the line of each row."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from spreadsim.errors import MISSING, InputError, Problem, Problems, Said, one_of
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.toml import read_text

# Kinds of columns: what an empty field stands for is the second part; None: it must be filled.
NUMBER, TEXT, FLAG = "number", "text", "flag"
Columns = Mapping[str, tuple[str, object]]

HOSTS: Columns = {
    "x": (NUMBER, None),
    "y": (NUMBER, None),
    "state": (TEXT, "bare"),
    "kind": (TEXT, "tree"),
    "girth": (TEXT, "medium"),
    "top_light": (NUMBER, np.nan),
    "height": (NUMBER, np.nan),
    "years_climbing": (NUMBER, np.nan),
    "known": (FLAG, True),
}
MATS: Columns = {"x": (NUMBER, None), "y": (NUMBER, None), "radius": (NUMBER, None), "cover": (NUMBER, None)}
DAILY: Columns = {"date": (TEXT, None), **{name: (NUMBER, None) for name in ("temperature", "rain", "wind", "snow")}}
SOURCES: Columns = {"x": (NUMBER, None), "y": (NUMBER, None), "hosts": (NUMBER, 1.0)}
_FLAGS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


@dataclass(frozen=True)
class Table:
    """A CSV file as columns.

    Attributes
    ----------
    path : str
        The file, for messages.
    columns : dict of str to array
        By the names in its first line: float64, bool or texts.
    rows : tuple of str
        What each row is called in messages, such as ``line 3``.
    """

    path: str
    columns: dict[str, np.ndarray]
    rows: tuple[str, ...]

    def scaled(self, names: tuple[str, ...], factor: float) -> Table:
        """Give the same with some columns multiplied, such as feet into metres."""
        scaled = {n: c * factor if n in names else c for n, c in self.columns.items()}
        return Table(self.path, scaled, self.rows)

    def absorb(self, problem: Problem, problems: Problems) -> None:
        """Note a problem at entry k of a column at its line of the file instead."""
        match = re.fullmatch(r"\w+\.(\w+)(?:\[(\d+)\])?", problem.place)
        if match is None:
            problems.say(self.path, problem.place, problem.text)
        elif match[2] is None:
            problems.say(self.path, f"column {match[1]}", problem.text)
        else:
            problems.say(self.path, f"{self.rows[int(match[2])]}, {match[1]}", problem.text)


def read_csv(path: Path, columns: Columns, problems: Problems) -> Table | None:
    """Read a CSV file with a line of names at its top, separated by commas, semicolons or tabs.

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
    before = len(problems)
    try:
        text = read_text(path)
        first = text.split("\n", 1)[0]
        separator = next((mark for mark in ",;\t" if mark in first), ",")
        reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True, skipinitialspace=True)
        rows = [(reader.line_num, row) for row in reader if any(field.strip() for field in row)]
    except InputError as error:
        problems.absorb(error)
        return None
    except csv.Error as error:
        check.problems.say(str(path), f"line {reader.line_num}", f"not valid CSV: {error}")
        return None
    if not rows:
        check.add("", Said("an empty file"), f"a first line with the names of columns: {', '.join(columns)}")
        return None
    names = [name.strip().lower() for name in rows[0][1]]
    _check_names(check, rows[0][0], names, columns)
    if len(problems) > before:
        return None
    for line, row in rows[1:]:
        if len(row) != len(names):
            check.add(f"line {line}", Said(f"{len(row)} fields"), f"{len(names)}, as in the first line")
    if len(problems) > before:
        return None
    called = tuple(f"line {line}" for line, _ in rows[1:])
    table = {
        name: column_of(check, name, *columns[name], called, [row[k].strip() for _, row in rows[1:]])
        for k, name in enumerate(names)
    }
    return Table(str(path), table, called) if len(problems) == before else None


def _check_names(check: Check, line: int, names: list[str], columns: Columns) -> None:
    for index, name in enumerate(names):
        if name not in columns:
            check.add(f"line {line}", Said(f'column "{name}"'), one_of(columns))
        elif name in names[:index]:
            check.add(f"line {line}", Said(f'column "{name}" twice'), "each column only once")
    for name, (_, empty) in columns.items():
        if empty is None and name not in names:
            check.add(f"line {line}", Said(f'no column "{name}"'), f"columns {', '.join(columns)}")


def column_of(
    check: Check, name: str, kind: str, empty: object, rows: tuple[str, ...], fields: list[str]
) -> np.ndarray:
    """Make a column of the texts of its fields.

    Parameters
    ----------
    check : Check
        Where to note fields that are wrong.
    name : str
        Of the column.
    kind, empty : str, object
        Kind of the column and what an empty field stands for; see `Columns`.
    rows : tuple of str
        What each row is called in messages.
    fields : list of str
        Without white space around.

    Returns
    -------
    array
        float64, bool or texts in small letters.
    """
    values: list[object] = []
    for row, field in zip(rows, fields, strict=True):
        place = f"{row}, {name}"
        if not field:
            if empty is None:
                check.add(place, MISSING, "a text" if kind == TEXT else "a number")
            values.append(("" if kind == TEXT else 0.0) if empty is None else empty)
        elif kind == NUMBER:
            values.append(_number(check, place, field))
        elif kind == FLAG:
            if field.lower() not in _FLAGS:
                check.add(place, field, "true or false (or yes, no, 1, 0)")
            values.append(_FLAGS.get(field.lower(), False))
        else:
            values.append(field.lower())
    return np.array(values, dtype={NUMBER: np.float64, FLAG: np.bool_, TEXT: object}[kind])


def _number(check: Check, place: str, field: str) -> float:
    try:
        value = float(field)
    except ValueError:
        value = float("nan")
    if not is_number(value) or "_" in field:
        check.add(place, field, "a finite number, with a point for decimals")
        return 0.0
    return value
