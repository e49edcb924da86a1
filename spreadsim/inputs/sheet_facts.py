"""What is known of a spreadsheet before it is read: that it stays small when unpacked, and what its cells hide."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import dataclass, field
from typing import Any

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check

_MOST_PARTS = 2_000
_MOST_UNPACKED = 40_000_000  # bytes, all parts together: elements of XML take some 20 times that in memory
MOST_ROWS = 200_000
MOST_COLUMNS = 200
_MOST_CELLS = 1_000_000
_WIDEST = 16_384  # cells of a row, empty ones too
_REFERENCE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")


@dataclass(frozen=True)
class Facts:
    """What a sheet holds besides values.

    Attributes
    ----------
    rows, columns : int
        Of the last cells with something in them; at least 1.
    empty_formulas : tuple of str
        Cells with a formula and no value kept of it.
    merged : tuple of str
        Ranges of merged cells.
    """

    rows: int
    columns: int
    empty_formulas: tuple[str, ...]
    merged: tuple[str, ...]


def unpacked_safely(data: bytes, check: Check) -> io.BytesIO | None:
    """Tell whether a zip file stays small when it is unpacked, and give it to be read.

    What a part claims to hold is also the most that zipfile gives of it; so no part is read to find out.

    Returns
    -------
    file or None
        None if it is no zip file, or would be too large.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, UnicodeDecodeError):
        check.add("", Said("a damaged spreadsheet"), "one that opens: save it again as .xlsx")
        return None
    size = sum(part.file_size for part in parts)
    if len(parts) > _MOST_PARTS or size > _MOST_UNPACKED:
        found = f"{len(parts):,} parts of {size / 1e6:,.0f} MB when unpacked"
        check.add(
            "", Said(found), f"at most {_MOST_PARTS:,} parts and {_MOST_UNPACKED // 1_000_000} MB: save it as CSV"
        )
        return None
    if any(part.flag_bits & 1 for part in parts):
        check.add("", Said("a spreadsheet with a password"), "one without")
        return None
    return io.BytesIO(data)


def facts_of(unpacked: io.BytesIO, cells: Any, check: Check) -> Facts | None:
    """Go through the cells of a sheet once, keeping nothing, before they are read.

    Parameters
    ----------
    unpacked : file
        The spreadsheet.
    cells : openpyxl worksheet
        Read only; it knows the part that it lies in.
    check : Check
        Where to note a sheet that is too large.

    Returns
    -------
    Facts or None
        None if it is too large.
    """
    from defusedxml.ElementTree import iterparse

    seen = _Seen()
    with zipfile.ZipFile(unpacked) as packed, packed.open(cells._worksheet_path) as part:
        around: list[Any] = []
        for event, element in iterparse(part, events=("start", "end"), forbid_dtd=True):
            name = element.tag.rpartition("}")[2]
            if event == "start":
                around.append(element)
                if name == "row":
                    seen.begin_row(element.get("r"))
                continue
            around.pop()
            if name == "c":
                seen.end_cell(element)
            elif name == "mergeCell":
                seen.merged.append(str(element.get("ref", ""))[:30])
            seen.elements += 1
            if around and not any(one.tag.rpartition("}")[2] == "row" for one in around):
                around[-1].remove(element)  # nothing is kept
            if seen.too_large():
                found = f"row {seen.row:,}, column {seen.column:,}, cell {seen.cells:,}"
                allowed = (
                    f"at most {MOST_ROWS:,} rows, {MOST_COLUMNS} columns and {_MOST_CELLS:,} cells: save it as CSV"
                )
                check.add(f'sheet "{cells.title}"', Said(found), allowed)
                return None
    return Facts(max(seen.last_row, 1), max(seen.last_column, 1), tuple(seen.formulas), tuple(seen.merged))


@dataclass
class _Seen:
    """What was met of a sheet so far: where the reader is, where the last value stood."""

    row: int = 0
    column: int = 0
    last_row: int = 0
    last_column: int = 0
    cells: int = 0
    elements: int = 0
    in_row: int = 0
    formulas: list[str] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)

    def begin_row(self, number: str | None) -> None:
        told = (number or "").isascii() and (number or "").isdigit() and len(number or "") <= 8
        self.row = int(number or 0) if told else self.row + 1
        self.column = self.in_row = 0

    def end_cell(self, element: Any) -> None:
        self.cells += 1
        self.in_row += 1
        row, column = _place(element.get("r"))
        self.row, self.column = row or self.row, column or self.column + 1
        inside = {child.tag.rpartition("}")[2]: child for child in element}
        if inside:
            self.last_row, self.last_column = max(self.last_row, self.row), max(self.last_column, self.column)
        if "f" in inside and ("v" not in inside or inside["v"].text is None):
            self.formulas.append(str(element.get("r", "?"))[:12])

    def too_large(self) -> bool:
        wide = self.last_column > MOST_COLUMNS or self.in_row > _WIDEST
        return wide or self.last_row > MOST_ROWS or self.cells > _MOST_CELLS or self.elements > 4 * _MOST_CELLS


def _place(reference: str | None) -> tuple[int, int]:
    """Give row and column of a reference such as ``B12``; 0 if it is none."""
    match = _REFERENCE.fullmatch(reference or "")
    if match is None:
        return 0, 0
    column = 0
    for letter in match[1]:
        column = 26 * column + ord(letter) - 64
    return int(match[2]), column
