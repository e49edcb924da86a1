"""Reading GeoJSON (RFC 7946), without GDAL and feature by feature, so that a large file takes little memory."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spreadsim.errors import MISSING, InputError, Said, one_of, show
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import DEGREES, crs_of
from spreadsim.inputs.toml import read_text
from spreadsim.inputs.vector_file import MOST_FEATURES, Features, built, plain_column

if TYPE_CHECKING:
    from pyproj import CRS

_LARGEST_FILE = 200_000_000  # bytes
_MOST_BRACKETS = 12_000_000  # so that no text unfolds into more than about 2 GB
_KINDS = ("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection")
_DECODER = json.JSONDecoder()
_SPACE = " \t\r\n"


def read_geojson(path: Path, check: Check) -> Features | None:
    """Read all features; see `read_features`."""
    before = len(check.problems)
    reader = _Reader(check)
    try:
        text = read_text(path, _LARGEST_FILE)
        if text.count("[") + text.count("{") > _MOST_BRACKETS:
            check.add("", Said("too many coordinates"), "fewer: simplify the outlines, or save it as a GeoPackage")
            return None
        reader.read(text)
    except InputError as error:
        check.problems.absorb(error)
    except json.JSONDecodeError as error:
        check.add(f"line {error.lineno}, column {error.colno}", Said(f"no JSON ({error.msg})"), "GeoJSON")
    except (RecursionError, ValueError) as error:  # nested too deeply; an integer of thousands of digits
        reason = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        check.add("", Said(f"no usable JSON ({reason})"), "GeoJSON")
    if len(check.problems) > before:
        return None
    return reader.features(path)


class _Reader:
    """Takes a text of GeoJSON apart, noting what is wrong."""

    def __init__(self, check: Check) -> None:
        self.check = check
        self.shapes: list[str | None] = []
        self.columns: dict[str, dict[int, Any]] = {}
        self.crs: object = None

    def read(self, text: str) -> None:
        start = _skip(text, 0)
        if text[start : start + 1] != "{":
            self.check.add("", Said("no object at its start"), "GeoJSON: FeatureCollection, Feature or a geometry")
            return
        head: dict[str, Any] = {}
        collected = False
        for key, place in _members(text, start):
            if key == "features" and text[place.at : place.at + 1] == "[":
                collected = True
                for feature in _items(text, place):
                    self._take(feature, f"features[{len(self.shapes)}]")
            else:
                head[key], place.at = _DECODER.raw_decode(text, place.at)
        self.crs = head.get("crs")
        kind = head.get("type")
        if kind == "Feature":
            self._take(head, "feature")
        elif kind in _KINDS:
            self._take({"type": "Feature", "geometry": head}, "geometry")
        elif kind != "FeatureCollection":
            self.check.add("type", MISSING if kind is None else kind, one_of(("FeatureCollection", "Feature", *_KINDS)))
        elif not collected:
            self.check.add("features", head.get("features", MISSING), "a list of features")

    def _take(self, feature: object, place: str) -> None:
        number = len(self.shapes)
        if number >= MOST_FEATURES:
            raise InputError(f"{self.check.thing}: found more than {MOST_FEATURES:,} features, allowed fewer")
        self.shapes.append(None)
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            self.check.add(place, feature, 'an object with type "Feature"')
            return
        geometry, fields = feature.get("geometry"), feature.get("properties")
        if geometry is not None and not (isinstance(geometry, dict) and geometry.get("type") in _KINDS):
            self.check.add(f"{place}.geometry", geometry, f"null, or an object with type {one_of(_KINDS)}")
        elif geometry is not None:
            self.shapes[-1] = json.dumps(geometry)
        if fields is not None and not isinstance(fields, dict):
            self.check.add(f"{place}.properties", fields, "null, or an object")
        else:
            for name, value in (fields or {}).items():
                self.columns.setdefault(name, {})[number] = value

    def features(self, path: Path) -> Features | None:
        import shapely

        count = len(self.shapes)
        places = tuple(f"features[{k}]" for k in range(count))
        shapes = built(shapely.from_geojson, self.shapes, places, self.check)
        crs = self._system()
        if shapes is None or crs is None:
            return None
        fields = {name: plain_column([column.get(k) for k in range(count)]) for name, column in self.columns.items()}
        return Features(str(path), shapes, fields, crs, places)

    def _system(self) -> CRS | None:
        """Give WGS 84, or what the member ``crs`` of the older standard names, as some GIS still write it."""
        if self.crs is None:
            return crs_of(DEGREES, self.check, "crs")
        properties = self.crs.get("properties") if isinstance(self.crs, dict) else None
        name = properties.get("name") if isinstance(properties, dict) else None
        return crs_of(show(self.crs) if name is None else name, self.check, "crs")


class _Place:
    """Where in a text the reading is."""

    def __init__(self, at: int) -> None:
        self.at = at


def _skip(text: str, at: int) -> int:
    while text[at : at + 1] and text[at] in _SPACE:
        at += 1
    return at


def _members(text: str, start: int) -> Iterator[tuple[str, _Place]]:
    """Go through the members of the object that begins at `start`; the caller moves the place behind the value."""
    place = _Place(_skip(text, start + 1))
    while text[place.at : place.at + 1] != "}":
        key, at = _DECODER.raw_decode(text, place.at)
        if not isinstance(key, str):
            raise json.JSONDecodeError("Expecting property name enclosed in double quotes", text, place.at)
        place.at = _skip(text, _expect(text, _skip(text, at), ":"))
        yield key, place
        place.at = _next(text, place.at, "}")
    _nothing_more(text, place.at + 1)


def _items(text: str, place: _Place) -> Iterator[Any]:
    """Go through the values of the list at `place`, and move it behind the list."""
    place.at = _skip(text, place.at + 1)
    while text[place.at : place.at + 1] != "]":
        value, place.at = _DECODER.raw_decode(text, place.at)
        yield value
        place.at = _next(text, place.at, "]")
    place.at += 1


def _next(text: str, at: int, end: str) -> int:
    """Go to the next value, or to the end of the object or list."""
    at = _skip(text, at)
    if text[at : at + 1] == end:
        return at
    at = _skip(text, _expect(text, at, ","))
    if text[at : at + 1] == end:
        raise json.JSONDecodeError("Expecting value", text, at)
    return at


def _expect(text: str, at: int, mark: str) -> int:
    if text[at : at + 1] != mark:
        raise json.JSONDecodeError(f"Expecting '{mark}'", text, at)
    return at + 1


def _nothing_more(text: str, at: int) -> None:
    at = _skip(text, at)
    if at < len(text):
        raise json.JSONDecodeError("Extra data", text, at)
