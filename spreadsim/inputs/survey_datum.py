"""Positions of records in WGS 84, whatever datum they were noted in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from spreadsim.errors import MISSING
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, crs_of, mover
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.placing import checked_degrees

_WGS84 = ("", "wgs84", "wgs 84", "epsg:4326", "world geodetic system 1984", "unknown", "not recorded")
_CODES: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("nad83", "nad 83", "north american datum 1983"), "EPSG:4269"),
        **dict.fromkeys(("nad27", "nad 27", "north american datum 1927"), "EPSG:4267"),
        "etrs89": "EPSG:4258",
    }
)


def in_wgs84(table: Table, check: Check) -> list[tuple[float, float] | None]:
    """Give longitude and latitude of each row in WGS 84; None where there are none.

    Parameters
    ----------
    table : Table
        With ``longitude``, ``latitude`` and ``geodeticDatum``. A datum that is not said, or not known, is taken for
        WGS 84, which is remarked.
    check : Check
        Where to note what is wrong.
    """
    longitude, latitude = table.columns["longitude"], table.columns["latitude"]
    for name, column, other in (("latitude", latitude, longitude), ("longitude", longitude, latitude)):
        for k in np.flatnonzero(np.isnan(column) & ~np.isnan(other)):
            check.add(f"{table.rows[k]}, {table.called(name)}", MISSING, "both longitude and latitude, or neither")
    held = ~np.isnan(longitude) & ~np.isnan(latitude)
    rows = tuple(row for row, here in zip(table.rows, held.tolist(), strict=True) if here)
    if not held.any() or not checked_degrees(longitude[held], latitude[held], rows, check):
        return [None] * len(table.rows)
    x, y = longitude.copy(), latitude.copy()
    datums = np.array([" ".join(str(text).lower().split()) for text in table.columns["geodeticDatum"]], dtype=object)
    for datum in sorted(set(datums[held])):
        which = held & (datums == datum)
        if datum in _WGS84:
            if not datum.startswith(("w", "e")):
                check.remark(table.called("geodeticDatum"), f"not said in {which.sum():,} rows: WGS 84 is taken")
            continue
        code = _CODES.get(datum, datum if re.fullmatch(r"epsg:\d{4,5}", datum) else "")
        place = f"{table.rows[int(np.flatnonzero(which)[0])]}, {table.called('geodeticDatum')}"
        if not code:
            check.add(place, datum, "WGS84, NAD83, NAD27, ETRS89, or a code such as EPSG:4326")
            continue
        source = crs_of(code.upper(), check, place)
        if source is not None:
            x[which], y[which] = mover(source, DEGREES)(x[which], y[which])
    both = zip(x.tolist(), y.tolist(), held.tolist(), strict=True)
    return [(east, north) if here and np.isfinite(east + north) else None for east, north, here in both]
