"""Which GIS files a site names, under which keys, and what is said about each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.file_models import FileTable
from spreadsim.inputs.paths import beside
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.taking import take

RASTER, VECTOR = "raster", "vector"
_KINDS = MappingProxyType(
    {".tif": RASTER, ".tiff": RASTER, **dict.fromkeys((".gpkg", ".geojson", ".json", ".gpx", ".kml"), VECTOR)},
)
# What may stand under each key; hosts, mats and sources may also be CSV files, which are read elsewhere.
KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "boundary": (VECTOR,),
        "barriers": (VECTOR,),
        "plantable": (RASTER, VECTOR),
        "unit": (RASTER, VECTOR),
        "access": (RASTER,),
        "wetness": (RASTER,),
        "sensitive": (RASTER, VECTOR),
        "no_spray": (VECTOR,),
        "mat": (RASTER,),
        "canopy": (RASTER,),
        "mats": (VECTOR,),
        "hosts": (VECTOR,),
        "sources": (VECTOR,),
    }
)
_TABLES = ("mats", "hosts", "sources")
_SAID_OF = MappingProxyType({RASTER: ("band", "nodata", "unknown"), VECTOR: ("layer", "clip", "fields")})
_ALLOWED = MappingProxyType(
    {RASTER: "a GeoTIFF (.tif)", VECTOR: "a GeoPackage (.gpkg), GeoJSON (.geojson), GPX or KML"}
)
PHONE = (".gpx", ".kml")
_SAID_OF_PHONE = ("width", "radius", "cover", "state")


@dataclass(frozen=True)
class Source:
    """A GIS file that a site names.

    Attributes
    ----------
    key : str
        One of `KEYS`.
    kind : str
        `RASTER` or `VECTOR`.
    path : Path
        The file.
    said : dict
        The values of `FileTable`.
    check : Check
        Notes problems under the name of the file.
    """

    key: str
    kind: str
    path: Path
    said: dict[str, Any]
    check: Check


def find_sources(context: Context) -> dict[str, Source]:
    """Find the GIS files that a site table names, by key; note what is wrong with how they are named."""
    found = {}
    for key, kinds in KEYS.items():
        value = getattr(context.values, key)
        if value is None or _is_none_of_ours(key, value):
            continue
        source = _source(context, key, kinds, value)
        if source is not None:
            found[key] = source
    return found


def is_gis_file(value: object) -> bool:
    """Tell whether a value names a GIS file, alone or as the ``file`` of a table."""
    name = value.get("file") if isinstance(value, Mapping) else value
    return isinstance(name, str) and Path(name).suffix.lower() in _KINDS


def _is_none_of_ours(key: str, value: object) -> bool:
    """Tell values that are no GIS file: a share of canopy, or a table of another kind."""
    return key in (*_TABLES, "canopy") and not is_gis_file(value)


def _source(context: Context, key: str, kinds: tuple[str, ...], value: object) -> Source | None:
    place = context.at(key)
    table = value if isinstance(value, Mapping) else {"file": value}
    said, whole = take(FileTable, table, context.check, place)
    at = f"{place}.file" if isinstance(value, Mapping) else place
    path = beside(context.folder, said["file"], context.check, at) if whole else None
    if path is None:
        return None
    kind = _KINDS.get(path.suffix.lower())
    if kind is None or kind not in kinds:
        files = " or ".join(_ALLOWED[one] for one in kinds)
        context.check.add(at, said["file"], files + (", or a CSV file or spreadsheet" if key in _TABLES else ""))
        return None
    for other in _SAID_OF[VECTOR if kind == RASTER else RASTER]:
        if other in table:
            context.check.add(f"{place}.{other}", table[other], f"none: it is said of {_ALLOWED[_other(kind)]} only")
    for other in ("sheet", *(() if path.suffix.lower() in PHONE else _SAID_OF_PHONE)):
        if other in table:
            files = "spreadsheets" if other == "sheet" else "GPX and KML files"
            context.check.add(f"{place}.{other}", table[other], f"none: it is said of {files} only")
    return Source(key, kind, path, said, Check(str(path), context.check.problems))


def _other(kind: str) -> str:
    return VECTOR if kind == RASTER else RASTER
