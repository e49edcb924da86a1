"""GIS files made for tests, all of invented places."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio.raw
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin

from spreadsim.inputs import InputError, Site, read_site

WEST, SOUTH = 500_000.0, 5_400_000.0  # of the invented site, in UTM zone 10 north
UTM = "EPSG:32610"


def gpkg(
    path: Path,
    shapes: Sequence[Any],
    fields: Mapping[str, Sequence[Any]] | None = None,
    *,
    layer: str = "data",
    crs: str | None = UTM,
    kind: str = "Unknown",
) -> Path:
    """Write a layer of a GeoPackage, added to the file if it is there."""
    columns = [_column(values) for values in (fields or {}).values()]
    wkb = shapely.to_wkb(np.array(shapes, dtype=object))
    options = {"append": True} if path.exists() else {}
    pyogrio.raw.write(
        path, wkb, columns, list(fields or {}), layer=layer, geometry_type=kind, crs=crs, driver="GPKG", **options
    )
    return path


def geojson(path: Path, shapes: Sequence[Any], fields: Sequence[Mapping[str, Any]] = (), **members: Any) -> Path:
    """Write GeoJSON."""
    features = [
        {
            "type": "Feature",
            "properties": dict(fields[k]) if fields else {},
            "geometry": None if shape is None else json.loads(shapely.to_geojson(shape)),
        }
        for k, shape in enumerate(shapes)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", **members, "features": features}))
    return path


def tif(
    path: Path,
    values: np.ndarray,
    size: float = 10.0,
    *,
    west: float = WEST,
    north: float = SOUTH + 100,
    crs: str | None = UTM,
    **options: Any,
) -> Path:
    """Write a GeoTIFF of one band, or of several (band, y, x)."""
    bands = values if values.ndim == 3 else values[None]
    profile = {
        "driver": "GTiff",
        "count": bands.shape[0],
        "height": bands.shape[1],
        "width": bands.shape[2],
        "dtype": bands.dtype,
        "crs": crs,
        "transform": from_origin(west, north, size, size),
        **options,
    }
    with rasterio.open(path, "w", **profile) as dataset:
        dataset.write(bands)
    return path


def read(folder: Path, toml: str) -> Site:
    """Read a site of the text of its file."""
    (folder / "site.toml").write_text(toml, encoding="utf-8")
    return read_site(folder / "site.toml")


def problems(folder: Path, toml: str) -> str:
    """Give what is wrong with a site, without the folder's name."""
    with pytest.raises(InputError) as caught:
        read(folder, toml)
    return str(caught.value).replace(f"{folder}/", "")


def box(west: float, south: float, east: float, north: float) -> Any:
    """Give a rectangle, in metres from the corner of the invented site."""
    return shapely.box(WEST + west, SOUTH + south, WEST + east, SOUTH + north)


def disc(x: float, y: float, radius: float) -> Any:
    """Give a polygon like a disc, in metres from the corner of the invented site."""
    return shapely.Point(WEST + x, SOUTH + y).buffer(radius)


def points(*places: tuple[float, float]) -> list[Any]:
    """Give points, in metres from the corner of the invented site."""
    return [shapely.Point(WEST + x, SOUTH + y) for x, y in places]


def _column(values: Sequence[Any]) -> np.ndarray:
    if any(isinstance(value, str) or value is None for value in values):
        return np.array(values, dtype=object)
    return np.array(values)
