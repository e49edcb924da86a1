"""Tables with coordinates of the map or of a phone, brought onto the site."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, crs_of, mover
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.local_plane import local_metres
from spreadsim.inputs.site_context import Context

_AUTO = "auto"
_MOST_NAMED = 5
_MANY = 0.5  # share of points off the site from which on all of them are thought to be misplaced


def place_tables(context: Context, grid: Grid, crs: str | None) -> None:
    """Give the tables of a site ``x`` and ``y`` in metres from its south-west corner.

    Parameters
    ----------
    context : Context
        With the tables, in any of the coordinates that they may have. A table that can't be placed is taken out.
    grid : Grid
        That of the site.
    crs : str or None
        Reference system of the site.
    """
    for key, said in context.said.items():
        table = context.tables.get(key)
        if table is None or not _is_of_map(table, said):
            continue
        check = Check(table.path, context.check.problems)
        placed = _placed(table, said, context, grid, crs, check)
        if placed is not None and key != "sources":
            placed = _on_site(placed, table, said, grid, check)
        if placed is None:
            del context.tables[key]
        else:
            context.tables[key] = placed


def checked_degrees(longitude: np.ndarray, latitude: np.ndarray, rows: tuple[str, ...], check: Check) -> bool:
    """Note longitudes and latitudes that can't be, with what they look like.

    Returns
    -------
    bool
        Whether all can be.
    """
    wrong = (np.abs(longitude) > 180) | (np.abs(latitude) > 90)
    if not wrong.any():
        return True
    k = int(np.flatnonzero(wrong)[0])
    swapped = (np.abs(longitude) <= 90).all() and (np.abs(latitude) <= 180).all()
    hint = "they look swapped" if swapped else "metres belong under x and y, or under easting and northing"
    found = Said(f"longitude {longitude[k]:.7g}, latitude {latitude[k]:.7g}")
    check.add(rows[k], found, f"longitudes from -180 to 180 and latitudes from -90 to 90, in decimal degrees: {hint}")
    return False


def _is_of_map(table: Table, said: Mapping[str, Any]) -> bool:
    return "longitude" in table.columns or "easting" in table.columns or ("x" in table.columns and bool(said["crs"]))


def _placed(
    table: Table, said: Mapping[str, Any], context: Context, grid: Grid, crs: str | None, check: Check
) -> Table | None:
    columns = dict(table.columns)
    degrees = "longitude" in columns
    first, second = ("longitude", "latitude") if degrees else ("easting", "northing") if "easting" in columns else "xy"
    x, y = columns.pop(first), columns.pop(second)
    if degrees and not checked_degrees(x, y, table.rows, check):
        return None
    own = said["crs"] or (DEGREES if degrees else None)
    moved = _moved(x, y, own, context, grid, crs, check, table.path)
    if moved is None:
        return None
    lost = ~np.isfinite(moved[0]) | ~np.isfinite(moved[1])
    if lost.any():
        check.add(table.rows[int(np.flatnonzero(lost)[0])], Said("coordinates that have no place there"), f"{own}")
        return None
    headings = {"x": table.called(first), "y": table.called(second)}
    return replace(table, columns={"x": moved[0], "y": moved[1], **columns}, headings={**table.headings, **headings})


def _moved(
    x: np.ndarray,
    y: np.ndarray,
    own: str | None,
    context: Context,
    grid: Grid,
    crs: str | None,
    check: Check,
    path: str,
) -> tuple[np.ndarray, np.ndarray] | None:
    """Bring coordinates in the system `own` (None: that of the site) onto the site."""
    corner = context.values.corner
    if corner is not None and own == DEGREES:
        return local_metres(x, y, (corner[0], corner[1]))
    known = context.values.origin is not None or bool(context.layers and context.layers.origin) or grid.crs is not None
    if not known or (crs in (None, _AUTO) and own is not None):
        words = "longitude and latitude" if own == DEGREES else "coordinates of the map"
        remedy = "x and y in metres from the south-west corner of the site; or say where that lies: "
        remedy += "corner = [longitude, latitude] of it" if own == DEGREES else "origin = [easting, northing] of it"
        check.add("", Said(words), f"{remedy}, or crs and origin, in the site table")
        return None
    if own is not None:
        source, target = crs_of(own, check, "crs"), crs_of(crs, context.check, context.at("crs"))
        if source is None or target is None:
            return None
        x, y = mover(source, target)(x, y)
    return x - grid.west, y - grid.south


def check_corner(context: Context) -> None:
    """Note a corner that is none, or that says the same as others."""
    corner = context.values.corner
    if corner is None:
        return
    if len(corner) != 2 or not (-180 <= corner[0] <= 180 and -85 <= corner[1] <= 85):
        context.add(
            "corner", corner, "[longitude, latitude] of the south-west corner in decimal degrees, west negative"
        )
        context.values.corner = None
    elif context.values.crs is not None:
        context.add("corner", corner, "either corner, or crs and origin")


def _on_site(placed: Table, table: Table, said: Mapping[str, Any], grid: Grid, check: Check) -> Table | None:
    """Give the rows on the site; those off it are a problem, unless they are to be left out."""
    x, y = placed.columns["x"], placed.columns["y"]
    width, height = grid.nx * grid.size, grid.ny * grid.size
    off = (x < 0) | (x > width) | (y < 0) | (y > height)
    if not off.any():
        return placed
    if said["clip"] and not off.all():
        check.remark("", f"{off.sum():,} of {len(off):,} rows lie off the site, left out as told")
        return placed.pick(~off)
    hint = ""
    if off.mean() >= _MANY and "longitude" in table.columns:
        hint = ": are corner or origin right, and longitudes negative in the west?"
    allowed = f"{grid.said}; or clip = true in the table of the file leaves out what is off the site{hint}"
    for k in np.flatnonzero(off)[:_MOST_NAMED]:
        at = (x[k] + grid.west, y[k] + grid.south)
        check.add(placed.rows[k], Said(f"({at[0]:.1f}, {at[1]:.1f}) m, {grid.far(*at)}"), allowed)
    if off.sum() > _MOST_NAMED:
        check.problems.say(table.path, "", f"and {off.sum() - _MOST_NAMED:,} more rows off the site")
    return None
