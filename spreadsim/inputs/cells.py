"""What the fields of a table say: numbers, lengths, covers, flags and words, as spreadsheets write them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.cover_classes import CLASSES, PERCENT, Cover, cover_allowed, cover_of
from spreadsim.inputs.headings import LENGTHS
from spreadsim.inputs.raw_tables import is_error

# Kinds of columns. A length is in the unit of its heading or its file and becomes metres; a raw text keeps capitals.
NUMBER, LENGTH, TEXT, RAW, FLAG, COVER = "number", "length", "text", "raw text", "flag", "cover"
_MOST_NAMED = 20
FORMULAS = "a value: formulas are never worked out; in a spreadsheet, copy the cells and paste them as values"
_FLAGS: Mapping[str, bool] = MappingProxyType(
    {"true": True, "yes": True, "y": True, "1": True, "false": False, "no": False, "n": False, "0": False}
)
_WORDS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("none", "no vine"), "bare"),
        "climbed": "climbing",
        **dict.fromkeys(("fruit", "in fruit"), "fruiting"),
    }
)
_COMMA = re.compile(r"[+-]?\d+,\d+(e[+-]?\d+)?", re.IGNORECASE)
_GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+")
_POINT = re.compile(r"[+-]?\d*\.\d+(e[+-]?\d+)?", re.IGNORECASE)
_DATE = re.compile(
    r"\d{4}-\d\d-\d\d.*|\d{1,2}[-/. ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*.*|"
    r"(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[-/. ]\d.*|\d{1,2}/\d{1,2}/\d{2,4}",
    re.IGNORECASE,
)
_MEASURE = re.compile(r"(?P<number>[^a-z']*\d)\s*(?P<unit>[a-z]+|')", re.IGNORECASE)


@dataclass(frozen=True)
class Style:
    """How the fields of a table are written.

    Attributes
    ----------
    commas : bool
        Whether decimals stand behind a comma.
    metres : float
        In a unit of length, where a heading says none.
    scale : str or None
        Of covers, where the fields say none.
    """

    commas: bool = False
    metres: float = 1.0
    scale: str | None = None


class _Few:
    """Notes the first problems of a column and counts the rest: a wrong column is one thing, not a thousand."""

    def __init__(self, check: Check, name: str) -> None:
        self.check, self.name, self.count = check, name, 0

    def add(self, place: str, found: object, allowed: str) -> None:
        self.count += 1
        if self.count <= _MOST_NAMED:
            self.check.add(place, found, allowed)

    def done(self) -> None:
        if self.count > _MOST_NAMED:
            self.check.problems.say(
                self.check.thing, f"column {self.name}", f"and {self.count - _MOST_NAMED:,} more that are wrong"
            )


def has_decimal_commas(fields: Iterable[str], separator: str) -> bool:
    """Tell whether numbers have a comma before their decimals.

    Where commas separate fields, quoted numbers such as "1,234" may be thousands; so at least one must be none.
    Points in other numbers of the same table say no.
    """
    commas = pointed = clear = False
    fields = list(fields)
    if not any("," in field for field in fields):
        return False
    for field in (field.removesuffix("%").strip() for field in fields):
        if _COMMA.fullmatch(field):
            commas = True
            clear = clear or not _GROUPED.fullmatch(field)
        pointed = pointed or _POINT.fullmatch(field) is not None
    return commas and not pointed and (clear or separator not in (",", ""))


def column_of(
    check: Check,
    name: str,
    kind: str,
    empty: object,
    rows: tuple[str, ...],
    fields: list[str],
    style: Style = Style(),
    metres: float | None = None,
) -> np.ndarray:
    """Make a column of the texts of its fields.

    Parameters
    ----------
    check : Check
        Where to note fields that are wrong.
    name : str
        Of the column, for messages.
    kind, empty : str, object
        Kind of the column and what an empty field stands for; None: it must be filled.
    rows : tuple of str
        What each row is called in messages.
    fields : list of str
        Without white space around.
    style : Style
        How they are written.
    metres : float, optional
        In the unit of length that the heading says.

    Returns
    -------
    array
        float64, bool, texts in small letters, raw texts, or for covers `Cover`.
    """
    plain = _plain_numbers(kind, fields, style.metres if metres is None else metres)
    if plain is not None:
        return plain
    values: list[object] = []
    few = _Few(check, name)
    for row, field in zip(rows, fields, strict=True):
        place = f"{row}, {name}"
        if not field:
            if empty is None:
                few.add(place, MISSING, "a text" if kind in (TEXT, RAW) else "a number")
            values.append(_stand_in(kind) if empty is None else empty)
        elif field.startswith("=") or is_error(field):
            few.add(place, Said(f"the {'formula' if field[0] == '=' else 'error'} {field}"), FORMULAS)
            values.append(_stand_in(kind))
        else:
            values.append(_value(few, place, kind, field, style, metres))
    few.done()
    kinds: dict[str, type] = {NUMBER: np.float64, LENGTH: np.float64, FLAG: np.bool_}
    column: np.ndarray = np.empty(len(values), dtype=kinds.get(kind, object))
    column[:] = values
    return column


def _plain_numbers(kind: str, fields: list[str], metres: float) -> np.ndarray | None:
    """Make a column of nothing but plain numbers, at once; None if it is anything else."""
    if kind not in (NUMBER, LENGTH):
        return None
    try:
        numbers = np.array([float(field) for field in fields], dtype=np.float64)
    except ValueError:
        return None
    if not np.isfinite(numbers).all() or any("_" in field for field in fields):
        return None
    return numbers * metres if kind == LENGTH and metres != 1.0 else numbers


def _stand_in(kind: str) -> object:
    stand_ins: dict[str, object] = {TEXT: "", RAW: "", FLAG: False, COVER: Cover("", "share", 0.0, 0.0, 0.0)}
    return stand_ins.get(kind, 0.0)


def _value(check: _Few, place: str, kind: str, field: str, style: Style, metres: float | None) -> object:
    if kind == NUMBER:
        return _number(check, place, field, style)
    if kind == LENGTH:
        return _length(check, place, field, style, style.metres if metres is None else metres)
    if kind == FLAG:
        if field.lower() not in _FLAGS:
            check.add(place, field, "true or false (or yes, no, 1, 0)")
        return _FLAGS.get(field.lower(), False)
    if kind == COVER:
        return _cover(check, place, field, style)
    text = " ".join(field.split())
    return text if kind == RAW else _WORDS.get(text.lower(), text.lower())


def _number(check: _Few, place: str, field: str, style: Style) -> float:
    if style.commas and _COMMA.fullmatch(field):
        field = field.replace(",", ".")
    try:
        value = float(field)
    except ValueError:
        value = float("nan")
    if is_number(value) and "_" not in field:
        return value
    allowed = "a finite number, with a point for decimals"
    if _DATE.fullmatch(field):
        allowed += ": a spreadsheet has made a date of it; format the column as text or number and type it again"
    elif _COMMA.fullmatch(field) or _GROUPED.fullmatch(field):
        allowed += " and nothing between thousands (all of a file alike)"
    check.add(place, field, allowed)
    return 0.0


def _length(check: _Few, place: str, field: str, style: Style, metres: float) -> float:
    """Read a length, a number alone or with its unit, into metres."""
    match = _MEASURE.fullmatch(field)
    if match is not None:
        unit = "ft" if match["unit"] == "'" else match["unit"].lower()
        if unit in LENGTHS:
            return _number(check, place, match["number"].strip(), style) * LENGTHS[unit]
    value = _number(check, place, field, style)
    return value if metres == 1.0 else value * metres


def _cover(check: _Few, place: str, field: str, style: Style) -> object:
    number = field.removesuffix("%").strip()
    if style.commas and _COMMA.fullmatch(number):
        field = field.replace(",", ".")
    found = cover_of(field, style.scale)
    if found is not None:
        return found
    try:
        shown: object = field if style.scale in CLASSES else float(field)
    except ValueError:
        shown = field
    hint = ""
    if isinstance(shown, float) and 1 < shown <= 100 and style.scale is None:
        hint = f'; if it is percent, write {{ file = "...", scale = "{PERCENT}" }}, or the sign % behind it'
    elif _DATE.fullmatch(field):
        hint = ": a spreadsheet has made a date of it; format the column as text and type it again"
    check.add(place, shown, cover_allowed(style.scale) + hint)
    return _stand_in(COVER)
