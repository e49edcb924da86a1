"""Crews of a table, CSV or a sheet of a spreadsheet: a row for each, its hours by season beside one another."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import InputError, Said
from spreadsim.inputs.cells import FLAG, NUMBER, RAW
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.csv_files import Columns, Table, table_of_raw
from spreadsim.inputs.table_files import named_table, raw_table
from spreadsim.schema import SEASONS

_NUMBERS = (
    "pace",
    "turnout",
    "price",
    "people",
    "turnout_spread",
    "session_hours",
    "setup_hours",
    "people_per_leader",
    "walking_minutes",
    "minimum_charge",
    "lead_seasons",
)
_YEARS = ("first_year", "last_year")
# Empty fields of all but the hours are those that a crew has anyway.
CREWS: Columns = {
    "name": (RAW, None),
    **dict.fromkeys(SEASONS, (NUMBER, 0.0)),
    "may": (RAW, ""),
    "volunteers": (FLAG, False),
    "paid": (FLAG, True),
    "leader": (RAW, ""),
    **dict.fromkeys((*_NUMBERS, *_YEARS), (NUMBER, np.nan)),
}
_WHOLE = ("lead_seasons", *_YEARS)
_BETWEEN = re.compile(r"[,;\n]")


def read_crew_table(value: object, folder: Path, check: Check, place: str) -> list[Crew | None]:
    """Read the crews of a file that an experiment names.

    Parameters
    ----------
    value : str or mapping
        A file's name, or ``{ file = "...", sheet = "...", fields = {...} }``.
    folder : Path
        Where the experiment lies.
    check : Check
        Of the experiment, where to note.
    place : str
        Where the name stands.

    Returns
    -------
    list of Crew or None
        A crew that is wrong is None; one None if the file can't be read, since any crew may be in it.
    """
    found = named_table(value, "crews", folder, check, place, ("file", "sheet", "fields"))
    if found is None:
        return [None]
    path, said = found
    own = Check(str(path), check.problems)
    raw = raw_table(path, "crews", said, own)
    table = None if raw is None else table_of_raw(raw, CREWS, own, said=said["fields"])
    if table is None:
        return [None]
    if not any(season in table.columns for season in SEASONS):
        own.add("", Said("no hours"), f"at least one of the columns {', '.join(SEASONS)}")
        return [None]
    return [_crew(table, k, own) for k in range(len(table.rows))]


def _crew(table: Table, k: int, check: Check) -> Crew | None:
    """Make the crew of a row, noting what is wrong at its row and column."""
    given = {name: column[k] for name, column in table.columns.items()}
    values: dict[str, Any] = {name: float(given[name]) for name in _NUMBERS if not np.isnan(given.get(name, np.nan))}
    for name in _WHOLE:
        number = given.get(name, np.nan)
        if not np.isnan(number) and number != int(number):
            check.add(f"{table.rows[k]}, {table.called(name)}", float(number), "a whole number")
            return None
    if "lead_seasons" in values:
        values["lead_seasons"] = int(values["lead_seasons"])
    ends = [None if np.isnan(given.get(name, np.nan)) else int(given[name]) for name in _YEARS]
    if ends != [None, None]:
        values["years"] = [1 if ends[0] is None else ends[0], ends[1]]
    values |= {name: bool(given[name]) for name in ("volunteers", "paid") if name in given}
    if given.get("leader"):
        values["leader"] = given["leader"]
    may = [part.strip().lower() for part in _BETWEEN.split(str(given.get("may", ""))) if part.strip()]
    if may:
        values["may"] = may
    hours = {season: float(given[season]) for season in SEASONS if season in given}
    try:
        return Crew(name=given["name"], hours=hours, **values)
    except InputError as error:
        for detail in error.details:
            check.problems.say(check.thing, f"{table.rows[k]}, {_column(detail.place, table)}", detail.text)
        return None


def _column(place: str, table: Table) -> str:
    """Give the column of the file that a place in a crew comes from."""
    name = place.removeprefix("hours.").split("[")[0]
    if name == "years":
        name = next((one for one in _YEARS if one in table.columns), name)
    return table.called(name)
