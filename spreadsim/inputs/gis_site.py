"""The GIS files of a site: read, brought into one reference system, and where they lie."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, checked_metres, crs_of, in_metres, mover, name_of, utm_zone
from spreadsim.inputs.gis import installed
from spreadsim.inputs.gis_source import RASTER, VECTOR, Source, find_sources
from spreadsim.inputs.ground_grid import Box
from spreadsim.inputs.phone import is_phone_file, phone_features
from spreadsim.inputs.raster_file import Raster, open_raster
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.vector_checks import placed_rightly, points_of, polygons_of
from spreadsim.inputs.vector_file import Features, read_features

if TYPE_CHECKING:
    from pyproj import CRS

AUTO = "auto"
MARGIN = 20.0  # m around points, where nothing but points says how large a site is; assumed
_POINTS = ("hosts", "sources")


@dataclass(frozen=True)
class Gis:
    """What the GIS files of a site hold.

    Attributes
    ----------
    sources : dict of str to Source
        By key of the site table.
    rasters : dict of str to Raster
        Not read yet, in their own reference systems.
    features : dict of str to Features
        In that of the site.
    original : dict of str to Features
        As they were read.
    crs : pyproj.CRS or None
        That of the site; None if neither the site nor any file says one.
    """

    sources: dict[str, Source] = field(default_factory=dict)
    rasters: dict[str, Raster] = field(default_factory=dict)
    features: dict[str, Features] = field(default_factory=dict)
    original: dict[str, Features] = field(default_factory=dict)
    crs: CRS | None = None

    def __bool__(self) -> bool:
        """Tell whether there are any."""
        return bool(self.sources)


def read_gis(context: Context) -> Gis | None:
    """Read the GIS files that a site table names.

    Parameters
    ----------
    context : Context
        With the layers file read.

    Returns
    -------
    Gis or None
        None if something is wrong with them.
    """
    before = len(context.check.problems)
    sources = find_sources(context)
    if not sources:
        return Gis() if len(context.check.problems) == before else None
    needed = ("shapely", "pyproj", *(("rasterio",) if any(one.kind == RASTER for one in sources.values()) else ()))
    if not installed(context.check, context.at(next(iter(sources))), *needed):
        return None
    rasters = {key: _raster(one) for key, one in sources.items() if one.kind == RASTER}
    features = {key: _features(one, context.length) for key, one in sources.items() if one.kind == VECTOR}
    if len(context.check.problems) > before:
        return None
    gis = Gis(
        sources,
        {key: one for key, one in rasters.items() if one is not None},
        {key: one for key, one in features.items() if one is not None},
    )
    return _in_one_system(gis, context)


def extent_of(gis: Gis) -> tuple[Box, str] | None:
    """Give the box that a site takes where nothing says its size, and the key that it is taken from.

    That of the boundary; else of all polygons and rasters; else of the points, with a margin. None if there are none.
    """
    if "boundary" in gis.features:
        return _around([_box_of(gis, "boundary")]), "boundary"
    keys = [key for key in (*gis.features, *gis.rasters) if key not in _POINTS and key != "mats"]
    boxes = [_box_of(gis, key) for key in keys]
    margin = 0.0
    if not boxes:
        keys = [key for key in ("mats", "hosts") if key in gis.features and len(gis.features[key])]
        boxes, margin = [_box_of(gis, key) for key in keys], MARGIN
    if not boxes:
        return None
    west, south, east, north = _around(boxes)
    return (west - margin, south - margin, east + margin, north + margin), " and ".join(keys)


def _raster(source: Source) -> Raster | None:
    said = source.said
    raster = open_raster(source.path, source.check, band=said["band"], nodata=said["nodata"])
    declared = None if said["crs"] is None else crs_of(said["crs"], source.check, "crs")
    return raster if raster is None or declared is None else replace(raster, crs=declared)


def _features(source: Source, metres: float) -> Features | None:
    said, check = source.said, source.check
    if is_phone_file(source.path):
        features = phone_features(source, metres)
    else:
        features = read_features(source.path, check, layer=said["layer"])
    if features is None:
        return None
    if said["crs"] is not None:
        declared = crs_of(said["crs"], check, "crs")
        features = None if declared is None else replace(features, crs=declared)
    if features is None or not placed_rightly(features, check):
        return None
    if source.key in _POINTS:
        return points_of(features, check)
    return _mats(features, check) if source.key == "mats" else polygons_of(features, check)


def _mats(features: Features, check: Check) -> Features | None:
    """Give mats: all points with a radius, or all polygons."""
    import shapely

    kinds = shapely.get_type_id(features.geometries)
    points = np.isin(kinds, (shapely.GeometryType.POINT, shapely.GeometryType.MULTIPOINT))
    if points.any() and not points[kinds >= 0].all():
        check.add("", Said("points and other shapes"), "polygons, or points with a radius: not both in one layer")
        return None
    return points_of(features, check) if points.any() else polygons_of(features, check)


def _in_one_system(gis: Gis, context: Context) -> Gis | None:
    """Bring all features into the reference system of the site."""
    before = len(context.check.problems)
    crs = _system(gis, context)
    if len(context.check.problems) > before:
        return None
    for key, found in _systems(gis):
        if crs is not None and found is None:
            allowed = f'one: write {key} = {{ file = "...", crs = "{name_of(crs)}" }} if it is that of the site'
            gis.sources[key].check.add("crs", MISSING, allowed if len(name_of(crs)) < 30 else "one")
    if len(context.check.problems) > before:
        return None
    features = gis.features
    if crs is not None:
        moved = {key: one.moved_to(crs, gis.sources[key].check) for key, one in gis.features.items()}
        features = {key: one for key, one in moved.items() if one is not None}
    if len(context.check.problems) > before:
        return None
    return Gis(gis.sources, gis.rasters, features, gis.features, crs)


def _system(gis: Gis, context: Context) -> CRS | None:
    """Choose the reference system of the site; note it if it cannot be told or is not in metres."""
    said = context.values.crs
    if said not in (None, AUTO):
        crs = crs_of(said, context.check, context.at("crs"))
        if crs is not None:
            checked_metres(crs, context.check, context.at("crs"), _middle(gis))
        return crs
    if context.layers is not None and context.layers.crs is not None and said is None:
        return crs_of(context.layers.crs, Check(str(context.path("layers")), context.check.problems), "crs")
    candidates = [(key, crs) for key, crs in _systems(gis) if crs is not None]
    for key, crs in candidates:
        if in_metres(crs):
            context.check.remark(context.at("crs"), f"{crs.name} is taken, as {gis.sources[key].path.name} has it")
            return crs
    if not candidates:
        return None
    near = _middle(gis)
    zone = utm_zone(*near) if near else "EPSG:32610"
    if said == AUTO:
        crs = crs_of(zone, context.check, context.at("crs"))
        if crs is not None:
            context.check.remark(context.at("crs"), f"{zone} ({crs.name}) is taken, as the files lie there")
        return crs
    key, crs = candidates[0]
    found = Said(f"nothing, and {gis.sources[key].path.name} is in {crs.axis_info[0].unit_name} ({crs.name})")
    context.add("crs", found, f'a projected system in metres: "{zone}" would do, or "{AUTO}" chooses')
    return None


def _systems(gis: Gis) -> Iterator[tuple[str, CRS | None]]:
    """Go through the reference systems of the files, that of the boundary first."""
    both: dict[str, Features | Raster] = {**gis.features, **gis.rasters}
    for key in sorted(both, key=lambda key: key != "boundary"):
        yield key, both[key].crs


def _middle(gis: Gis) -> tuple[float, float] | None:
    """Give longitude and latitude of the middle of the first file that says where it is."""
    for key, crs in _systems(gis):
        if crs is None or (key in gis.features and not len(gis.features[key])):
            continue
        west, south, east, north = _box_of(gis, key, own=True)
        x, y = mover(crs, DEGREES)([(west + east) / 2], [(south + north) / 2])
        if np.isfinite(x[0]) and np.isfinite(y[0]):
            return float(x[0]), float(y[0])
    return None


def _box_of(gis: Gis, key: str, *, own: bool = False) -> Box:
    """Give the bounds of a file's content in the reference system of the site, or in its own."""
    import shapely

    if key in gis.features:
        west, south, east, north = shapely.total_bounds(gis.features[key].geometries).tolist()
        return west, south, east, north
    raster = gis.rasters[key]
    west, south, east, north = raster.bounds
    if own or gis.crs is None or raster.crs is None or raster.crs == gis.crs:
        return west, south, east, north
    steps = np.linspace(0, 1, 21)
    x = np.concatenate([west + (east - west) * steps] * 2 + [np.full(21, west), np.full(21, east)])
    y = np.concatenate([np.full(21, south), np.full(21, north)] + [south + (north - south) * steps] * 2)
    x, y = mover(raster.crs, gis.crs)(x, y)
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _around(boxes: list[Box]) -> Box:
    ends = np.array(boxes)
    west, south = ends[:, :2].min(axis=0).tolist()
    east, north = ends[:, 2:].max(axis=0).tolist()
    return west, south, east, north
