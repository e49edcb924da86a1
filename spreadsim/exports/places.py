"""Places for a GIS and for a phone: layers of a GeoPackage, and points as GPX."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from spreadsim.errors import InputError
from spreadsim.exports.ground import write_layer
from spreadsim.exports.needs import gis
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs import Site

_GPX = "http://www.topografix.com/GPX/1/1"


def export_places(
    site: Site,
    layers: Mapping[str, tuple[str, Sequence[Any], Sequence[Mapping[str, Any]]]],
    path: str | os.PathLike[str],
) -> Path:
    """Write layers of points and of cells as a GeoPackage.

    Parameters
    ----------
    site
        Where they lie.
    layers
        By name: "Point" with (x, y) in the site's reference system or "Polygon" with numbers of cells, and a row of
        fields for each. Layers without rows are left out.
    path
        The file; an older one is replaced once the new one is whole.

    Raises
    ------
    InputError
        The extra `gis` is missing.
    """
    for library in ("rasterio.features", "pyogrio.raw", "shapely"):
        gis(library, "GeoPackage")
    shapely = gis("shapely", "GeoPackage")
    path = Path(path)
    part = path.with_name(f".{path.stem}.part.gpkg")
    part.unlink(missing_ok=True)
    try:
        for name, (geometry, places, rows) in layers.items():
            if not rows:
                continue
            if geometry == "Point":
                shapes = shapely.points(np.array(places, dtype=float))
            else:
                shapes = np.array([_outline(site, cells) for cells in places], dtype=object)
                geometry = "MultiPolygon"
            write_layer(part, name, shapes, _columns(rows), crs=site.crs, geometry=geometry)
        if part.exists():
            os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    return path


def _columns(rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    columns = {}
    for name in rows[0]:
        values = [row[name] for row in rows]
        columns[name] = np.array(values, dtype=object if isinstance(values[0], str) else None)
    return columns


def _outline(site: Site, cells: Any) -> Any:
    """Area of some cells in the site's reference system."""
    features, shapely = gis("rasterio.features", "GeoPackage"), gis("shapely", "GeoPackage")
    transform = gis("rasterio.transform", "GeoPackage")
    row, column = np.divmod(cells, site.nx)
    top, left = int(row.min()), int(column.min())
    mask = np.zeros((int(row.max()) - top + 1, int(column.max()) - left + 1), "u1")
    mask[row - top, column - left] = 1
    x0, y0 = site.origin
    size = site.cell_size
    placed = transform.from_origin(x0 + left * size, y0 + (site.ny - top) * size, size, size)
    shapes = [shapely.geometry.shape(shape) for shape, _ in features.shapes(mask, mask=mask == 1, transform=placed)]
    return shapely.geometry.MultiPolygon(shapes)


def in_degrees(site: Site, x: float, y: float) -> tuple[float, float]:
    """Give longitude and latitude (WGS 84) of a point in the site's reference system.

    Raises
    ------
    InputError
        The site has no reference system, or the extra `gis` is missing.
    """
    if site.crs is None:
        raise InputError("GPX: found a site without crs, allowed one that says where on earth it lies")
    turn = gis("pyproj", "GPX").Transformer.from_crs(site.crs, "EPSG:4326", always_xy=True)
    longitude, latitude = turn.transform(x, y)
    return float(longitude), float(latitude)


def export_points(site: Site, points: Sequence[tuple[float, float, str, str]], path: str | os.PathLike[str]) -> Path:
    """Write points as GPX 1.1, in degrees, for a phone or a receiver.

    Parameters
    ----------
    site
        Its reference system says where the points are.
    points
        x and y in the site's reference system, a name, and what to do there.
    path
        The file; an older one is replaced once the new one is whole.

    Raises
    ------
    InputError
        The site has no reference system, or the extra `gis` is missing.
    """
    in_degrees(site, *site.origin)
    ElementTree.register_namespace("", _GPX)
    root = ElementTree.Element(f"{{{_GPX}}}gpx", {"version": "1.1", "creator": "spreadsim"})
    for x, y, name, told in points:
        longitude, latitude = in_degrees(site, x, y)
        point = ElementTree.SubElement(root, f"{{{_GPX}}}wpt", {"lat": f"{latitude:.7f}", "lon": f"{longitude:.7f}"})
        for tag, text in (("name", name), ("desc", told)):
            ElementTree.SubElement(point, f"{{{_GPX}}}{tag}").text = "".join(c for c in text if c.isprintable())
    ElementTree.indent(root)
    path = Path(path)
    with renamed_when_whole(path) as file:
        file.write(ElementTree.tostring(root, encoding="utf-8", xml_declaration=True))
    return path
