"""Crews and hours of a CSV file or a sheet, as the tables that an experiment file has."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.cells import FLAG, NUMBER, RAW
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Columns, Table, table_of_raw
from spreadsim.inputs.table_files import named_table, raw_table
from spreadsim.schema import SEASONS

_NONE = float("nan")
CREWS: Columns = {
    "name": (RAW, None),
    **dict.fromkeys(SEASONS, (NUMBER, 0.0)),
    "may": (RAW, "all"),
    "volunteers": (FLAG, False),
    "paid": (FLAG, True),
    "leader": (RAW, ""),
    **dict.fromkeys(
        ("pace", "people", "price", "turnout", "turnout_spread", "session_hours", "setup_hours"), (NUMBER, _NONE)
    ),
    **dict.fromkeys(("people_per_leader", "walking_minutes", "minimum_charge"), (NUMBER, _NONE)),
    "lead_seasons": (NUMBER, _NONE),
    **dict.fromkeys(("first_year", "last_year"), (NUMBER, _NONE)),
}
_WHOLE = ("lead_seasons", "first_year", "last_year")
_HANDLED = (*SEASONS, *_WHOLE[1:], "name", "may", "leader")


def crew_tables(value: object, folder: Path, check: Check) -> tuple[list[Any], Table | None]:
    """Give the tables of crews that an experiment names.

    Parameters
    ----------
    value : object
        What stands under ``crews``: the tables themselves, a file's name, or a table with ``file`` and ``sheet``.
        The file has a row for each crew: its name, hours in each season under ``winter``, ``spring``, ``summer`` and
        ``autumn``, what it may do, parted by commas, and the other keys of a crew; ``first_year`` and ``last_year``
        stand for ``years``.
    folder : Path
        Where the naming file lies.
    check : Check
        Where to note.

    Returns
    -------
    tables : list
        One for each crew.
    table : Table or None
        The file that they come from, if they do.
    """
    if isinstance(value, list):
        return value, None
    if not isinstance(value, str | Mapping):
        check.add("crews", value, "[[crews]] tables, or the name of a CSV file or spreadsheet")
        return [], None
    found = named_table(value, "crews", folder, check, "crews", ("file", "sheet", "fields"))
    if found is None:
        return [], None
    path, said = found
    file = Check(str(path), check.problems)
    raw = raw_table(path, "crews", said, file)
    table = None if raw is None else table_of_raw(raw, CREWS, file, said=said["fields"])
    if table is None:
        return [], None
    if not any(season in table.columns for season in SEASONS):
        file.add("", Said("no hours"), f"a column of hours for each season: {', '.join(SEASONS)}")
        return [], None
    return [_crew(table, k, file) for k in range(len(table.rows))], table


def name_rows(check: Check, table: Table | None, first: int) -> None:
    """Name the file and the row of problems of crews that came from a file.

    Parameters
    ----------
    check : Check
        Its problems from number `first` on that lie at ``crews[k]`` are of row k.
    table : Table or None
        The file; None changes nothing.
    first : int
        Number of the first problem to look at.
    """
    if table is not None:
        check.problems.reword(first, lambda one: _reworded(one, check.thing, table))


def _reworded(problem: Any, thing: str, table: Table) -> Any:
    head, mark, rest = problem.place.partition("]")
    number = head.removeprefix("crews[")
    if problem.file != thing or not mark or number == head or not number.isdigit():
        return problem
    key = rest.lstrip(".")
    key = key.removeprefix("hours.") or "hours"
    if key.startswith("years"):
        key = "first_year, last_year"
    return problem._replace(file=table.path, place=f"{table.rows[int(number)]}, {table.called(key)}")


def _crew(table: Table, k: int, check: Check) -> dict[str, Any]:
    """Make one crew's table of its row; what is left empty keeps its default."""
    row = {name: column[k] for name, column in table.columns.items()}
    hours = {season: float(row[season]) for season in SEASONS if season in row}
    may = [part.strip().lower() for part in str(row.get("may", "all")).replace(";", ",").split(",") if part.strip()]
    made: dict[str, Any] = {"name": row["name"], "hours": hours, "may": may or ["all"]}
    if row.get("leader"):
        made["leader"] = row["leader"]
    for name, value in row.items():
        if name in _HANDLED or (isinstance(value, float | np.floating) and np.isnan(value)):
            continue
        made[name] = (
            _whole(table, k, name, check) if name in _WHOLE else value.item() if hasattr(value, "item") else value
        )
    years = [_whole(table, k, name, check) if not np.isnan(row.get(name, _NONE)) else None for name in _WHOLE[1:]]
    if years != [None, None]:
        first, last = years
        made["years"] = [1 if first is None else first] + ([] if last is None else [last])
    return made


def _whole(table: Table, k: int, name: str, check: Check) -> int:
    value = float(table.columns[name][k])
    if value != int(value):
        check.add(f"{table.rows[k]}, {table.called(name)}", value, "a whole number")
    return int(value)
