"""Outlines, tracks and points of a phone as shapes on the ground."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.cells import Style, column_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.gis_source import Source
from spreadsim.inputs.local_plane import local_degrees, local_metres
from spreadsim.inputs.phone_words import radius_said
from spreadsim.inputs.phone_xml import AREA, LINE, POINT, Mark

GAP = 20.0  # m between the ends of a track up to which it is closed: what phones are off at two ends; assumed
_GAP_SHARE = 0.1  # of its length, likewise
_SEGMENTS = 32  # of a quarter of a circle


def plain_shape(mark: Mark, check: Check) -> Any:
    """Give a mark as it stands in the file, in longitude and latitude; a track of one position is a point.

    Parameters
    ----------
    mark : Mark
        What stands in the file.
    check : Check
        Where to note an outline of too few points; None is given then.
    """
    import shapely

    ring = mark.rings[0]
    if mark.shape == POINT or (mark.shape == LINE and len(ring) == 1):
        return shapely.Point(ring[0])
    if mark.shape == LINE:
        return shapely.LineString(ring)
    if min(len(one) for one in mark.rings) < 3:
        check.add(mark.place, Said("an outline of too few points"), "at least three")
        return None
    return shapely.Polygon(ring, mark.rings[1:])


def outline(mark: Mark, source: Source, metres: float) -> Any:
    """Give the polygon of an outline, a track or a point, worked out in metres around it.

    Parameters
    ----------
    mark : Mark
        What stands in the file.
    source : Source
        What is said of the file: ``width`` of open tracks, ``radius`` of points.
    metres : float
        In the unit of length of the site table.

    Returns
    -------
    shapely geometry or None
        In metres about its first position; None if something is wrong, which is noted.
    """
    import shapely

    middle = mark.rings[0][0]
    positions = [np.array(ring) for ring in mark.rings]
    rings = [np.column_stack(local_metres(ring[:, 0], ring[:, 1], middle)) for ring in positions]
    width = source.said["width"]
    if mark.shape == POINT:
        shape = shapely.buffer(shapely.Point(0, 0), _radius(mark, source, metres), quad_segs=_SEGMENTS)
    elif mark.shape == AREA or _closed(rings[0]):
        if min(len(ring) for ring in rings) < 3:
            source.check.add(mark.place, Said("an outline of too few points"), "at least three")
            return None
        shape = shapely.Polygon(rings[0], rings[1:])
        if not shape.is_valid:
            source.check.remark(mark.place, "its outline crosses itself; the ground inside is taken")
            shape = _flat(shapely.make_valid(shape))
    elif width is not None and 0 < width * metres <= 1000 and len(rings[0]) > 1:
        shape = shapely.buffer(shapely.LineString(rings[0]), width * metres / 2, quad_segs=_SEGMENTS)
    else:
        gap = math.dist(rings[0][0], rings[0][-1])
        found = f"an open track, {gap:,.0f} m between its ends" if width is None else f"a track with width {width}"
        allowed = (
            f"a closed one (ends within {GAP:g} m and a tenth of its length), or width = 2 beside file (to 1,000 m)"
        )
        source.check.add(mark.place, Said(found), allowed)
        return None
    if shapely.is_empty(shape) or shape.area <= 0:
        source.check.add(mark.place, Said("an outline without any area"), "one around some ground")
        return None
    return shape


def in_degrees(shapes: np.ndarray, marks: list[Mark]) -> np.ndarray:
    """Bring outlines of marks, each in metres about its first position, into longitude and latitude."""
    import shapely

    xy, owner = shapely.get_coordinates(shapes, return_index=True)
    middles = np.array([mark.rings[0][0] for mark in marks], dtype=np.float64)[owner]
    back = local_degrees(xy[:, 0], xy[:, 1], (middles[:, 0], middles[:, 1]))
    moved: np.ndarray = shapely.set_coordinates(shapes, np.column_stack(back))
    return moved


def _closed(ring: np.ndarray) -> bool:
    gap = float(np.hypot(*(ring[0] - ring[-1])))
    length = float(np.hypot(*np.diff(ring, axis=0).T).sum())
    return len(ring) >= 4 and gap <= GAP and gap <= _GAP_SHARE * length


def _radius(mark: Mark, source: Source, metres: float) -> float:
    usual = source.said["radius"]
    said = radius_said(mark) or ("" if usual is None else str(usual))
    if not said:
        source.check.add(f"{mark.place}, radius", MISSING, "radius 3 m in its name; or radius = 3 beside file")
        return 1.0
    radius = float(column_of(source.check, "radius", "length", None, (mark.place,), [said], Style(metres=metres))[0])
    if not 0 < radius <= 10_000:
        source.check.add(mark.place, Said(f"a radius of {radius:g} m"), "more than 0, to 10,000 m")
        return 1.0
    return radius


def _flat(shape: Any) -> Any:
    """Give only the ground of a repaired outline, without loose lines and points."""
    import shapely

    parts = shapely.get_parts(shape)
    return shapely.union_all(parts[shapely.get_dimensions(parts) == 2])
