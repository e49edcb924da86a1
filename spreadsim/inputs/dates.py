"""Dates and ranges of dates, as records have them."""

from __future__ import annotations

import re
from datetime import date, timedelta

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check

Span = tuple[date, date]
_ISO = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d)(?:[T ][0-9:.,]+(?:Z|[+-]\d\d(?::?\d\d)?)?)?)?)?", re.ASCII)
_SLASHED = re.compile(r"(\d{1,2})[/.](\d{1,2})[/.](\d{4})", re.ASCII)
_DAYS = re.compile(r"[34]\d{4}(\.\d+)?", re.ASCII)


def span_of(text: str) -> Span | None:
    """Read an ISO 8601 date, a month, a year, or two of them with a slash between; None if it is none.

    Returns
    -------
    tuple of two dates
        First and last day, both included.
    """
    first, slash, last = text.strip().partition("/")
    begin = _days(first)
    if begin is None or not slash:
        return begin
    if re.fullmatch(r"\d\d", last):  # the end may leave out what is as in the beginning
        last = first[:8] + last if len(first) >= 10 else first[:5] + last
    elif re.fullmatch(r"\d\d-\d\d.*", last):
        last = first[:5] + last
    end = _days(last)
    return None if end is None or end[1] < begin[0] else (begin[0], end[1])


def read_spans(fields: list[str], rows: tuple[str, ...], name: str, check: Check) -> list[Span | None]:
    """Read a column of dates, noting what is none; empty fields are None.

    Besides ISO 8601 it takes ``31/1/2024`` and ``1/31/2024``, where the column as a whole leaves no doubt which of
    the two it is; that is remarked.
    """
    order = _order(fields)
    spans: list[Span | None] = []
    for field, row in zip(fields, rows, strict=True):
        span = span_of(field)
        slashed = _SLASHED.fullmatch(field)
        if span is None and slashed is not None and order is not None:
            day, month = (slashed[1], slashed[2]) if order == "day" else (slashed[2], slashed[1])
            span = _days(f"{slashed[3]}-{int(month):02d}-{int(day):02d}")
        if span is None and field:
            _note(field, row, name, order, check)
        spans.append(span)
    if order is not None:
        words = "day, month, year" if order == "day" else "month, day, year"
        check.remark(name, f"dates with slashes or points are read as {words}: no other reading fits all of them")
    return spans


def _note(field: str, row: str, name: str, order: str | None, check: Check) -> None:
    allowed = "a date such as 2024-01-31, a month, a year, or 2024-01-31/2024-02-02"
    if _DAYS.fullmatch(field):
        day = date(1899, 12, 30) + timedelta(days=int(float(field)))
        allowed += f"; it may be the number of a day in a spreadsheet ({day} in most): format the column as dates"
    elif _SLASHED.fullmatch(field) and order is None:
        allowed += "; in this column day and month can't be told apart"
    check.add(f"{row}, {name}", Said(f'"{field[:60]}"'), allowed)


def _order(fields: list[str]) -> str | None:
    """Tell whether days or months come first where slashes part them; None if nothing tells."""
    parts = [(int(m[1]), int(m[2])) for m in map(_SLASHED.fullmatch, fields) if m is not None]
    days_first = any(first > 12 for first, _ in parts)
    months_first = any(second > 12 for _, second in parts)
    return None if days_first == months_first else "day" if days_first else "month"


def _days(text: str) -> Span | None:
    match = _ISO.fullmatch(text.strip())
    if match is None:
        return None
    year, month, day = int(match[1]), int(match[2] or 1), int(match[3] or 1)
    try:
        first = date(year, month, day)
        if match[3] is not None:
            return first, first
        after = date(year + 1, 1, 1) if match[2] is None else date(year + month // 12, month % 12 + 1, 1)
    except ValueError:
        return None
    return first, after - timedelta(days=1)
