"""Records that a survey has twice: corrected ones, and those that say the same, or the contrary, of one place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.survey import Record

_MOST_NAMED = 3


def without_corrected(table: Table, check: Check) -> Table:
    """Leave out rows that another one with their ``occurrenceID`` corrects or repeats.

    Parameters
    ----------
    table : Table
        With all columns of a survey. Of several rows with one ``occurrenceID`` the newest by ``modified`` counts;
        rows that are the same in all columns are one. Anything else is a problem.
    check : Check
        Where to note, and to remark what is left out.

    Returns
    -------
    Table
    """
    groups: dict[str, list[int]] = {}
    for k, name in enumerate(table.columns["occurrenceID"]):
        if name:
            groups.setdefault(name, []).append(k)
    kept = np.ones(len(table.rows), dtype=bool)
    for name, members in groups.items():
        if len(members) == 1:
            continue
        newest = _newest(table, members)
        if newest is None:
            allowed = "one row, or in the column modified a date for each of its rows, of which the newest counts"
            found = Said(f'"{name[:60]}" again, which is in {table.rows[members[0]]} with other values')
            check.add(f"{table.rows[members[1]]}, {table.called('occurrenceID')}", found, allowed)
        else:
            kept[[k for k in members if k != newest]] = False
    if not kept.all():
        rows = [row for row, held in zip(table.rows, kept.tolist(), strict=True) if not held]
        check.remark("", f"left out, since a newer or the same row has their occurrenceID: {_named(rows)}")
    return table.pick(kept)


def remark_twice(records: Iterable[Record], check: Check) -> None:
    """Remark records that say the same, or the contrary, of one place and day as another."""
    first: dict[Record, str] = {}
    by_place: dict[tuple[object, ...], Record] = {}
    same, contrary = [], []
    for record in records:
        if record.xy is None and record.position is None and not record.footprint:
            continue
        known = first.setdefault(replace(record, place="", event=""), record.place)
        if known != record.place:
            same.append(f"{record.place} as {known}")
            continue
        where = (record.dates, record.xy, record.position, record.footprint, record.host, record.on_host)
        other = by_place.setdefault(where, record)
        if record.dates is not None and other.found != record.found:
            contrary.append(f"{record.place} and {other.place}")
    if same:
        check.remark("", f"the same of the same place and day, listed twice? {_named(same)}")
    if contrary:
        check.remark("", f"present and absent at the same place on the same day: {_named(contrary)}")


def _newest(table: Table, members: list[int]) -> int | None:
    """Give the row that counts; None if that can't be told."""
    times = [_time(str(table.columns["modified"][k])) for k in members]
    told = [time for time in times if time is not None]
    if len(told) == len(times) and told.count(max(told)) == 1:
        return members[told.index(max(told))]
    said = {tuple(str(column[k]) for column in table.columns.values()) for k in members}
    return members[0] if len(said) == 1 else None


def _time(text: str) -> datetime | None:
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        return None
    return time if time.tzinfo is not None else time.replace(tzinfo=UTC)


def _named(rows: list[str]) -> str:
    return ", ".join(rows[:_MOST_NAMED]) + (f" and {len(rows) - _MOST_NAMED:,} more" if rows[_MOST_NAMED:] else "")
