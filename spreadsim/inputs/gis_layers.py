"""All that the GIS files of a site give, on its grid."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.crs import DEGREES, mover
from spreadsim.inputs.gis_ground import Ground, ground_of, no_spray_of
from spreadsim.inputs.gis_mats import mat_layer
from spreadsim.inputs.gis_points import table_of
from spreadsim.inputs.gis_rasters import raster_layer
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.gis_units import unit_layer
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.hosts import cells_of
from spreadsim.inputs.site_context import Context

_RASTERS = ("canopy", "access", "wetness", "sensitive", "unit", "mat")
_POINT = 0  # of shapely's numbers of kinds


@dataclass
class OnGrid:
    """What GIS files give on the grid of a site.

    Attributes
    ----------
    arrays : dict of str to float64 (y, x)
        Layers by name, ``mat`` of polygons and rasters together.
    unit_names : tuple of str or None
        Of polygons; None where there are none.
    """

    arrays: dict[str, np.ndarray] = field(default_factory=dict)
    unit_names: tuple[str, ...] | None = None


def on_grid(context: Context, gis: Gis, grid: Grid) -> OnGrid:
    """Bring the GIS files of a site onto its grid, noting what is wrong with them.

    Parameters
    ----------
    context : Context
        Its tables are given the hosts, sources and mats that are points.
    gis : Gis
        What was read.
    grid : Grid
        That of the site.

    Returns
    -------
    OnGrid
        As far as it could be made.
    """
    made = OnGrid()
    if not gis:
        return made
    _check_twice(context, gis)
    _remark_place(context, grid)
    for key in ("hosts", "sources", "mats"):
        if key in gis.features and not (key == "mats" and not _are_points(gis)):
            table = table_of(gis, key, grid, context.length)
            if table is not None:
                context.tables[key] = table
    ground = ground_of(gis, grid)
    if ground.share is not None:
        _check_ground(context, gis, ground.share)
    known = {"plantable": ground.share}
    known |= {key: raster_layer(gis, key, grid, ground.share) for key in _RASTERS if key in gis.rasters}
    made.arrays = {key: layer for key, layer in known.items() if layer is not None}
    sensitive = no_spray_of(gis, grid, made.arrays, context)
    if sensitive is not None:
        made.arrays["sensitive"] = sensitive
    if "unit" in gis.features:
        units = unit_layer(gis, grid)
        if units is not None:
            made.arrays["unit"], made.unit_names = units
    _mats(gis, grid, ground, made)
    return made


def _mats(gis: Gis, grid: Grid, ground: Ground, made: OnGrid) -> None:
    """Take polygons of mat, the higher cover where a raster has some too; remark mat where nothing can grow."""
    if "mats" in gis.features and not _are_points(gis):
        polygons = mat_layer(gis, grid, ground)
        if polygons is not None:
            made.arrays["mat"] = np.maximum(polygons, made.arrays.get("mat", 0.0))
    if "mat" in made.arrays and ground.share is not None:
        lost = made.arrays["mat"] * (ground.share == 0)
        if lost.any() and "mat" in gis.sources:
            area = lost.sum() * grid.size**2
            gis.sources["mat"].check.remark("mat", f"{area:,.0f} m2 of mat where the vine cannot grow, left out")
        made.arrays["mat"] = np.where(ground.share > 0, made.arrays["mat"], 0.0)


def _are_points(gis: Gis) -> bool:
    import shapely

    kinds = shapely.get_type_id(gis.features["mats"].geometries)
    return bool((kinds == _POINT).any() or (kinds == int(shapely.GeometryType.MULTIPOINT)).any())


def _check_twice(context: Context, gis: Gis) -> None:
    """Note layers that both the layers file and a GIS file give."""
    if context.layers is None:
        return
    for key in gis.sources:
        name = {"boundary": "plantable", "barriers": "plantable", "mats": "mat"}.get(key, key)
        if name in context.layers.arrays and key not in ("mats", "no_spray"):
            context.add(key, getattr(context.values, key), f"none, since the layers have {name}")


def _check_ground(context: Context, gis: Gis, share: np.ndarray) -> None:
    keys = [key for key in ("boundary", "plantable", "barriers") if key in gis.sources]
    if not share.any():
        for key in keys:
            gis.sources[key].check.add("", Said("no ground on the site"), "some: is its crs right?")


def remark_hosts_off_ground(context: Context, grid: Grid, plantable: np.ndarray | None) -> None:
    """Remark hosts that stand where the vine cannot grow, such as outside the boundary."""
    table = context.tables.get("hosts")
    if plantable is None or table is None or plantable.shape != grid.shape:
        return
    x, y = table.columns["x"], table.columns["y"]
    on = (x >= 0) & (y >= 0) & (x <= grid.nx * grid.size) & (y <= grid.ny * grid.size)
    off = np.zeros(len(x), dtype=bool)
    off[on] = plantable.ravel()[cells_of(x[on], y[on], grid.ny, grid.nx, grid.size)] == 0
    if off.any():
        named = ", ".join(table.rows[k] for k in np.flatnonzero(off)[:3]) + (" and others" if off.sum() > 3 else "")
        words = (
            f"of {len(x):,} hosts {off.sum():,} stand where the vine cannot grow, outside the boundary or on a barrier"
        )
        context.check.problems.remark(table.path, "", f"{words}: {named}")


def _remark_place(context: Context, grid: Grid) -> None:
    """Say where on earth the site lies, so that a steward sees at once if that is wrong."""
    if grid.crs is None:
        return
    west, south, east, north = grid.bounds
    x, y = mover(grid.crs, DEGREES)([(west + east) / 2], [(south + north) / 2])
    if np.isfinite(x[0]) and np.isfinite(y[0]):
        place = f"{abs(y[0]):.4f} {'N' if y[0] >= 0 else 'S'}, {abs(x[0]):.4f} {'E' if x[0] >= 0 else 'W'}"
        context.check.remark(context.at("crs"), f"the middle of the site lies at {place}")
