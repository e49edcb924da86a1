"""Coordinate reference systems: which one, in which unit, and from one into another."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.gis import installed

if TYPE_CHECKING:
    from pyproj import CRS

DEGREES = "EPSG:4326"  # longitude, latitude in WGS 84
_LONGEST = 100_000  # characters of a well-known text


def crs_of(text: object, check: Check, place: str) -> CRS | None:
    """Make a coordinate reference system of what a file says.

    Parameters
    ----------
    text : str
        A code such as ``EPSG:26910``, or well-known text.
    check : Check
        Where to note.
    place : str
        Where it stands.

    Returns
    -------
    pyproj.CRS or None
        None if it is none, or pyproj is missing.
    """
    if not installed(check, place, "pyproj"):
        return None
    from pyproj import CRS
    from pyproj.exceptions import ProjError

    try:
        if isinstance(text, str) and 0 < len(text) <= _LONGEST and "\0" not in text:
            crs = CRS.from_user_input(text)
            mover(crs, DEGREES)  # a damaged or a local one has no place on earth
            return crs
    except ProjError:  # CRSError is one of these
        pass
    allowed = "a coordinate reference system, such as EPSG:32610 (UTM zone 10 north)"
    check.add(place, MISSING if text in (None, "") else text, allowed)
    return None


def utm_zone(longitude: float, latitude: float) -> str:
    """Give the code of the UTM zone of a place (WGS 84); the exceptions of Norway and Svalbard are not made."""
    zone = min(60, math.floor((longitude + 180) / 6) + 1)
    return f"EPSG:{(32600 if latitude >= 0 else 32700) + zone}"


def in_metres(crs: CRS) -> bool:
    """Tell whether it is projected with both axes in metres."""
    return bool(crs.is_projected) and all(axis.unit_conversion_factor == 1.0 for axis in crs.axis_info[:2])


def checked_metres(crs: CRS, check: Check, place: str, near: tuple[float, float] | None = None) -> bool:
    """Note a reference system that is not in metres, with one that would do.

    Parameters
    ----------
    crs : pyproj.CRS
        What a site asks for.
    check : Check
        Where to note.
    place : str
        Where it stands.
    near : tuple of two floats, optional
        Longitude and latitude of the site, for the zone that would do.

    Returns
    -------
    bool
        Whether it is in metres.
    """
    if in_metres(crs):
        return True
    unit = crs.axis_info[0].unit_name if crs.axis_info else "no unit"
    zone = "" if near is None else f": {utm_zone(*near)} would do"
    check.add(place, Said(f"{crs.name}, in units of {unit}"), f'a projected one in metres{zone}; or "auto"')
    return False


def name_of(crs: CRS) -> str:
    """Name a reference system so that it can be read again: by its code, else by well-known text."""
    found = crs.to_authority(min_confidence=100)
    return str(crs.to_wkt()) if found is None else ":".join(found)


def mover(source: CRS | str, target: CRS | str) -> Any:
    """Give a function (x, y) -> (x, y) from one reference system into another.

    x is east or longitude always, whatever the order of the axes that the systems declare. Points that cannot be
    told in the other come out as infinite. Both arguments and results are float64 arrays.
    """
    from pyproj import Transformer

    transformer = Transformer.from_crs(source, target, always_xy=True)

    def move(x: Any, y: Any) -> tuple[np.ndarray, np.ndarray]:
        moved = transformer.transform(np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64))
        return np.asarray(moved[0], dtype=np.float64), np.asarray(moved[1], dtype=np.float64)

    return move
