"""Rows of a survey file made into events and records."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.cells import FLAG, LENGTH, NUMBER, RAW, TEXT
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import Cover, cover_allowed, cover_of, scale_of
from spreadsim.inputs.csv_files import Columns, Table, table_of_raw
from spreadsim.inputs.dates import Span, read_spans
from spreadsim.inputs.hosts import STATES
from spreadsim.inputs.survey import Event, Record
from spreadsim.inputs.survey_datum import in_wgs84
from spreadsim.inputs.survey_effort import effort_of_rows
from spreadsim.inputs.survey_twice import remark_twice, without_corrected
from spreadsim.inputs.table_files import raw_table

_NAN = float("nan")
_RAW: tuple[str, ...] = (
    *("eventID", "eventDate", "geodeticDatum", "footprintWKT", "organismQuantity", "organismQuantityType"),
    *("samplingEffort", "samplingEffortUnit", "sampleSizeUnit", "totalAreaSampledUnit", "locationID", "host"),
    *("identificationRemarks", "identificationQualifier", "scientificName", "occurrenceID", "modified"),
)
_NUMBERS: tuple[str, ...] = (
    *("samplingEffortValue", "sampleSizeValue", "totalAreaSampledInSquareKilometers", "totalAreaSampledValue"),
    *("individualCount", "hours", "longitude", "latitude"),
)
COLUMNS: Columns = {
    **dict.fromkeys(_RAW, (RAW, "")),
    **dict.fromkeys(_NUMBERS, (NUMBER, _NAN)),
    **dict.fromkeys(("x", "y", "uncertainty"), (LENGTH, _NAN)),
    "occurrenceStatus": (TEXT, ""),
    "state": (TEXT, ""),
    "isAbsenceReported": (FLAG, False),
}
_ALIASES: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("date", "dates"), "eventDate"),
        **dict.fromkeys(("unit", "unit name"), "locationID"),
        "event": "eventID",
        "status": "occurrenceStatus",
        "effort": "samplingEffort",
        "footprint": "footprintWKT",
        "species": "scientificName",
        "tag": "host",
        "number": "individualCount",
        "count": "individualCount",
    }
)
_STATUS = MappingProxyType({"present": True, "absent": False})


def read_events(
    path: Path, check: Check, name: str | None, sheet: str | None, metres: float = 1.0
) -> tuple[Event, ...]:
    """Read the events of a survey file, noting everything that is wrong; see `read_survey`."""
    raw = raw_table(path, "survey", {"sheet": sheet}, check)
    table = None if raw is None else table_of_raw(raw, COLUMNS, check, metres=metres, aliases=_ALIASES)
    if table is None:
        return ()
    if any("easting" in one or "northing" in one for one in table.columns):
        check.add("", Said("easting and northing"), "decimalLongitude and decimalLatitude, or x and y of the site")
        return ()
    table = without_corrected(_of_species(_filled(table), name, check), check)
    rows = _Rows(table, check)
    groups: dict[str, list[int]] = {}
    for k, row in enumerate(table.rows):
        groups.setdefault(table.columns["eventID"][k] or row, []).append(k)
    events = tuple(rows.event(event, members) for event, members in groups.items())
    remark_twice((record for event in events for record in event.records), check)
    return events


def _filled(table: Table) -> Table:
    """Give a table with all columns, empty where the file has none."""
    columns = dict(table.columns)
    for name, (kind, empty) in COLUMNS.items():
        dtype: Any = object if kind in (RAW, TEXT) else bool if kind == FLAG else np.float64
        columns.setdefault(name, np.full(len(table.rows), empty, dtype=dtype))
    return Table(table.path, columns, table.rows, table.headings)


def _of_species(table: Table, name: str | None, check: Check) -> Table:
    """Take the rows of one species; rows without a name are of any."""
    names = [text.lower() for text in table.columns["scientificName"]]
    held = sorted({text for text in names if text})
    if name is None:
        if len(held) > 1:
            shown = ", ".join(f'"{text}"' for text in held[:5]) + (" ..." if len(held) > 5 else "")
            check.add(table.called("scientificName"), Said(f"{len(held)} species"), f"one, or its name said: {shown}")
        return table
    wanted = " ".join(name.lower().split())
    kept = np.array([text in ("", wanted) for text in names], dtype=bool)
    if held and wanted not in held:
        check.add(table.called("scientificName"), Said(f'no record of "{name}"'), ", ".join(held[:5]))
    elif not kept.all():
        check.remark("", f"{(~kept).sum():,} of {len(kept):,} rows are of other species, left out")
    return table.pick(kept)


class _Rows:
    """Makes records of the rows of a table."""

    def __init__(self, table: Table, check: Check) -> None:
        self.table, self.check = table, check
        dates = [str(field) for field in table.columns["eventDate"]]
        self.spans = read_spans(dates, table.rows, table.called("eventDate"), check)
        self.positions = in_wgs84(table, check)

    def event(self, name: str, members: list[int]) -> Event:
        """Make an event of its rows."""
        effort, said = effort_of_rows(self.table, members, self.check)
        span = self._span(members)
        found = [self._found(k) for k in members]
        records = []
        for k, present in zip(members, found, strict=True):
            if present is False and not effort.hours and not effort.area:
                allowed = 'absent with an effort, such as samplingEffort "2 hours" or an area; or leave the row out: '
                self._add(k, "occurrenceStatus", Said("absent, and nothing on how long or how much was looked at"),
                          allowed + "it is not known then, which is not clean")  # fmt: skip
            if present is not None:
                records.append(self._record(name, k, present, span))
        return Event(name, effort.hours, effort.area, said, tuple(records))

    def _get(self, k: int, name: str) -> Any:
        value = self.table.columns[name][k]
        return None if isinstance(value, float) and np.isnan(value) else value

    def _add(self, k: int, name: str, found: object, allowed: str) -> None:
        self.check.add(f"{self.table.rows[k]}, {self.table.called(name)}", found, allowed)

    def _span(self, members: list[int]) -> Span | None:
        """Give the dates of an event; its rows may not differ."""
        said = [(k, self.spans[k]) for k in members if self.spans[k] is not None]
        for k, span in said[1:]:
            if span != said[0][1]:
                first = self.table.rows[said[0][0]]
                self._add(k, "eventDate", self.table.columns["eventDate"][k], f"the date of its event, as in {first}")
        return said[0][1] if said else None

    def _found(self, k: int) -> bool | None:
        """Tell whether vine was found; None where a row says nothing of it, which is noted."""
        status, count = str(self._get(k, "occurrenceStatus") or ""), self._get(k, "individualCount")
        quantity = str(self._get(k, "organismQuantity") or "")
        some = (count is not None and count > 0) or (bool(quantity) and quantity.strip("0.% ") != "")
        none = not some and (count == 0 or bool(quantity))
        if status and status not in _STATUS:
            self._add(k, "occurrenceStatus", status, "present or absent")
            return None
        if status and ((_STATUS[status] and none) or (not _STATUS[status] and some)):
            what = "a quantity of none" if none else "a quantity"
            self._add(k, "occurrenceStatus", Said(f"{status} with {what}"), "one that agrees with the quantity")
        if status:
            return _STATUS[status]
        if some or none:
            return some
        if self._get(k, "isAbsenceReported"):
            return False
        self._add(k, "occurrenceStatus", MISSING, "present or absent: a visit that says neither tells nothing")
        return None

    def _record(self, event: str, k: int, found: bool, span: Span | None) -> Record:
        get = self._get
        cover, quantity = self._quantity(k)
        count = get(k, "individualCount")
        if count is not None and (count < 0 or count != int(count)):
            self._add(k, "individualCount", count, "a whole number, at least 0")
        state = str(get(k, "state") or "")
        if state and state not in STATES:
            self._add(k, "state", state, ", ".join(STATES))
        x, y, far = get(k, "x"), get(k, "y"), get(k, "uncertainty")
        if (x is None) != (y is None):
            self._add(k, "y" if y is None else "x", MISSING, "both x and y, or neither")
        if far is not None and far < 0:
            self._add(k, "uncertainty", far, "at least 0 m")
        words = [str(get(k, name) or "") for name in ("identificationQualifier", "identificationRemarks")]
        return Record(
            self.table.rows[k],
            event,
            found,
            span,
            str(get(k, "locationID") or ""),
            None if x is None or y is None else (float(x), float(y)),
            self.positions[k],
            None if far is None else float(far),
            str(get(k, "footprintWKT") or ""),
            str(get(k, "host") or ""),
            state,
            cover,
            quantity,
            None if count is None else int(count),
            "; ".join(word for word in words if word),
        )

    def _quantity(self, k: int) -> tuple[Cover | None, tuple[str, str] | None]:
        """Give a cover where the type of a quantity is a scale of covers; any other quantity as it stands."""
        said, kind = str(self._get(k, "organismQuantity") or ""), str(self._get(k, "organismQuantityType") or "")
        if bool(said) != bool(kind):
            name = "organismQuantityType" if said else "organismQuantity"
            self._add(k, name, MISSING, "both organismQuantity and organismQuantityType, or neither")
            return None, None
        scale = scale_of(kind)
        if scale is None:
            return None, (said, kind) if said else None
        cover = cover_of(said, scale)
        if cover is None:
            self._add(k, "organismQuantity", said, f"{cover_allowed(scale)}, since it is {kind}")
        return cover, None
