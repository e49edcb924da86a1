"""A form of one page to print and take into the field, with the columns of the spreadsheet."""

from __future__ import annotations

from pathlib import Path

from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.cover_classes import CLASSES, DAUBENMIRE
from spreadsim.starting.survey_columns import survey_sheets
from spreadsim.starting.template import refuse_taken

_ROWS = {"mats": 7, "climbed hosts": 12, "crews and hours": 4}
# left out of a page that is written by hand; the spreadsheet has them
_TYPED_LATER = frozenset({"no", "price", "paid", "pace", "turnout", "known"})
_WIDE = ("notes", "may", "name", "longitude", "latitude", "volunteers")  # columns with widths of their own


def write_form(path: str | Path, *, site: str = "", feet: bool = False, degrees: bool = False) -> Path:
    """Write the form, one page when printed on A4 or letter paper.

    Parameters
    ----------
    path : str or Path
        A new file, named ``.html``.
    site : str
        Name of the site, at the top; empty: a line to write it on.
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
        The file is there already, or is not named ``.html``.
    """
    path = Path(path)
    refuse_taken(path, ".html")
    text = form_page(site=site, feet=feet, degrees=degrees)
    path.parent.mkdir(parents=True, exist_ok=True)
    with renamed_when_whole(path) as file:
        file.write(text.encode())
    return path


def form_page(*, site: str = "", feet: bool = False, degrees: bool = False) -> str:
    """Give the form as HTML; see `write_form`."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("spreadsim.starting", "")
    environment = Environment(loader=loader, undefined=StrictUndefined, autoescape=True, keep_trailing_newline=True)
    tables = [
        {
            "name": sheet.name,
            "rows": _ROWS[sheet.name],
            "columns": [column for column in sheet.columns if column.heading not in _TYPED_LATER],
        }
        for sheet in survey_sheets(feet=feet, degrees=degrees)
    ]
    classes = [f"{code}: {100 * one.low:g}–{100 * one.high:g} %" for code, one in CLASSES[DAUBENMIRE].items()]
    page = environment.get_template("form.html")
    name = " ".join(site.split())[:80]
    return page.render(site=name, tables=tables, classes=classes, degrees=degrees, wide=_WIDE)
