"""Checks of points and polygons before they are brought onto a site: what GIS data usually has wrong."""

from __future__ import annotations

from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.vector_file import Features

_MOST_PAIRS = 20_000_000
_AT_ONCE = 100  # polygons whose neighbours are looked for at a time, so that memory stays small


def placed_rightly(features: Features, check: Check) -> bool:
    """Note longitudes and latitudes that cannot be, with what they look like.

    Parameters
    ----------
    features : Features
        As they were read.
    check : Check
        Where to note.

    Returns
    -------
    bool
        False if they are in degrees and some are out of bounds.
    """
    import shapely

    if features.crs is None or not features.crs.is_geographic or not len(features):
        return True
    ends = shapely.bounds(features.geometries)
    with np.errstate(invalid="ignore"):
        wrong = (np.abs(ends[:, [0, 2]]) > 360).any(axis=1) | (np.abs(ends[:, [1, 3]]) > 90).any(axis=1)
    if not wrong.any():
        return True
    x, y = ends[wrong][0, :2]
    if np.nanmax(np.abs(ends[:, [1, 3]])) <= 180 and np.nanmax(np.abs(ends[:, [0, 2]])) <= 90:
        hint = "they look swapped: longitude comes first, then latitude"
    else:
        hint = 'they look like metres or feet: say in which system, such as crs = "EPSG:32610" in the table of the file'
    found = Said(f"longitude {x:.7g}, latitude {y:.7g}")
    check.add(features.places[int(np.flatnonzero(wrong)[0])], found, f"latitudes from -90 to 90; {hint}")
    return False


def polygons_of(features: Features, check: Check) -> Features | None:
    """Give the polygons, each of them valid; features without a geometry are left out with a remark.

    Parameters
    ----------
    features : Features
        As they were read, so that messages give the coordinates of the file.
    check : Check
        Where to note what is no polygon or not valid, and where it goes wrong.

    Returns
    -------
    Features or None
        None if something is wrong.
    """
    import shapely

    kept = _with_geometry(features, check)
    kinds = shapely.get_type_id(kept.geometries)
    wrong = ~np.isin(kinds, (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON))
    kept.note(check, wrong, lambda k: Said(f"a {kept.geometries[k].geom_type}"), "polygons")
    crossed = ~wrong & ~shapely.is_valid(kept.geometries)
    allowed = 'a valid polygon: repair it in a GIS ("fix geometries"), or draw that corner again'
    kept.note(check, crossed, lambda k: Said(_fault(kept.geometries[k])), allowed)
    if not len(kept):
        check.add("", Said("no polygons"), "at least one")
    return None if wrong.any() or crossed.any() or not len(kept) else kept


def points_of(features: Features, check: Check) -> Features | None:
    """Give the points; a multipoint of one is one, features without a geometry are left out with a remark.

    Parameters
    ----------
    features : Features
        As they were read.
    check : Check
        Where to note what is no point.

    Returns
    -------
    Features or None
        None if something is wrong.
    """
    import shapely

    kept = _with_geometry(features, check)
    kinds = shapely.get_type_id(kept.geometries)
    single = (kinds == shapely.GeometryType.MULTIPOINT) & (shapely.get_num_geometries(kept.geometries) == 1)
    wrong = (kinds != shapely.GeometryType.POINT) & ~single
    kept.note(check, wrong, lambda k: Said(f"a {kept.geometries[k].geom_type}"), "points, one for each feature")
    return None if wrong.any() else kept


def overlapping(polygons: Any, check: Check) -> np.ndarray | None:
    """Give pairs (n, 2) of polygons that share more than an edge, the lower number first.

    Parameters
    ----------
    polygons : array of shapely polygons
        All valid.
    check : Check
        Where to note that there are too many.

    Returns
    -------
    int array (n, 2) or None
        None if there are more than can be worked through.
    """
    import shapely

    tree = shapely.STRtree(polygons)
    found: list[np.ndarray] = []
    count = 0
    for start in range(0, len(polygons), _AT_ONCE):
        pairs = tree.query(polygons[start : start + _AT_ONCE], predicate="intersects").T
        pairs[:, 0] += start
        pairs = pairs[pairs[:, 0] < pairs[:, 1]]
        pairs = pairs[~shapely.touches(polygons[pairs[:, 0]], polygons[pairs[:, 1]])]
        found.append(pairs)
        count += len(pairs)
        if count > _MOST_PAIRS:
            check.add("", Said(f"more than {_MOST_PAIRS:,} overlaps of polygons"), "fewer: dissolve them in a GIS")
            return None
    return np.concatenate(found) if found else np.zeros((0, 2), dtype=int)


def _with_geometry(features: Features, check: Check) -> Features:
    import shapely

    held = ~(shapely.is_missing(features.geometries) | shapely.is_empty(features.geometries))
    if held.all():
        return features
    check.remark("", f"{_count((~held).sum())} no geometry, left out: {_some(features, ~held)}")
    return features.pick(held)


def _count(number: int) -> str:
    return f"{number:,} feature has" if number == 1 else f"{number:,} features have"


def _some(features: Features, which: np.ndarray) -> str:
    """Name the first few of some features."""
    numbers = np.flatnonzero(which)
    more = f" and {len(numbers) - 3:,} more" if len(numbers) > 3 else ""
    return "; ".join(features.places[k] for k in numbers[:3]) + more


def _fault(polygon: Any) -> str:
    """Say what is wrong with a polygon, and where: ``an outline that crosses itself at (501200, 5450100)``."""
    import shapely

    reason = str(shapely.is_valid_reason(polygon))
    text, _, where = reason.partition("[")
    words = {
        "Self-intersection": "an outline that crosses itself",
        "Ring Self-intersection": "an outline that touches itself",
        "Too few points in geometry component": "an outline of too few points",
        "Hole lies outside shell": "a hole outside the outline",
        "Nested shells": "a part inside another part",
        "Nested holes": "a hole inside a hole",
        "Interior is disconnected": "holes that cut it apart",
        "Invalid Coordinate": "a coordinate that is no number",
    }
    at = ", ".join(where.rstrip("]").split())
    return words.get(text.strip(), text.strip()) + (f" at ({at})" if at else "")
