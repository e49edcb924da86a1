"""Spreadsheets (.xlsx): the values of their cells as texts; nothing in them is worked out or run."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.raw_tables import RawTable, field_text, raw_of_rows
from spreadsim.inputs.sheet_facts import Facts, facts_of, unpacked_safely
from spreadsim.inputs.toml import read_bytes

ZIP, OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_LARGEST = 50_000_000  # bytes
_MOST_SHOWN = 3


def is_spreadsheet(path: Path) -> bool:
    """Tell by its first bytes, or by its name where it can't be opened, whether a file is a spreadsheet."""
    try:
        with path.open("rb") as file:
            head = file.read(4)
    except (OSError, ValueError):
        head = b""
    return head in (ZIP, OLD) or path.suffix.lower() in (".xlsx", ".xlsm", ".xls", ".ods")


def raw_sheet(path: Path, names: tuple[str, ...], check: Check, sheet: str | None = None) -> RawTable | None:
    """Read one sheet of a spreadsheet as texts.

    Dates become ISO 8601, numbers are written with a point. A formula gives the value that the spreadsheet program
    kept of it; one without is named, as are merged cells.

    Parameters
    ----------
    path : Path
        The file.
    names : tuple of str
        Names of the sheet, the first that there is being taken; the only sheet is taken whatever its name.
    check : Check
        Where to note what is wrong.
    sheet : str, optional
        The one sheet to take.

    Returns
    -------
    RawTable or None
        None if something is wrong.
    """
    missing = [name for name in ("openpyxl", "defusedxml") if find_spec(name) is None]
    if missing:
        allowed = "spreadsheets where these are installed: python -m pip install 'spreadsim[tables]'; or save it as CSV"
        check.add("", Said(f"no {' and no '.join(missing)} on this machine"), allowed)
        return None
    try:
        data = read_bytes(path, _LARGEST)
    except InputError as error:
        check.problems.absorb(error)
        return None
    if not data.startswith(ZIP):
        found = "an old spreadsheet (.xls)" if data.startswith(OLD) else "no spreadsheet, whatever its name"
        check.add("", Said(found), "a spreadsheet saved as .xlsx, or CSV")
        return None
    if path.suffix.lower() == ".kmz":
        check.add("", Said("a packed KML file (.kmz)"), "the KML file in it: unpack it, and name that")
        return None
    unpacked = unpacked_safely(data, check)
    return None if unpacked is None else _sheet(path, unpacked, names, sheet, check)


def _sheet(path: Path, unpacked: Any, names: tuple[str, ...], sheet: str | None, check: Check) -> RawTable | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles, lists to choose from and other things that are not read
            return _opened(path, unpacked, names, sheet, check)
    except Exception as error:  # a damaged file makes the library raise nearly anything
        check.problems.say(
            check.thing, "", f"a damaged spreadsheet ({type(error).__name__}): open it and save it again"
        )
        return None


def _opened(path: Path, unpacked: Any, names: tuple[str, ...], sheet: str | None, check: Check) -> RawTable | None:
    import openpyxl

    book = openpyxl.load_workbook(unpacked, read_only=True, data_only=True, keep_links=False)
    title = _chosen(book.sheetnames, names, sheet, check)
    if title is None:
        return None
    cells = book[title]
    facts = facts_of(unpacked, cells, check)
    if facts is None:
        return None
    before = len(check.problems)
    rows = list(_rows(cells, title, facts))
    book.close()
    _check_facts(facts, title, check)
    return raw_of_rows(str(path), rows, check) if len(check.problems) == before else None


def _chosen(titles: list[str], names: tuple[str, ...], sheet: str | None, check: Check) -> str | None:
    """Choose a sheet by what was said, by our names for it, or the only one."""
    plain = {" ".join(title.lower().split()): title for title in titles}
    wanted = names if sheet is None else (" ".join(sheet.lower().split()),)
    found = next((plain[name] for name in wanted if name in plain), None)
    if found is None and sheet is None and len(titles) == 1:
        return titles[0]
    if found is None:
        has = ", ".join(f'"{title}"' for title in titles[:10]) or "none"
        missing = f'no sheet "{names[0] if sheet is None else sheet}"'
        check.add("", Said(missing), f'one of that name, or sheet = "..." beside file (it has {has})')
    return found


def _rows(cells: Any, title: str, facts: Facts) -> Iterator[tuple[str, list[str]]]:
    """Give the rows as texts. The size that a file claims is passed over: only cells that are there count."""
    cells.reset_dimensions()
    for number, row in enumerate(cells.iter_rows(values_only=True, max_row=facts.rows, max_col=facts.columns), 1):
        texts = [_text(value) for value in row]
        if any(texts):
            yield f'sheet "{title}", row {number}', texts


def _check_facts(facts: Facts, title: str, check: Check) -> None:
    """Note formulas without a value, and merged cells."""
    if facts.empty_formulas:
        named = _some(facts.empty_formulas)
        allowed = "values: open it in a spreadsheet program and save it, or paste the values"
        check.add(f'sheet "{title}"', Said(f"formulas that were never worked out: {named}"), allowed)
    if facts.merged:
        named = _some(facts.merged)
        check.add(f'sheet "{title}"', Said(f"merged cells: {named}"), "one value in each cell: split them")


def _some(names: tuple[str, ...]) -> str:
    more = f" and {len(names) - _MOST_SHOWN:,} more" if len(names) > _MOST_SHOWN else ""
    return ", ".join(names[:_MOST_SHOWN]) + more


def _text(value: object) -> str:
    """Give a cell's value, dates and times among them, as it would stand in a CSV file."""
    if isinstance(value, datetime):
        whole_day = value.time() == time()
        return value.date().isoformat() if whole_day else value.isoformat(timespec="minutes")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return f"{value.total_seconds() / 3600:.6g} hours"
    return field_text(value)
