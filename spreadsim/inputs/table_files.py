"""Tables that a site or an experiment names: CSV files and sheets of spreadsheets."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.errors import one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import SCALES, scale_of
from spreadsim.inputs.csv_files import COUNTS, HOSTS, MATS, SOURCES, Columns, table_of_raw
from spreadsim.inputs.file_models import FileTable
from spreadsim.inputs.paths import beside
from spreadsim.inputs.raw_tables import RawTable, raw_csv
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.spreadsheet import is_spreadsheet, raw_sheet
from spreadsim.inputs.taking import take

# What each key's sheet may be called in a spreadsheet, ours first.
SHEETS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "mats": ("mats",),
        "hosts": ("climbed hosts", "hosts"),
        "sources": ("sources",),
        "host_counts": ("host counts", "counts"),
        "crews": ("crews and hours", "crews"),
        "survey": ("survey", "records"),
    }
)
COLUMNS: Mapping[str, Columns] = MappingProxyType(
    {"hosts": HOSTS, "mats": MATS, "sources": SOURCES, "host_counts": COUNTS}
)
_SAID = ("file", "sheet", "fields", "crs", "scale", "clip")


def named_table(
    value: object, key: str, folder: Path, check: Check, place: str, keys: tuple[str, ...] = _SAID
) -> tuple[Path, dict[str, Any]] | None:
    """Find the file that a text, or a table with what has to be known to read it, names.

    Parameters
    ----------
    value : object
        What stands in the file.
    key : str
        One of `SHEETS`.
    folder : Path
        Where the naming file lies.
    check : Check
        Where to note.
    place : str
        Where it stands.
    keys : tuple of str
        Those of `FileTable` that may be said.

    Returns
    -------
    path, said : Path, dict
        The file, and the values of `FileTable`.
    None if something is wrong.
    """
    if not isinstance(value, Mapping):
        path = beside(folder, value, check, place)
        return None if path is None else (path, FileTable(file=path.name).model_dump())
    before = len(check.problems)
    said, whole = take(FileTable, value, check, place)
    for other in value:
        if other not in keys and other in said:
            check.add(f"{place}.{other}", value[other], f"none: of a CSV file or spreadsheet say {', '.join(keys[1:])}")
    path = beside(folder, said["file"], check, f"{place}.file") if whole else None
    if said["scale"] is not None and scale_of(said["scale"]) is None:
        check.add(f"{place}.scale", said["scale"], one_of(SCALES))
    return None if path is None or len(check.problems) > before else (path, said)


def raw_table(path: Path, key: str, said: Mapping[str, Any], check: Check) -> RawTable | None:
    """Read a table as texts, of a spreadsheet the sheet that is meant; None if something is wrong."""
    if is_spreadsheet(path):
        return raw_sheet(path, SHEETS[key], check, said["sheet"])
    if said["sheet"] is not None:
        check.add("sheet", said["sheet"], "none: only spreadsheets (.xlsx) have sheets")
        return None
    return raw_csv(path, check)


def read_tables(context: Context, keys: tuple[str, ...]) -> None:
    """Read the tables that a site names under some keys, lengths into metres, and keep them in the context."""
    for key in keys:
        value = getattr(context.values, key)
        found = None if value is None else named_table(value, key, context.folder, context.check, context.at(key))
        if found is None:
            continue
        path, said = found
        check = Check(str(path), context.check.problems)
        raw = raw_table(path, key, said, check)
        if raw is None:
            continue
        metres = 1.0 if said["crs"] is not None else context.length  # coordinates of a map are in its own unit
        scale = scale_of(said["scale"])
        table = table_of_raw(raw, COLUMNS[key], check, metres=metres, scale=scale, said=said["fields"])
        if table is not None:
            context.tables[key] = table
            context.said[key] = said
