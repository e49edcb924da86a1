"""The grid of a site that is invented: a rectangle of the area asked, or what lies inside a boundary."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check

if TYPE_CHECKING:
    from spreadsim.inputs.vector_file import Features

_CELLS = 60_000  # about so many at most, so that a first answer takes minutes
_OPEN = 0.1  # share of a track's length between its ends beyond which it goes around nothing; assumed
_SIZES = (1.0, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0, 16.0, 20.0)  # m


@dataclass(frozen=True, eq=False)
class Outline:
    """Where a site lies.

    Attributes
    ----------
    cell : float
        Side of a cell, m.
    inside : bool (y, x)
        Cells of the site.
    area : float
        m2, of the boundary itself where there is one.
    origin : tuple of two floats
        South-west corner, m.
    crs : str or None
        Well-known text of the coordinate reference system.
    """

    cell: float
    inside: np.ndarray
    area: float
    origin: tuple[float, float] = (0.0, 0.0)
    crs: str | None = None


def rectangle(area: float) -> Outline:
    """Lay out a rectangle of whole cells whose area is exactly the one asked, about three to two.

    Parameters
    ----------
    area : float
        m2.

    Returns
    -------
    Outline
        With cells of a round size where that fits, else of the next size that does.
    """
    size = cell_size_for(area)
    best: tuple[float, int, int] | None = None
    count = area / size**2
    if abs(count - round(count)) < 1e-9 * count:
        for ny in range(1, math.isqrt(round(count)) + 1):
            if round(count) % ny == 0:
                ratio = abs(math.log(round(count) / ny**2 / 1.5))
                best = min(best or (ratio, ny, 0), (ratio, ny, round(count) // ny))
    if best is None or best[0] > math.log(1.6):  # no round cells make a handy rectangle
        nx, ny = max(1, round(math.sqrt(1.5 * count))), max(1, round(math.sqrt(count / 1.5)))
        return Outline(math.sqrt(area / (nx * ny)), np.ones((ny, nx), dtype=bool), area)
    return Outline(size, np.ones(best[1:], dtype=bool), area)


def cell_size_for(area: float) -> float:
    """Give a size of cells for which a site has not too many, m: 2 m, coarser beyond 24 ha, finer below half a ha."""
    if area < 5000:
        return 1.0
    return next((size for size in _SIZES[1:] if area / size**2 <= _CELLS), _SIZES[-1])


def inside_boundary(path: Path, check: Check) -> Outline | None:
    """Read a boundary: polygons, or lines walked around the site; several are one site together.

    Where marks of a phone say that they are the boundary or outline, the others are left alone; else those that
    are hosts or mats by their words.

    Parameters
    ----------
    path : Path
        Any file of features; without a coordinate reference system it is taken to be in metres.
    check : Check
        Where to note.

    Returns
    -------
    Outline or None
        None if something is wrong.
    """
    from spreadsim.inputs.crs import in_metres, utm_zone
    from spreadsim.inputs.ground_grid import grid_around
    from spreadsim.inputs.shares import shares_of
    from spreadsim.inputs.vector_file import read_features

    before = len(check.problems)
    features = read_features(path, check)
    if features is None:
        return None
    import shapely
    from pyproj import CRS

    said = features.field("role")
    if said is not None:
        meant = said == "boundary"
        features = features.pick(meant if meant.any() else ~np.isin(said.astype(str), ("mat", "host")))
        if (shapely.get_type_id(features.geometries) == int(shapely.GeometryType.POINT)).all():
            allowed = "a track walked around the site, or an outline, best with boundary in its name"
            check.add("", Said("only points, or tracks that are mats by their words"), allowed)
            return None
    crs = features.crs
    if crs is not None and not in_metres(crs):
        to_degrees = features.moved_to(CRS.from_epsg(4326), check)
        if to_degrees is None:
            return None
        west, south, east, north = shapely.total_bounds(to_degrees.geometries)
        crs = CRS.from_user_input(utm_zone((west + east) / 2, (south + north) / 2))
        moved = features.moved_to(crs, check)
        if moved is None:
            return None
        features = moved
    shape = _one_polygon(features, check)
    if shape is None or len(check.problems) > before:
        return None
    area = float(shape.area)
    if not 200 <= area <= 1e7:
        hint = "is it in degrees, without saying so?" if area < 1 else "is it the right file?"
        check.add("", Said(f"a boundary around {area:,.6g} m2"), f"0.02 to 1,000 ha; {hint}")
        return None
    grid = grid_around(shape.bounds, cell_size_for(area), crs, check, "boundary")
    if grid is None:
        return None
    inside = shares_of(np.array([shape], dtype=object), grid) >= 0.5
    if not inside.any():
        check.add("", Said("a boundary narrower than a cell"), f"one at least {grid.size:g} m wide")
        return None
    return Outline(grid.size, inside, area, (grid.west, grid.south), None if crs is None else str(crs.to_wkt()))


def _one_polygon(features: Features, check: Check) -> Any:
    """Join all polygons and closed lines of a file."""
    import shapely

    rings, before = [], len(check.problems)
    held = ~shapely.is_missing(features.geometries)
    shapes, owners = shapely.get_parts(features.geometries[held], return_index=True)
    for shape, owner in zip(shapes, np.flatnonzero(held)[owners], strict=True):
        if shape.geom_type == "Polygon":
            rings.append(shape)
        elif shape.geom_type in ("LineString", "LinearRing") and shapely.get_num_coordinates(shape) >= 4:
            line = shapely.get_coordinates(shape)
            gap = math.dist(line[0], line[-1])
            if gap > _OPEN * shape.length:
                found = Said(f"a track whose ends lie {gap:,.0f} m apart, on {shape.length:,.0f} m")
                allowed = "a polygon, or a track walked around the site, its ends within a tenth of its length"
                check.add(features.places[owner], found, allowed)
            rings.append(shapely.Polygon(line))
    if len(check.problems) > before:
        return None
    if not rings:
        check.add("", Said("no polygon and no track"), "a boundary: a polygon, or a track walked around the site")
        return None
    joined = shapely.union_all(shapely.make_valid(np.array(rings, dtype=object)))
    parts = [part for part in shapely.get_parts(joined) if part.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(parts)
