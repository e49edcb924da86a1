"""Reading one layer of a GeoPackage."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spreadsim.errors import Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import crs_of
from spreadsim.inputs.gis import installed
from spreadsim.inputs.vector_file import MOST_FEATURES, Features, built, plain_column

if TYPE_CHECKING:
    from pyproj import CRS


def read_geopackage(path: Path, check: Check, layer: str | None) -> Features | None:
    """Read a layer; see `read_features`."""
    if not installed(check, "", "pyogrio"):
        return None
    import pyogrio

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what matters is said in our words
            layers = [(str(name), kind) for name, kind in pyogrio.list_layers(path)]
            name = _chosen(layers, check, layer)
            return None if name is None else _read(path, check, name)
    except Exception as error:  # damaged files make GDAL and SQLite raise nearly anything
        reason = " ".join(str(error).split()) or type(error).__name__
        check.problems.say(check.thing, "", f"cannot be read as a GeoPackage: {reason}")
        return None


def _chosen(layers: list[tuple[str, Any]], check: Check, wanted: str | None) -> str | None:
    """Choose the layer; note it if none is wanted and there are several, or the one wanted is not there."""
    names = [name for name, _ in layers]
    placed = [name for name, kind in layers if kind is not None]
    if wanted is not None:
        if wanted not in names:
            check.add("layer", wanted, one_of(names) if names else "none: it has no layers")
            return None
        return wanted
    if len(placed) == 1:
        return placed[0]
    found = Said(f"{len(placed)} layers" if placed else "no layer with geometries")
    check.add("", found, f"the name of {one_of(placed)} beside that of the file" if placed else "points or polygons")
    return None


def _read(path: Path, check: Check, layer: str) -> Features | None:
    import pyogrio.raw
    import shapely

    meta, ids, shapes, columns = pyogrio.raw.read(
        path, layer=layer, force_2d=True, max_features=MOST_FEATURES + 1, return_fids=True, datetime_as_string=True
    )
    if shapes is None:
        check.add("", Said(f'no geometries in layer "{layer}"'), "points or polygons")
        return None
    if len(shapes) > MOST_FEATURES:
        check.add("", Said(f"more than {MOST_FEATURES:,} features"), "fewer")
        return None
    places = tuple(f'layer "{layer}", feature {int(k)}' for k in ids)
    geometries = built(shapely.from_wkb, shapes.tolist(), places, check)
    crs = _system(meta["crs"], check, f'crs of layer "{layer}"')
    if geometries is None:
        return None
    fields = {str(name): plain_column(column.tolist()) for name, column in zip(meta["fields"], columns, strict=True)}
    return Features(str(path), geometries, fields, crs, places)


def _system(text: str | None, check: Check, place: str) -> CRS | None:
    """Give the reference system; None where the file says none, or that it is undefined."""
    return None if not text or "Undefined" in text else crs_of(text, check, place)
