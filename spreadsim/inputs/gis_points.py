"""Hosts, sources and mats that are points of GIS files, as the tables that CSV files give."""

from __future__ import annotations

from difflib import get_close_matches

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs import csv_files
from spreadsim.inputs.cells import COVER, NUMBER, Style, column_of
from spreadsim.inputs.cover_classes import scale_of
from spreadsim.inputs.crs import DEGREES, mover
from spreadsim.inputs.csv_files import Columns, Table, middles
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.gis_source import Source
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.raw_tables import field_text
from spreadsim.inputs.vector_file import Features

_AREA = "area"  # of a mat, in the unit of length squared, for those who paced out no radius
_COLUMNS: dict[str, Columns] = {
    "hosts": csv_files.HOSTS,
    "sources": csv_files.SOURCES,
    "mats": {**csv_files.MATS, _AREA: (NUMBER, np.nan)},
}
_MANY = 0.5  # share of points off the site from which on all of them are thought to be misplaced


def table_of(gis: Gis, key: str, grid: Grid, unit: float) -> Table | None:
    """Give points with their fields as a table, coordinates in metres from the south-west corner of the site.

    Parameters
    ----------
    gis : Gis
        With the points.
    key : str
        ``hosts``, ``sources`` or ``mats``. Fields are those of the CSV files of that name, found by their names,
        capitals or not, or by what `FileTable.fields` says; others are left alone. Mats without the field ``radius``
        may have ``area`` (m2, or square feet): that of a disc.
    grid : Grid
        That of the site.
    unit : float
        Metres in a unit of length of the fields.

    Returns
    -------
    Table or None
        None if something is wrong.
    """
    source = gis.sources[key]
    features = gis.features[key] if key == "sources" else _on_site(gis, key, grid)
    if features is None:
        return None
    before = len(source.check.problems)
    fields = _fields(features, source)
    style = Style(metres=unit, scale=scale_of(source.said["scale"]))
    columns: dict[str, np.ndarray] = {}
    for name, (kind, empty) in _COLUMNS[key].items():
        column = fields.get(name)
        if column is not None:
            texts = [field_text(value) for value in column]
            columns[name] = column_of(source.check, name, kind, empty, features.places, texts, style)
            if kind == COVER:
                columns[f"{name}_noted"], columns[name] = columns[name], middles(columns[name], source.check)
        elif empty is None and name not in ("x", "y") and not (name == "radius" and _AREA in fields):
            allowed = f"a field of that name (it has {', '.join(features.fields) or 'none'})"
            source.check.add("", Said(f'no field "{name}"'), allowed)
    area = columns.pop(_AREA, None)
    if area is not None and "radius" not in columns:
        features.note(source.check, ~(area > 0), lambda k: Said(f"area {area[k]:g}"), "an area of more than 0")
        columns["radius"] = np.sqrt(np.maximum(area, 0) / np.pi) * unit
    if len(source.check.problems) > before:
        return None
    xy = _xy(features)
    columns["x"], columns["y"] = xy[:, 0] - grid.west, xy[:, 1] - grid.south
    return Table(str(source.path), columns, features.places)


def _xy(features: Features) -> np.ndarray:
    """Give the coordinates of points (n, 2); a multipoint of one is one."""
    import shapely

    xy: np.ndarray = shapely.get_coordinates(features.geometries)
    return xy.reshape(len(features), 2)


def _fields(features: Features, source: Source) -> dict[str, np.ndarray]:
    """Give the fields by our names."""
    names = [name for name in _COLUMNS[source.key] if name not in ("x", "y")]
    found = {}
    said = source.said["fields"]
    for name, theirs in said.items():
        if name not in names:
            source.check.add(f"fields.{name}", name, f"names of ours: {', '.join(names)}")
        elif features.field(theirs) is None:
            allowed = f"a field of the file: {', '.join(features.fields) or 'it has none'}"
            source.check.add(f"fields.{name}", theirs, allowed)
        else:
            found[name] = features.field(theirs)
    for name in names:
        if name not in said:
            found[name] = features.field(name)
    used = {theirs.lower() for theirs in said.values()} | set(names)
    for other in features.fields:
        close = get_close_matches(other.strip().lower(), names, 1, 0.75)
        if other.strip().lower() not in used and close and found.get(close[0]) is None:
            words = (
                f'the field "{other}" is not used: if it is the {close[0]}, write fields = {{ {close[0]} = "{other}" }}'
            )
            source.check.remark("", words)
    return {name: column for name, column in found.items() if column is not None}


def _on_site(gis: Gis, key: str, grid: Grid) -> Features | None:
    """Give the points on the site; those off it are a problem, unless the site table says to leave them out."""
    features, source = gis.features[key], gis.sources[key]
    xy = _xy(features)
    off = ~grid.contains(xy[:, 0], xy[:, 1])
    if not off.any():
        return features
    if off.mean() >= _MANY:
        hint = _looks_like(gis, key, grid)
        if hint:
            west, south, east, north = _ends(_xy(gis.original[key]))
            found = Said(f"points from ({west:.7g}, {south:.7g}) to ({east:.7g}, {north:.7g}), off the site")
            source.check.add("", found, hint)
            return None
    if source.said["clip"] and not off.all():
        source.check.remark("", f"{off.sum():,} of {len(off):,} points lie off the site, left out as told")
        return features.pick(~off)
    allowed = f"{grid.said}; or clip = true in the table of the file leaves out what is off the site"
    features.note(source.check, off, lambda k: Said(f"({xy[k, 0]:.1f}, {xy[k, 1]:.1f}), {grid.far(*xy[k])}"), allowed)
    return None


def _looks_like(gis: Gis, key: str, grid: Grid) -> str:
    """Say what misplaced coordinates look like; empty if like nothing known."""
    original = gis.original[key]
    xy = _xy(original)
    if original.crs is not None and gis.crs is not None:
        x, y = mover(original.crs, gis.crs)(xy[:, 1], xy[:, 0])
        if np.mean(grid.contains(x, y)) >= _MANY:
            return "coordinates on the site: they look swapped, y where x should be (longitude comes first)"
    if gis.crs is not None and np.abs(xy).max() <= 180:
        for x, y, order in ((xy[:, 0], xy[:, 1], "longitude, latitude"), (xy[:, 1], xy[:, 0], "latitude, longitude")):
            moved = mover(DEGREES, gis.crs)(x, y)
            if np.mean(grid.contains(*moved)) >= _MANY:
                said = f'write crs = "{DEGREES}" in the table of the file' if order.startswith("lon") else "swap them"
                return f"metres: they look like degrees ({order}): {said}"
    x, y = xy[:, 0] + grid.west, xy[:, 1] + grid.south
    if gis.crs is None or (np.mean(grid.contains(x, y)) >= _MANY and np.abs(xy).max() < 100_000):
        return "coordinates on the map: they look like metres from the corner of the site" if gis.crs else ""
    return ""


def _ends(xy: np.ndarray) -> list[float]:
    return [*xy.min(axis=0).tolist(), *xy.max(axis=0).tolist()]
