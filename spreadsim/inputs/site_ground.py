"""The canopy and the mat of a site, of what its files say."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.canopy import canopy_from_trees
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.discs import cover_of_discs
from spreadsim.inputs.gis_source import is_gis_file
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.site_context import Context

CANOPY_WINDOW = 30.0  # m, where nothing is said; assumed: a few crowns of large trees
Shape = tuple[int, int]


def canopy_of(context: Context, shape: Shape, size: float) -> np.ndarray | None:
    """Give the canopy that the site table asks for; None if it asks for none, or what it asks is wrong.

    Parameters
    ----------
    context : Context
        With hosts read.
    shape : tuple of two ints
        Rows and columns.
    size : float
        Side of a cell, m.

    Returns
    -------
    float64 (y, x) or None
        Cover, 0-1.
    """
    values = context.values
    from_hosts = values.canopy == "from hosts"
    for key in ("crown_radius", "canopy_window"):
        if getattr(values, key) is not None and not from_hosts:
            context.add(key, getattr(values, key), 'none, unless canopy is "from hosts"')
    if values.canopy is None or is_gis_file(values.canopy):
        return None
    if context.layers is not None and "canopy" in context.layers.arrays:
        context.add("canopy", values.canopy, "none, since the layers have a canopy")
        return None
    if from_hosts:
        return _canopy_from_hosts(context, shape, size)
    if isinstance(values.canopy, str):
        context.add("canopy", values.canopy, '0 to 1, "from hosts", or a GeoTIFF (.tif)')
        return None
    return np.full(shape, context.check.number(context.at("canopy"), values.canopy, 0, 1))


def _canopy_from_hosts(context: Context, shape: Shape, size: float) -> np.ndarray | None:
    values = context.values
    for key, what in (("hosts", "a CSV file"), ("crown_radius", "a length")):
        if getattr(values, key) is None:
            context.add(key, MISSING, f'{what}, since canopy is "from hosts"')
    hosts = context.tables.get("hosts")
    if hosts is None or values.crown_radius is None:
        return None
    radius = context.metres("crown_radius", 0, 30)
    window = CANOPY_WINDOW if values.canopy_window is None else context.metres("canopy_window", 0, 1000)
    x, y = hosts.columns["x"], hosts.columns["y"]
    trees = hosts.columns.get("kind", np.full(len(x), "tree", dtype=object)) == "tree"
    trees = trees & (x >= 0) & (x <= shape[1] * size) & (y >= 0) & (y <= shape[0] * size)
    return canopy_from_trees(x[trees], y[trees], *shape, size, radius, window)


def mat_of(context: Context, grid: Grid, arrays: Mapping[str, np.ndarray]) -> np.ndarray:
    """Give the mat of the layers and GIS files and of mapped discs, the higher cover where several have some.

    Mat on a barrier is refused, save that the rim of a disc may reach over one: it is cut off there.

    Parameters
    ----------
    context : Context
        With layers and mats read.
    grid : Grid
        That of the site.
    arrays : mapping of str to array (y, x)
        Layers, of the layers file and of GIS files.

    Returns
    -------
    float64 (y, x)
        Living cover.
    """
    shape, size = grid.shape, grid.size
    ground = arrays.get("plantable", np.ones(shape))
    barrier = ground == 0 if ground.shape == shape else np.zeros(shape, dtype=bool)
    mapped = arrays.get("mat", np.zeros(shape))
    if mapped.shape == shape and (mapped[barrier] > 0).any():
        row, column = (int(k) for k in np.argwhere(barrier & (mapped > 0))[0])
        file = Check(str(context.path("layers")), context.check.problems)
        file.add(f"mat[{row}, {column}]", mapped[row, column], "0, since plantable is 0 there")
    table = context.tables.get("mats")
    if table is None:
        return mapped
    discs = np.column_stack([table.columns[name] for name in ("x", "y", "radius", "cover")])
    if not _discs_are_right(context, table, discs, size, barrier) or mapped.shape != shape:
        return mapped
    cover = np.where(barrier, 0.0, cover_of_discs(discs, *shape, size))
    both: np.ndarray = np.maximum(mapped, cover)
    return both


def _discs_are_right(context: Context, table: Table, discs: np.ndarray, size: float, barrier: np.ndarray) -> bool:
    """Note discs off the site, on a barrier, or with a radius or cover that cannot be."""
    check = Check(table.path, context.check.problems)
    before = len(check.problems)
    unit = context.length  # so that messages show what the file says
    rows, columns = barrier.shape
    for row, (x, y, radius, cover) in zip(table.rows, discs.tolist(), strict=True):
        at = f"{row}, "
        check.number(at + "radius", radius / unit, 0, 10_000 / unit, above=True)
        check.number(at + "cover", cover, 0, 1)
        on_site = 0 <= x <= columns * size and 0 <= y <= rows * size
        if not on_site:
            check.number(at + "x", x / unit, 0, columns * size / unit)
            check.number(at + "y", y / unit, 0, rows * size / unit)
        elif barrier[rows - 1 - min(int(y / size), rows - 1), min(int(x / size), columns - 1)]:
            check.add(row, Said("a mat on a barrier"), "mats on ground where plantable is above 0")
    return len(check.problems) == before
