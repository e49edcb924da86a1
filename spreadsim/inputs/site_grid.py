"""The grid of a site: the size of its cells, and how many."""

from __future__ import annotations

import math

from spreadsim.errors import MISSING, Problems, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES
from spreadsim.inputs.gis_site import Gis, extent_of
from spreadsim.inputs.ground_grid import Grid, enough_room, grid_around
from spreadsim.inputs.site_checks import MOST_CELLS, as_origin
from spreadsim.inputs.site_context import Context

CELL_SIZE = 2.0  # m, where nothing is said


def grid_of(context: Context, gis: Gis) -> Grid | None:
    """Give the grid of the layers, of width and height, or around what the GIS files hold.

    Parameters
    ----------
    context : Context
        With the layers file read.
    gis : Gis
        The GIS files, read.

    Returns
    -------
    Grid or None
        None if it cannot be told; why is noted.
    """
    values = context.values
    size = None if values.cell_size is None else values.cell_size * context.length
    if size is not None and not 0.1 <= size <= 100:
        context.add("cell_size", values.cell_size, "0.1 to 100 m")
        return None
    if values.layers is not None:
        size, shape = _of_layers(context, size)
    elif gis and values.width is None and values.height is None:
        return _around(context, gis, CELL_SIZE if size is None else size)
    else:
        size, shape = _of_sides(context, CELL_SIZE if size is None else size)
    corner = _corner(context, gis)
    return None if shape is None or corner is None else Grid(*corner, size, *shape, gis.crs)


def _around(context: Context, gis: Gis, size: float) -> Grid | None:
    """Lay a grid around what the GIS files hold, beginning at the origin if that is said."""
    found = extent_of(gis)
    if found is None:
        context.add("width", MISSING, "a length, or a file with the boundary of the site or a layer of it")
        return None
    (west, south, east, north), keys = found
    if context.values.origin is not None:
        corner = _corner(context, gis)
        if corner is None or corner[0] >= east or corner[1] >= north:
            context.add(
                "origin", context.values.origin, f"a corner south-west of {keys}, or none: it is taken from them"
            )
            return None
        nx, ny = (max(1, math.ceil(far / size - 1e-6)) for far in (east - corner[0], north - corner[1]))
        room = enough_room(ny, nx, size, context.check, keys)
        return Grid(*corner, size, ny, nx, gis.crs) if room else None
    if max(east - west, north - south) < 1 and max(map(abs, (west, south, east, north))) <= 360:
        found_ = f"{keys} of {east - west:.2g} x {north - south:.2g} m near ({west:.6g}, {south:.6g})"
        context.add(
            "crs", Said(found_), f'metres: they look like degrees; write crs = "{DEGREES}" in the table of the file'
        )
        return None
    grid = grid_around((west, south, east, north), size, gis.crs, context.check, keys)
    if grid is not None and keys != "boundary":
        words = f"no boundary and no width: the site is taken to be what {keys} cover"
        context.check.remark(context.at("width"), words + (", and 20 m around" if keys in ("hosts", "mats") else ""))
    return grid


def _corner(context: Context, gis: Gis) -> tuple[float, float] | None:
    """Give the south-west corner in metres; where the map matters and nothing says it, that is a problem."""
    said = context.values.origin
    if said is not None:
        return as_origin(Check("", Problems()), [part * context.length for part in said])
    if context.layers is not None and context.layers.origin is not None:
        return context.layers.origin
    if gis.crs is not None:
        allowed = "the south-west corner in metres; or leave width and height out: the GIS files then give the grid"
        context.add("origin", MISSING, allowed)
        return None
    return 0.0, 0.0


def _of_sides(context: Context, size: float) -> tuple[float, tuple[int, int] | None]:
    counts = {"width": 0, "height": 0}
    for key in counts:
        side = getattr(context.values, key)
        if side is None:
            context.add(key, MISSING, "a length, since there is no layers file and no GIS file")
        elif not 0 < side * context.length <= MOST_CELLS * size:
            context.add(key, side, f"more than 0, and at most {MOST_CELLS} cells")
        else:
            counts[key] = max(1, round(side * context.length / size))
            whole = abs(side * context.length - counts[key] * size) <= 1e-6 * size
            if not whole and context.values.units == "metric":  # feet are rounded: they seldom fit
                context.add(key, side, f"a whole number of cells of {size:g} m")
    if 0 in counts.values():
        return size, None
    if not enough_room(counts["height"], counts["width"], size, context.check, context.at("width")):
        return size, None
    return size, (counts["height"], counts["width"])


def _of_layers(context: Context, size: float | None) -> tuple[float, tuple[int, int] | None]:
    layers = context.layers
    for key in ("width", "height"):
        if getattr(context.values, key) is not None:
            context.add(key, getattr(context.values, key), "none, since the layers give it")
    if layers is None:
        return CELL_SIZE, None
    if layers.cell_size is None and size is None:
        context.add("cell_size", MISSING, "a length, since the layers have no coordinates")
        return CELL_SIZE, None
    if layers.cell_size is not None and size is not None and abs(size - layers.cell_size) > 1e-6 * size:
        context.add("cell_size", context.values.cell_size, f"{layers.cell_size:g} m, as the layers have")
    rows, columns = next(iter(layers.arrays.values())).shape
    return size or layers.cell_size or CELL_SIZE, (rows, columns)
