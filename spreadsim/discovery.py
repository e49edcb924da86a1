"""What catalogues of data ask of a dataset (ACDD 1.3), as far as it is known: nothing here is invented.

Who made it, for whom and under which licence spreadsim does not know, and leaves out.
"""

import importlib
import importlib.util
import os
from datetime import UTC, datetime
from typing import Any

import numpy as np
import xarray as xr

CONTENT = "coverage_content_type"
_MODEL, _COORDINATE, _BESIDE = "modelResult", "coordinate", "auxiliaryInformation"  # of ISO 19115-1
_GROUND = ("y", "x")
_POINTS = 21  # along each edge: what is straight on the map is not in degrees
_DIGITS = 7  # of degrees: a centimetre


def discovery(disk: xr.Dataset) -> dict[str, Any]:
    """Give the attributes of a dataset that can be told of itself: when it was made, how long it covers, and where.

    Parameters
    ----------
    disk
        Outcomes or a film on its way to the disk, with the attribute ``crs`` where one is known.

    Returns
    -------
    dict of str to str or float
        ``date_created`` is the day (UTC) alone, so that the same outcomes of one day are the same bytes; with
        SOURCE_DATE_EPOCH in the environment (https://reproducible-builds.org/specs/source-date-epoch/) it is that
        day. One that the dataset has already is kept. Places are given where pyproj, of the extra `gis`, is installed.
    """
    said: dict[str, Any] = {"date_created": disk.attrs.get("date_created") or _today()}
    if "year" in disk.coords and disk["year"].size:
        begin = int(disk.attrs.get("first_year", 0))  # schema.FIRST_YEAR
        said["time_coverage_duration"] = f"P{int(disk['year'].max()) - begin}Y"
        said["time_coverage_resolution"] = "P3M" if "step" in disk.dims else "P1Y"
    return said | _place(disk)


def content_of(name: str, disk: xr.Dataset) -> str:
    """Say what kind of content a variable on the disk is, in the words of ISO 19115-1."""
    if name in disk.coords:
        return _COORDINATE
    beside = name.startswith("input_") or "parameter_name" in disk[name].attrs
    return _BESIDE if beside else _MODEL


def _today() -> str:
    told = os.environ.get("SOURCE_DATE_EPOCH", "")
    moment = datetime.fromtimestamp(int(told), UTC) if told.isdecimal() else datetime.now(UTC)
    return moment.date().isoformat()


def _place(disk: xr.Dataset) -> dict[str, Any]:
    """Latitudes and longitudes of the grid, and its corners; nothing where the reference system is not known."""
    crs, box = str(disk.attrs.get("crs", "") or ""), _box(disk)
    if not crs or box is None or importlib.util.find_spec("pyproj") is None:
        return {}
    pyproj = importlib.import_module("pyproj")  # heavy, and only in the gis extra
    try:
        move = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    except RuntimeError:  # what pyproj raises for a text that it doesn't know
        return {}
    longitude, latitude = (np.round(np.asarray(ends), _DIGITS) for ends in move.transform(*_around(*box)))
    if not (np.isfinite(longitude).all() and np.isfinite(latitude).all()):
        return {}
    west, east = _ends(longitude)
    corners = [f"{latitude[k]:.{_DIGITS}f} {longitude[k]:.{_DIGITS}f}" for k in range(0, 4 * _POINTS, _POINTS)]
    return {
        "geospatial_bounds": f"POLYGON (({', '.join([*corners, corners[0]])}))",  # latitude first, as EPSG has it
        "geospatial_bounds_crs": "EPSG:4326",
        "geospatial_lat_min": float(latitude.min()),
        "geospatial_lat_max": float(latitude.max()),
        "geospatial_lat_units": "degrees_north",
        "geospatial_lon_min": west,
        "geospatial_lon_max": east,
        "geospatial_lon_units": "degrees_east",
    }


def _box(disk: xr.Dataset) -> tuple[float, float, float, float] | None:
    """West, south, east and north edge of the grid; None without one, or with a single cell, whose size is not told."""
    if not all(axis in disk.coords and disk[axis].dims == (axis,) and disk[axis].size for axis in _GROUND):
        return None
    y, x = (np.sort(disk[axis].values.astype("f8")) for axis in _GROUND)
    sides = [(centres[-1] - centres[0]) / (len(centres) - 1) for centres in (x, y) if len(centres) > 1]
    if not sides:
        return None
    half = sides[0] / 2
    return float(x[0] - half), float(y[0] - half), float(x[-1] + half), float(y[-1] + half)


def _around(west: float, south: float, east: float, north: float) -> tuple[np.ndarray, np.ndarray]:
    """Points along the edges, against the clock from the south-west corner."""
    step = np.arange(_POINTS) / _POINTS
    x = (west + (east - west) * step, np.full(_POINTS, east), east + (west - east) * step, np.full(_POINTS, west))
    y = (
        np.full(_POINTS, south),
        south + (north - south) * step,
        np.full(_POINTS, north),
        north + (south - north) * step,
    )
    return np.concatenate(x), np.concatenate(y)


def _ends(longitude: np.ndarray) -> tuple[float, float]:
    """West and east end; across the 180th meridian the west end is the larger number, as ACDD has it."""
    if longitude.max() - longitude.min() <= 180:
        return float(longitude.min()), float(longitude.max())
    return float(longitude[longitude > 0].min()), float(longitude[longitude < 0].max())
