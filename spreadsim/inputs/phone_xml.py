"""GPX and KML files: their points, tracks and outlines, as they stand there."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from spreadsim.errors import InputError, Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.gis import installed
from spreadsim.inputs.toml import read_bytes

POINT, LINE, AREA = "point", "track", "outline"
_MOST_MARKS = 200_000
_MOST_POINTS = 5_000_000
_MOST_ELEMENTS = 5_000_000
_DEEPEST = 100
_LONGEST = 2_000  # characters of a text that are looked at
_MARKS = ("wpt", "rte", "trk", "Placemark")
_TEXTS = ("name", "cmt", "desc", "description", "type")
_ACCURACY = ("accuracy", "horizontalaccuracy", "hacc", "coordinateuncertaintyinmeters", "uncertainty")
Position = tuple[float, float]


@dataclass
class Mark:
    """A point, a track or an outline.

    Attributes
    ----------
    place : str
        What it is called in messages.
    shape : str
        `POINT`, `LINE` or `AREA`.
    rings : list of lists of (longitude, latitude)
        One of one position; one track; or an outline and its holes.
    name : str
        Its name in the file.
    words : str
        All that is written about it, in small letters.
    fields : dict of str to str
        Data with names, the names in small letters.
    """

    place: str
    shape: str
    rings: list[list[Position]]
    name: str = ""
    words: str = ""
    fields: dict[str, str] = field(default_factory=dict)


def read_marks(path: Path, check: Check) -> list[Mark] | None:
    """Read a GPX or KML file; no entity is expanded and nothing is fetched.

    Parameters
    ----------
    path : Path
        The file.
    check : Check
        Where to note what is wrong.

    Returns
    -------
    list of Mark or None
        None if something is wrong.
    """
    if not installed(check, "", "defusedxml"):
        return None
    from defusedxml.common import DefusedXmlException

    try:
        data = read_bytes(path)
    except InputError as error:
        check.problems.absorb(error)
        return None
    if data.startswith(b"PK"):
        check.add("", Said("a zip file, such as KMZ"), "the KML file in it: unpack it")
        return None
    before = len(check.problems)
    marks: list[Mark] = []
    try:
        for mark in _marks(data, check):
            marks.append(mark)
            if len(marks) > _MOST_MARKS:
                check.add("", Said(f"more than {_MOST_MARKS:,} points and tracks"), "fewer")
                return None
    except DefusedXmlException:
        check.add("", Said("definitions of entities (DTD)"), "plain GPX or KML without them")
    except ParseError as error:
        line = error.position[0]
        check.problems.say(check.thing, f"line {line}", f"not valid XML: {str(error).split(':')[0]}")
    except (LookupError, ValueError) as error:  # an encoding that is not known
        check.problems.say(check.thing, "", f"not valid XML: {error}")
    return marks if len(check.problems) == before else None


def _marks(data: bytes, check: Check) -> Iterator[Mark]:
    from defusedxml.ElementTree import iterparse

    around: list[Element] = []
    folders: list[str] = []
    counts: dict[str, int] = {}
    points = elements = within = 0  # within: how many marks are around an element
    for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
        name = _name(element)
        if event == "start":
            if not around and name not in ("gpx", "kml"):
                check.add("", Said(f"XML of another kind ({name[:40]})"), "GPX or KML")
                return
            around.append(element)
            elements += 1
            if len(around) > _DEEPEST:
                check.add("", Said(f"elements nested more than {_DEEPEST} deep"), "plain GPX or KML")
                return
            if elements > _MOST_ELEMENTS:
                check.add("", Said(f"more than {_MOST_ELEMENTS:,} elements"), "fewer")
                return
            folders += [""] if name == "Folder" else []
            within += name in _MARKS
            if within > 1:
                check.add("", Said("a point or track within another one"), "plain GPX or KML")
                return
            continue
        around.pop()
        within -= name in _MARKS
        parent = _name(around[-1]) if around else ""
        if name == "name" and parent == "Folder":
            folders[-1] = (element.text or "")[:_LONGEST]
        elif name == "Folder":
            folders.pop()
        elif name in _MARKS:
            counts[name] = counts.get(name, 0) + 1
            for mark in _of_element(element, name, counts[name], check):
                points += sum(len(ring) for ring in mark.rings)
                if points > _MOST_POINTS:
                    check.add("", Said(f"more than {_MOST_POINTS:,} positions"), "fewer")
                    return
                mark.words = " ".join([mark.words, *folders]).lower()
                yield mark
        if around and not within:
            del around[-1][0]  # itself, since those before it are gone: what was read need not be kept


def _of_element(element: Element, kind: str, number: int, check: Check) -> Iterator[Mark]:
    """Give the marks of a waypoint, route, track or placemark: a track has one for each of its segments."""
    title = " ".join((element.findtext("{*}name") or "").split())[:60]
    called = {"wpt": "point", "rte": "route", "trk": "track", "Placemark": "placemark"}[kind]
    place = f"{called} {number}" + (f' "{title}"' if title else "")
    fields = _fields(element)
    texts = [(element.findtext(f"{{*}}{name}") or "")[:_LONGEST] for name in _TEXTS]
    words = " ".join(" ".join([*texts, *fields.values()]).split())[: len(_TEXTS) * _LONGEST]
    for shape, rings in _shapes(element, kind):
        made = [[one for one in ring if one is not None] for ring in rings]
        if any(None in ring for ring in rings):
            check.add(place, Said("a position that is none"), "latitude and longitude in decimal degrees")
        elif made and made[0]:
            yield Mark(place, shape, made, title, words, fields)


def _shapes(element: Element, kind: str) -> Iterator[tuple[str, list[list[Position | None]]]]:
    if kind == "wpt":
        yield POINT, [[_attributes(element)]]
    elif kind == "rte":
        yield LINE, [[_attributes(one) for one in element.iter() if _name(one) == "rtept"]]
    elif kind == "trk":
        for segment in element.iter():
            if _name(segment) == "trkseg":
                yield LINE, [[_attributes(one) for one in segment if _name(one) == "trkpt"]]
    else:
        yield from _of_placemark(element)


def _of_placemark(element: Element) -> Iterator[tuple[str, list[list[Position | None]]]]:
    inside = {id(one) for outline in element.iter() if _name(outline) == "Polygon" for one in outline.iter()}
    for one in element.iter():
        name = _name(one)
        if name == "Polygon":
            yield AREA, [_coordinates(ring) for ring in one.iter() if _name(ring) == "LinearRing"]
        elif name == "Point":
            yield POINT, [_coordinates(one)[:1]]
        elif name == "LineString":
            yield LINE, [_coordinates(one)]
        elif name == "LinearRing" and id(one) not in inside:
            yield AREA, [_coordinates(one)]
        elif name == "Track":
            yield LINE, [[_position(point.text, " ") for point in one if _name(point) == "coord"]]


def _coordinates(element: Element) -> list[Position | None]:
    """Give the positions of KML: longitude, latitude and perhaps a height, parted by commas."""
    text = next((one.text for one in element.iter() if _name(one) == "coordinates"), None) or ""
    return [_position(part, ",") for part in text.split()]


def _position(text: str | None, mark: str) -> Position | None:
    parts = (text or "").strip().split(mark)
    return _pair(parts[0], parts[1]) if len(parts) in (2, 3) else None


def _attributes(element: Element) -> Position | None:
    return _pair(element.get("lon", ""), element.get("lat", ""))


def _pair(longitude: str, latitude: str) -> Position | None:
    try:
        x, y = float(longitude), float(latitude)
    except ValueError:
        return None
    return (x, y) if abs(x) <= 180 and abs(y) <= 90 else None


def _fields(element: Element) -> dict[str, str]:
    """Give data with names: of KML, and what stands in a GPX file's extensions."""
    found: dict[str, str] = {}
    for one in element.iter():
        name = _name(one)
        if name in ("Data", "SimpleData"):
            value: Any = one.findtext("{*}value") if name == "Data" else one.text
            found[str(one.get("name", "")).strip().lower()[:60]] = (value or "").strip()[:_LONGEST]
        elif name.lower() in _ACCURACY and (one.text or "").strip():
            found["uncertainty"] = f"{(one.text or '').strip()[:40]} m"
    for name in _ACCURACY:
        if name in found and "uncertainty" not in found:
            found["uncertainty"] = f"{found[name]} m"
    return {name: text for name, text in found.items() if name and text}


def _name(element: Element) -> str:
    """Give the name of an element without its name space."""
    return str(element.tag).rpartition("}")[2]
