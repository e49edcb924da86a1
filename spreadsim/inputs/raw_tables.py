"""Tables as texts, with the place of each row: CSV in the ways that spreadsheets write it."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

from spreadsim.errors import InputError, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.toml import read_bytes

MOST_ROWS = 2_000_000
MARKS = ",;\t|"
EXAMPLE, EXPLANATION = "# example", "# explanation"  # of our own templates, in the first column
_ERRORS = re.compile(r"#(REF!|N/A|VALUE!|DIV/0!|NAME\?|NUM!|NULL!|#+)", re.IGNORECASE)
_MOST_NAMED = 3
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_MARKUP = (b"<?xml", b"<gpx", b"<kml", b"<!doc", b"<html")


@dataclass(frozen=True)
class RawTable:
    """A table as texts.

    Attributes
    ----------
    path : str
        The file, for messages.
    at : str
        What the row of headings is called in messages.
    headings : tuple of str
        As they stand there.
    rows : tuple of (str, list of str)
        What each row is called, and its fields, as many as headings.
    separator : str
        Between fields; empty where there are cells.
    ragged : tuple of (str, int)
        Rows with too few or too many fields, and how many; cut or filled among the rows.
    """

    path: str
    at: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, list[str]], ...]
    separator: str = ""
    ragged: tuple[tuple[str, int], ...] = ()

    def note_ragged(self, check: Check) -> None:
        """Note rows with too few or too many fields, the first few one by one."""
        hint = "; a field with a comma in it stands in quotes" if self.separator == "," else ""
        for place, count in self.ragged[:_MOST_NAMED]:
            check.add(place, Said(f"{count} fields"), f"{len(self.headings)}, as in the first line{hint}")
        if len(self.ragged) > _MOST_NAMED:
            check.problems.say(check.thing, "", f"and {len(self.ragged) - _MOST_NAMED:,} more rows like that")


def field_text(value: object) -> str:
    """Give a value of another format as it would stand in a CSV file."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value).strip()


def raw_csv(path: Path, check: Check) -> RawTable | None:
    """Read a CSV file as texts.

    Separators are commas, semicolons, tabs or bars, whichever the first line has most of. The text is UTF-8, UTF-16
    with its mark, or else Windows-1252, which is remarked.

    Parameters
    ----------
    path : Path
        The file.
    check : Check
        Where to note what is wrong.

    Returns
    -------
    RawTable or None
        None if something is wrong.
    """
    try:
        text = _decoded(read_bytes(path), check)
    except InputError as error:
        check.problems.absorb(error)
        return None
    if text is None:
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    told = re.match(r"sep=([,;|\t])\n", text, re.IGNORECASE)  # a line by which some spreadsheets say their separator
    if told is not None:
        text = "\n" + text[told.end() :]
    first = re.sub(r'"[^"]*"', "", next((line for line in text.split("\n") if line.strip()), ""))
    separator = told[1] if told is not None else max(MARKS, key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True, skipinitialspace=separator != "\t")
    rows: list[tuple[str, list[str]]] = []
    begins = 1  # quoted fields may go over several lines
    try:
        for row in reader:
            rows.append((f"line {begins}", row))
            begins = reader.line_num + 1
            if len(rows) > MOST_ROWS:
                check.add("", Said(f"more than {MOST_ROWS:,} lines"), "fewer")
                return None
    except csv.Error as error:
        check.problems.say(check.thing, f"line {reader.line_num}", f"not valid CSV: {error}")
        return None
    return raw_of_rows(str(path), rows, check, separator)


def raw_of_rows(path: str, rows: list[tuple[str, list[str]]], check: Check, separator: str = "") -> RawTable | None:
    """Make a table of its rows, the first that is not empty being the headings.

    Empty rows, rows that begin with ``#`` (remarked), and columns without heading and content are left out.
    """
    kept = [(place, [field.strip() for field in row]) for place, row in rows]
    kept = [(place, row) for place, row in kept if any(row)]
    kept = _without_comments(kept, check)
    if not kept:
        check.add("", Said("an empty file" if not rows or separator else "an empty sheet"), "a row with headings")
        return None
    (at, headings), body = kept[0], kept[1:]
    while headings and not headings[-1]:
        headings = headings[:-1]
    width = len(headings)
    wrong = tuple((place, len(row)) for place, row in body if (separator and len(row) < width) or any(row[width:]))
    for _, row in body:
        row[:] = row[:width] + [""] * (width - len(row))  # in place: a million rows need not be there twice
    return RawTable(path, at, tuple(headings), tuple(body), separator, wrong)


def is_error(field: str) -> bool:
    """Tell the error values of spreadsheets, such as ``#REF!``."""
    return _ERRORS.fullmatch(field) is not None


def _without_comments(rows: list[tuple[str, list[str]]], check: Check) -> list[tuple[str, list[str]]]:
    """Leave out rows that begin with #, and say so: somebody may have written over an example."""
    comment = [row[0].startswith("#") and not is_error(row[0]) for _, row in rows]
    left = [place for (place, row), out in zip(rows, comment, strict=True) if out and row[0] != EXPLANATION]
    if left:
        named = ", ".join(left[:_MOST_NAMED]) + (f" and {len(left) - _MOST_NAMED:,} more" if left[_MOST_NAMED:] else "")
        check.remark("", f'left out, since the first field begins with "#" (an example or a comment): {named}')
    return [row for row, out in zip(rows, comment, strict=True) if not out]


def _decoded(data: bytes, check: Check) -> str | None:
    if data.removeprefix(b"\xef\xbb\xbf").lstrip()[:5].lower().startswith(_MARKUP):
        allowed = "a CSV file or a spreadsheet named .xlsx; files of a phone are named .gpx or .kml, for hosts and mats"
        check.add("", Said("XML, such as GPX and KML files or a web page"), allowed)
        return None
    if data.startswith(_UTF16):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError as error:
            check.add("", Said(f"damaged UTF-16 text at byte {error.start}"), "UTF-8 text")
            return None
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        check.add(f"line {line}", Said("a zero byte, so this is no text"), "a CSV file, or a spreadsheet named .xlsx")
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        check.add(f"line {line}", Said("bytes that are neither UTF-8 nor Windows-1252 text"), "UTF-8 text")
        return None
    check.remark(f"line {line}", "it is not UTF-8, so it was read as Windows-1252: look at its special letters")
    return text
