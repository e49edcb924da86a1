"""A spreadsheet to fill in: mats, climbed hosts, crews and hours."""

from __future__ import annotations

import io
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.raw_tables import EXPLANATION
from spreadsim.starting.survey_columns import Column, Sheet, survey_sheets

_ROWS = 2000  # with lists to choose from
_FIRST = 4  # row to fill in: headings, explanations and an example stand above


def write_template(path: str | Path, *, feet: bool = False, degrees: bool = False) -> Path:
    """Write a spreadsheet with three sheets to fill in.

    Parameters
    ----------
    path : str or Path
        A new file, named ``.xlsx``.
    feet : bool
        Lengths in feet, not metres.
    degrees : bool
        Places as longitude and latitude.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        The file is there already, is not named ``.xlsx``, or openpyxl is missing.
    """
    path = Path(path)
    refuse_taken(path, ".xlsx")
    if find_spec("openpyxl") is None:
        remedy = "spreadsheets where it is installed: python -m pip install 'spreadsim[tables]'"
        raise InputError(f"{path}: found no openpyxl on this machine, allowed {remedy}")
    from openpyxl import Workbook

    book: Any = Workbook()
    book.remove(book.active)
    for sheet in survey_sheets(feet=feet, degrees=degrees):
        _fill(book.create_sheet(sheet.name), sheet)
    held = io.BytesIO()
    book.save(held)
    path.parent.mkdir(parents=True, exist_ok=True)
    with renamed_when_whole(path) as file:
        file.write(held.getvalue())
    return path


def refuse_taken(path: Path, suffix: str) -> None:
    """Raise `InputError` if a file is there already or has another suffix: nobody's survey is overwritten."""
    if path.suffix.lower() != suffix:
        raise InputError(f'{path}: found the name "{path.name}", allowed one that ends with {suffix}')
    if path.exists():
        raise InputError(f"{path}: found a file of that name, allowed a new one: nothing is overwritten")


def _fill(cells: Any, sheet: Sheet) -> None:
    """Write headings, explanations and an example, and lists to choose from below them."""
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    for number, column in enumerate(sheet.columns, 1):
        letter = get_column_letter(number)
        heading, explained, example = (cells.cell(row, number) for row in (1, 2, 3))
        heading.value, heading.font = column.heading, Font(bold=True)
        heading.fill = PatternFill("solid", fgColor="E8EEF2")
        explained.value = EXPLANATION if number == 1 else column.explanation
        explained.font, explained.alignment = Font(size=9), Alignment(wrap_text=True, vertical="top")
        example.value, example.font = column.example or None, Font(italic=True, color="595959")
        cells.column_dimensions[letter].width = 15 if number == 1 or column.low is not None or column.choices else 24
        if column.low is None:  # a spreadsheet makes dates of classes such as 2-5, and numbers of tags
            for row in range(_FIRST, _FIRST + 300):
                cells.cell(row, number).number_format = "@"
            example.number_format = "@"
        rule = _rule(column)
        if rule is not None:
            cells.add_data_validation(rule)
            rule.add(f"{letter}{_FIRST}:{letter}{_FIRST + _ROWS}")
    cells.row_dimensions[2].height = 64
    cells.freeze_panes = f"B{_FIRST}"
    cells.page_setup.orientation, cells.page_setup.fitToHeight = "landscape", 0
    cells.sheet_properties.pageSetUpPr.fitToPage = True
    cells.print_title_rows = "1:1"


def _rule(column: Column) -> Any:
    """Make what may stand in a column; None: anything."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if column.choices:
        words = ", ".join(column.choices)
        rule = DataValidation(type="list", formula1=f'"{",".join(column.choices)}"', allow_blank=True)
    elif column.low is not None:
        ends = [column.low] if column.high is None else [column.low, column.high]
        words = f"a number, {ends[0]:g} or more" if column.high is None else f"a number from {ends[0]:g} to {ends[1]:g}"
        rule = DataValidation(
            type="decimal",
            operator="greaterThanOrEqual" if column.high is None else "between",
            formula1=f"{ends[0]:g}",
            formula2=None if column.high is None else f"{ends[1]:g}",
            allow_blank=True,
        )
    else:
        return None
    rule.showErrorMessage = True
    rule.errorTitle, rule.error = column.heading, f"Allowed: {words}; or nothing."[:250]
    return rule
