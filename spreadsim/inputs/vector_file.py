"""Reading points, lines and polygons with their fields: GeoPackage, GeoJSON, GPX and KML."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import mover
from spreadsim.inputs.gis import installed

if TYPE_CHECKING:
    from pyproj import CRS

LARGEST_FILE = 500_000_000  # bytes
MOST_FEATURES = 2_000_000
MOST_VERTICES = 20_000_000
_SQLITE = b"SQLite format 3\0"
_MOST_NAMED = 5  # features named one by one before the rest is counted


@dataclass(frozen=True, eq=False)
class Features:
    """What a file of features holds, or one layer of it.

    Attributes
    ----------
    path : str
        The file, for messages.
    geometries : object array (n,)
        Of shapely, in two dimensions; None where a feature has none.
    fields : dict of str to object array (n,)
        By name: None, bool, int, float or text.
    crs : pyproj.CRS or None
        None if the file says none.
    places : tuple of str
        What each feature is called in messages, such as ``feature 3``.
    """

    path: str
    geometries: Any
    fields: dict[str, np.ndarray]
    crs: CRS | None
    places: tuple[str, ...]

    def __len__(self) -> int:
        """Count the features."""
        return len(self.geometries)

    def field(self, name: str) -> np.ndarray | None:
        """Give a field by its name, capitals or not; None if there is none."""
        found = next((key for key in self.fields if key.strip().lower() == name.lower()), None)
        return None if found is None else self.fields[found]

    def pick(self, which: np.ndarray) -> Features:
        """Give some of the features, by a mask or by their numbers."""
        places = np.array(self.places, dtype=object)[which]
        return replace(
            self,
            geometries=self.geometries[which],
            fields={name: column[which] for name, column in self.fields.items()},
            places=tuple(places.tolist()),
        )

    def note(self, check: Check, wrong: np.ndarray, found: Any, allowed: str) -> None:
        """Note features that are wrong, the first few by name.

        Parameters
        ----------
        check : Check
            Its collector is noted in, under the name of this file.
        wrong : bool (n,)
            Which.
        found : callable
            Gives what to say was found, by the number of the feature.
        allowed : str
            What would have been right.
        """
        numbers = np.flatnonzero(wrong)
        for k in numbers[:_MOST_NAMED]:
            check.problems.add(self.path, self.places[k], found(int(k)), allowed)
        if len(numbers) > _MOST_NAMED:
            check.problems.say(self.path, "", f"and {len(numbers) - _MOST_NAMED:,} more features, allowed {allowed}")

    def moved_to(self, crs: CRS, check: Check) -> Features | None:
        """Give the same in another reference system (x east, y north always).

        Parameters
        ----------
        crs : pyproj.CRS
            The one wanted.
        check : Check
            Where to note features that cannot be told in it.

        Returns
        -------
        Features or None
            None if some cannot, or the file says no reference system.
        """
        import shapely

        if self.crs is None:
            check.problems.add(self.path, "", Said("no coordinate reference system"), "one, so that it can be placed")
            return None
        if self.crs == crs:
            return self
        move = mover(self.crs, crs)
        with np.errstate(invalid="ignore"):
            moved = shapely.transform(self.geometries, lambda xy: np.column_stack(move(xy[:, 0], xy[:, 1])))
            lost = ~np.isfinite(shapely.bounds(moved)).all(axis=1) & ~_empty(moved)
        self.note(check, lost, lambda k: Said(_where(self.geometries[k])), f"coordinates that exist in {crs.name}")
        return None if lost.any() else replace(self, geometries=moved, crs=crs)


def read_features(path: Path, check: Check, *, layer: str | None = None) -> Features | None:
    """Read the features of a GeoPackage, or of a GeoJSON, GPX or KML file.

    What a file is is told from its first bytes, never from its name alone. Heights are left out. GeoJSON is in
    longitude and latitude, WGS 84 (RFC 7946), unless it has the member ``crs`` of the standard before. GPX and KML
    always are; their tracks are lines, and what is written about a mark stands in fields (see `read_phone`).

    Parameters
    ----------
    path : Path
        The file; ``.gpkg``, ``.geojson``, ``.json``, ``.gpx`` or ``.kml``.
    check : Check
        Where to note; `check.thing` should name the file.
    layer : str, optional
        Layer of a GeoPackage; needed if it has several.

    Returns
    -------
    Features or None
        None if something is wrong; why is noted.
    """
    if not installed(check, "", "shapely", "pyproj"):
        return None
    head = _head(path, check)
    if head is None:
        return None
    before = len(check.problems)
    if head.startswith(_SQLITE):
        from spreadsim.inputs.geopackage import read_geopackage

        found = read_geopackage(path, check, layer)
    elif head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        from spreadsim.inputs.geojson import read_geojson

        if layer is not None:
            check.add("", Said(f'a layer "{layer}" asked of GeoJSON'), "none: GeoJSON has no layers")
        found = read_geojson(path, check)
    elif is_xml(head):
        from spreadsim.inputs.phone import read_phone

        if layer is not None:
            check.add("", Said(f'a layer "{layer}" asked of GPX or KML'), "none: they have no layers")
        found = read_phone(path, check)
    else:
        check.add("", Said(_looks_like(head)), "a GeoPackage (.gpkg), GeoJSON (.geojson), GPX or KML file")
        return None
    return found if len(check.problems) == before else None


def built(read: Any, texts: list[Any], places: tuple[str, ...], check: Check) -> np.ndarray | None:
    """Build geometries in two dimensions of what stands in a file.

    Parameters
    ----------
    read : callable
        Of shapely, for one or an array of `texts`.
    texts : list
        Bytes or texts, None where there is no geometry.
    places : tuple of str
        What each is called in messages.
    check : Check
        Where to note those that are no geometry, and too many vertices.

    Returns
    -------
    object array or None
        None if something is wrong.
    """
    import shapely

    before = len(check.problems)
    given = np.empty(len(texts), dtype=object)
    given[:] = texts
    try:
        shapes = read(given)
    except (shapely.GEOSException, TypeError, ValueError):
        shapes = np.array([_one(read, text, place, check) for text, place in zip(texts, places, strict=True)], object)
    flat: np.ndarray = shapely.force_2d(shapes)
    count = int(shapely.get_num_coordinates(flat).sum())
    if count > MOST_VERTICES:
        check.add("", Said(f"{count:,} vertices"), f"at most {MOST_VERTICES:,}: simplify the outlines")
    return flat if len(check.problems) == before else None


def plain_column(values: list[Any]) -> np.ndarray:
    """Give a field as an object array of plain values: what is not a number stands for nothing, lists become text."""
    column = np.empty(len(values), dtype=object)
    column[:] = [_plain(value) for value in values]
    return column


def _one(read: Any, text: Any, place: str, check: Check) -> Any:
    import shapely

    try:
        return read(text)
    except (shapely.GEOSException, TypeError, ValueError) as error:
        check.problems.say(check.thing, place, f"a geometry that cannot be read: {error}")
        return None


def _plain(value: object) -> object:
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float):
        return None if math.isnan(value) else value
    return str(value)


def _head(path: Path, check: Check) -> bytes | None:
    """Give the first bytes of a file; note why not if there is none, or it is too large."""
    try:
        if path.is_dir() or not path.exists():
            check.add("", Said("a folder" if path.is_dir() else "no such file"), "a file that exists")
            return None
        size = path.stat().st_size
        if size > LARGEST_FILE:
            check.add("", Said(f"{size / 1e6:,.0f} MB"), f"at most {LARGEST_FILE / 1e6:,.0f} MB")
            return None
        with path.open("rb") as file:
            return file.read(64)
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        check.problems.say(check.thing, "", f"cannot be read: {getattr(error, 'strerror', None) or error}")
        return None


def is_xml(head: bytes) -> bool:
    """Tell from its first bytes whether a file is XML, in UTF-8 or UTF-16."""
    plain = head.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0")
    return plain.startswith(b"<")


def _looks_like(head: bytes) -> str:
    """Say what a file seems to be that is none of ours."""
    known = {
        b"": "an empty file",
        b"PK": "a zip file (or a spreadsheet)",
        b"\x00\x00\x27\x0a": "a shapefile",
        b"II": "a TIFF image",
        b"MM": "a TIFF image",
        b"\x89HDF": "NetCDF or HDF5",
    }
    told = (what for magic, what in known.items() if head == magic or (magic and head.startswith(magic)))
    return next(told, "something else")


def _empty(geometries: np.ndarray) -> np.ndarray:
    import shapely

    empty: np.ndarray = shapely.is_missing(geometries) | shapely.is_empty(geometries)
    return empty


def _where(geometry: Any) -> str:
    west, south, east, north = geometry.bounds
    return f"x {west:g} to {east:g}, y {south:g} to {north:g}"
