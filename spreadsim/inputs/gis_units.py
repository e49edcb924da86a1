"""The units of a site of polygons with names."""

from __future__ import annotations

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.gis_ground import affordable
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.gis_source import Source
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.shares import shares_of, window_of
from spreadsim.inputs.site_checks import MOST_UNITS
from spreadsim.inputs.vector_checks import overlapping
from spreadsim.inputs.vector_file import Features

_HALF = 0.5 - 1e-9  # share of a cell that units must have together
_MOST_SAID = 5


def unit_layer(gis: Gis, grid: Grid) -> tuple[np.ndarray, tuple[str, ...]] | None:
    """Give units of polygons: their numbers by cell, and names.

    A cell belongs to the unit with the largest share of it, where units together have at least half of it; of equal
    shares the first in the file. Polygons of one name are one unit. Overlaps are remarked.

    Parameters
    ----------
    gis : Gis
        With polygons of units.
    grid : Grid
        That of the site.

    Returns
    -------
    layer : float64 (y, x)
        0 for none.
    names : tuple of str
        Of units 1, 2, ...
    None if something is wrong.
    """
    features, source = gis.features["unit"], gis.sources["unit"]
    names = _names(features, source)
    if names is None or not affordable(gis, "unit", grid):
        return None
    distinct = tuple(dict.fromkeys(names))
    if len(distinct) > MOST_UNITS:
        source.check.add("", Said(f"{len(distinct):,} units"), f"at most {MOST_UNITS:,}")
        return None
    number = {name: k for k, name in enumerate(distinct)}
    owner = np.array([number[name] for name in names])
    if not _remark_overlaps(features, owner, distinct, grid, source.check):
        return None
    return _largest(features, owner, distinct, grid, source.check), distinct


def _names(features: Features, source: Source) -> list[str] | None:
    """Give the name of each polygon, of the field ``name`` or ``unit`` or the one that the site says."""
    check, wanted = source.check, source.said["fields"].get("name")
    for key in source.said["fields"]:
        if key != "name":
            check.add(f"fields.{key}", key, 'only "name"')
    asked = ("name", "unit") if wanted is None else (wanted,)
    column = next((found for found in map(features.field, asked) if found is not None), None)
    if column is None:
        if wanted is None and len(features) == 1:
            check.remark("", 'no field "name": the unit is called "unit 1"')
            return ["unit 1"]
        allowed = f'"{wanted or "name"}" (it has {", ".join(features.fields) or "none"})'
        check.add("", MISSING if not features.fields else Said(f'no field "{wanted or "name"}"'), "a field " + allowed)
        return None
    names = [" ".join(str(value).split()) if value is not None else "" for value in column]
    nameless = np.array([not name for name in names])
    features.note(check, nameless, lambda k: MISSING, "a name")
    return None if nameless.any() else names


def _largest(features: Features, owner: np.ndarray, names: tuple[str, ...], grid: Grid, check: Check) -> np.ndarray:
    import shapely

    layer, best, total = np.zeros(grid.shape), np.zeros(grid.shape), np.zeros(grid.shape)
    for k in range(len(names)):
        parts = features.geometries[owner == k]
        found = window_of(tuple(shapely.total_bounds(parts).tolist()), grid)
        if found is None:
            continue
        part, at = found
        share = shares_of(parts, part)
        larger = share > best[at] + 1e-9
        layer[at] = np.where(larger, k + 1, layer[at])
        best[at] = np.maximum(best[at], share)
        total[at] += share
    layer[total < _HALF] = 0
    lost = [name for k, name in enumerate(names, 1) if not (layer == k).any()] if len(names) <= 1000 else []
    if lost:
        more = f" and {len(lost) - _MOST_SAID} more" if len(lost) > _MOST_SAID else ""
        said = ", ".join(f'"{name}"' for name in lost[:_MOST_SAID])
        check.remark("", f"units with no cell of the site, off it or smaller than a cell: {said}{more}")
    return layer


def _remark_overlaps(features: Features, owner: np.ndarray, names: tuple[str, ...], grid: Grid, check: Check) -> bool:
    """Remark units that overlap by a cell or more; False if there are too many to tell."""
    import shapely

    pairs = overlapping(features.geometries, check)
    if pairs is None:
        return False
    pairs = pairs[owner[pairs[:, 0]] != owner[pairs[:, 1]]]
    shapes = features.geometries
    areas: dict[tuple[int, int], float] = {}
    common = shapely.intersection(shapes[pairs[:, 0]], shapes[pairs[:, 1]])
    for (i, j), area in zip(pairs, shapely.area(common), strict=True):
        both = (int(min(owner[i], owner[j])), int(max(owner[i], owner[j])))
        areas[both] = areas.get(both, 0.0) + float(area)
    large = [(both, area) for both, area in areas.items() if area >= grid.size**2]
    for (i, j), area in large[:_MOST_SAID]:
        rule = "each cell goes to the one with more of it, of equals to the first"
        words = f'units "{names[i]}" and "{names[j]}" overlap by {area:,.0f} m2: {rule}'
        check.remark("", words)
    if len(large) > _MOST_SAID:
        check.remark("", f"and {len(large) - _MOST_SAID:,} more pairs of units overlap")
    return True
