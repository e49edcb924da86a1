"""Ground that was looked at as a file of outlines."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs import Site
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, crs_of, mover
from spreadsim.inputs.gis import installed
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.shares import shares_of

SUFFIXES = (".gpkg", ".geojson")


class Outline(NamedTuple):
    """Some ground of a site."""

    text: str  # in well-known text, longitude first
    cells: Any  # that have at least half of their ground in it
    area: float  # m2


def is_outline(name: str) -> bool:
    """Tell whether a name is that of a file of outlines."""
    return Path(name).suffix.lower() in SUFFIXES


def outline_of(name: str, site: Site, check: Check) -> Outline | None:
    """Read the ground in a file of outlines (GeoPackage or GeoJSON), noting what is wrong.

    Parameters
    ----------
    name
        The file.
    site
        With a reference system.
    check
        Where to note.

    Returns
    -------
    Outline or None
        None if something is wrong.
    """
    place = f"looked, {name}"
    if site.crs is None:
        check.add(place, Said("a file of outlines"), "units of the site: it has no crs, so that no outline has a place")
        return None
    if not installed(check, place, "shapely", "pyproj", "pyogrio"):
        return None
    import shapely

    from spreadsim.inputs.vector_file import read_features

    crs = crs_of(site.crs, check, "site.crs")
    features = read_features(Path(name), Check(name, check.problems))
    moved = None if features is None or crs is None else features.moved_to(crs, check)
    if moved is None or crs is None:
        return None
    shape = shapely.union_all([one for one in moved.geometries if one is not None])
    if shape.geom_type not in ("Polygon", "MultiPolygon") or shape.is_empty:
        check.add(place, Said("no outline"), "polygons of the ground that was looked at")
        return None
    here = shapely.transform(shape, lambda xy: xy - np.array(site.origin))
    share = shares_of([here], Grid(0.0, 0.0, site.cell_size, site.ny, site.nx))
    cells = np.flatnonzero(share.ravel() >= 0.5)
    if not len(cells):
        check.add(place, Said("an outline off the site"), "one on it")
        return None
    back = mover(crs, DEGREES)
    degrees = shapely.transform(shape, lambda xy: np.column_stack(back(xy[:, 0], xy[:, 1])))
    area = float(share.sum()) * site.cell_size**2
    return Outline(shapely.to_wkt(degrees, rounding_precision=8), cells, area)
