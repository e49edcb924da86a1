"""The ground of a site of its GIS files: where the vine can grow, and where nothing is sprayed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.gis_rasters import raster_layer
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.shares import length_in_cells, shares_of
from spreadsim.inputs.site_context import Context

_LONGEST = 200_000_000  # sides of a cell that outlines may be long, all together


class Ground(NamedTuple):
    """Where the vine can grow.

    Attributes
    ----------
    share : float64 (y, x) or None
        Of each cell; None where GIS files say nothing.
    shape : shapely geometry or None
        Polygon of it, where polygons say; rasters take from the share besides.
    outline : float64 (y, x) or None
        Share of each cell in that polygon.
    """

    share: np.ndarray | None
    shape: Any
    outline: np.ndarray | None


def ground_of(gis: Gis, grid: Grid) -> Ground:
    """Give the ground that the vine can grow on: inside the boundary, off barriers, and where `plantable` says.

    Parameters
    ----------
    gis : Gis
        Whose boundary and barriers are polygons, and plantable is either or a raster of shares.
    grid : Grid
        That of the site.
    """
    import shapely

    shape: Any = None
    for key in ("boundary", "plantable"):
        if key in gis.features and affordable(gis, key, grid):
            union = shapely.union_all(gis.features[key].geometries)
            shape = union if shape is None else shapely.intersection(shape, union)
    if "barriers" in gis.features and affordable(gis, "barriers", grid):
        whole = shapely.box(*grid.bounds) if shape is None else shape
        shape = shapely.difference(whole, shapely.union_all(gis.features["barriers"].geometries))
    outline = None if shape is None else shares_of([shape], grid)
    share = outline
    if "plantable" in gis.rasters:
        read = raster_layer(gis, "plantable", grid, None)
        share = read if outline is None or read is None else outline * read
    return Ground(share, shape, outline)


def affordable(gis: Gis, key: str, grid: Grid) -> bool:
    """Note outlines that are so long that working through them would take hours."""
    length = length_in_cells(gis.features[key].geometries, grid)
    if length <= _LONGEST:
        return True
    allowed = f"at most {_LONGEST:,}: is its crs right, and are polygons drawn many times?"
    gis.sources[key].check.add("", Said(f"outlines {length:,.0f} cells long"), allowed)
    return False


def no_spray_of(gis: Gis, grid: Grid, arrays: Mapping[str, np.ndarray], context: Context) -> np.ndarray | None:
    """Give ground where nothing is sprayed: cells that a no-spray or sensitive polygon touches, and sensitive ones."""
    layers = {} if context.layers is None else context.layers.arrays
    found = arrays.get("sensitive", layers.get("sensitive"))
    for key in ("sensitive", "no_spray"):
        if key not in gis.features or not affordable(gis, key, grid):
            continue
        touched = shares_of(gis.features[key].geometries, grid) > 0
        if not touched.any():
            gis.sources[key].check.remark(key, "lies nowhere on the site")
        found = touched if found is None else (found > 0) | touched
    return None if found is None else np.asarray(found, dtype=np.float64)
