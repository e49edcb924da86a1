"""Points and tracks of a phone (GPX, KML) as what the keys of a site want: hosts, mats, outlines."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import CLASSES, cover_allowed, cover_of, scale_of
from spreadsim.inputs.gis import installed
from spreadsim.inputs.gis_source import PHONE, Source
from spreadsim.inputs.hosts import STATES
from spreadsim.inputs.phone_outlines import in_degrees, outline, plain_shape
from spreadsim.inputs.phone_words import (
    BOUNDARY,
    HOST,
    MAT,
    UNSAID,
    cover_said,
    own_fields,
    radius_said,
    role_of,
    state_of,
)
from spreadsim.inputs.phone_xml import AREA, LINE, POINT, Mark, read_marks

if TYPE_CHECKING:
    from spreadsim.inputs.vector_file import Features


_MOST_NAMED = 20  # problems of a file
_WANTED = MappingProxyType(
    {
        "hosts": "points that don't say mat, patch or boundary",
        "sources": "points",
        "mats": "outlines, closed tracks, open ones with a width, or points that don't say that they are hosts",
        "boundary": "outlines, closed tracks, or open ones with a width, no hosts or mats by their words",
    }
)


def is_phone_file(path: Path) -> bool:
    """Tell by its name whether a file is GPX or KML."""
    return path.suffix.lower() in PHONE


def read_phone(path: Path, check: Check) -> Features | None:
    """Read all marks of a GPX or KML file as points, lines (tracks) and polygons.

    Parameters
    ----------
    path : Path
        The file.
    check : Check
        Where to note.

    Returns
    -------
    Features or None
        In WGS 84, with the fields ``name``, ``role`` (``host``, ``mat``, ``boundary``, or None where nothing says),
        ``state``, ``cover``, ``radius`` and those of hosts, as texts. None if something is wrong.
    """
    if not installed(check, "", "shapely", "pyproj"):
        return None
    marks = read_marks(path, check)
    if marks is None:
        return None
    shapes = [plain_shape(mark, check) for mark in marks]
    if any(shape is None for shape in shapes):
        return None
    geometries = np.empty(len(marks), dtype=object)
    geometries[:] = shapes
    rows = []
    for mark in marks:
        role = role_of(mark)
        said = {"state": state_of(mark), "cover": cover_said(mark), "radius": radius_said(mark), **own_fields(mark)}
        said |= {"name": mark.name, "role": "" if role == UNSAID else role}
        rows.append({name: text or None for name, text in said.items()})
    return _features(path, marks, geometries, rows)


def phone_features(source: Source, metres: float) -> Features | None:
    """Give what a GPX or KML file holds for the key that names it.

    Hosts and sources are points; mats are outlines and closed tracks, open tracks with a ``width``, and points with a
    radius; all other keys take outlines, closed tracks, and open tracks with a ``width``. What a mark is meant to be
    is told by words (`phone_words`); marks that say nothing belong to whatever asks for their shape.

    Parameters
    ----------
    source : Source
        The file, its key, and what is said of it.
    metres : float
        In the unit of length of the site table.

    Returns
    -------
    Features or None
        In WGS 84; None if something is wrong.
    """
    check = source.check
    if not installed(check, "", "shapely", "pyproj"):
        return None
    marks = read_marks(source.path, check)
    if marks is None:
        return None
    for key in ("layer", "fields"):
        if source.said[key]:
            check.add(key, source.said[key], "none: GPX and KML files have no layers, and fields of our names only")
    before = len(check.problems)
    points = source.key in ("hosts", "sources")
    kept = _hosts(marks, source) if points else _shapes(marks, source)
    if not kept and len(check.problems) == before:
        check.add("", Said(_counted(marks)), _WANTED.get(source.key, _WANTED["boundary"]))
    if len(check.problems) > before:
        return None
    return _points(kept, source) if points else _polygons(kept, source, metres)


def _hosts(marks: list[Mark], source: Source) -> list[Mark]:
    points = [mark for mark in marks if mark.shape == POINT]
    left = [mark for mark in points if role_of(mark) in (MAT, BOUNDARY)] if source.key == "hosts" else []
    _remark_left(left, "no hosts by their words", source.check)
    return [mark for mark in points if not any(mark is other for other in left)]


def _shapes(marks: list[Mark], source: Source) -> list[Mark]:
    """Choose outlines and tracks, and for mats points too, by what they are meant to be."""
    wanted = {"mats": MAT, "boundary": BOUNDARY}.get(source.key)
    roles = [(mark, role_of(mark)) for mark in marks if mark.shape != POINT or source.key == "mats"]
    said = [mark for mark, role in roles if role == wanted]
    if said and wanted == BOUNDARY:
        return said
    # points that say nothing are trees rather than mats, unless no point says anything
    dumb = all(role == UNSAID for mark, role in roles if mark.shape == POINT)
    kept = [mark for mark, role in roles if role == wanted or (role == UNSAID and (mark.shape != POINT or dumb))]
    if wanted is None:
        kept = [mark for mark, role in roles if role not in (HOST, MAT, BOUNDARY)]
    return kept


def _points(marks: list[Mark], source: Source) -> Features:
    """Give hosts or sources with the fields that a CSV file would have."""
    import shapely

    fields = [own_fields(mark) for mark in marks]
    if source.key == "hosts":
        states = [state_of(mark) for mark in marks]
        unsaid = [mark.place for mark, state in zip(marks, states, strict=True) if not state]
        usual = source.said["state"]
        if usual is not None and usual not in STATES:
            source.check.add("state", usual, one_of(STATES))
        if unsaid:
            named = ", ".join(unsaid[:3]) + (" and others" if unsaid[3:] else "")
            words = f"{len(unsaid):,} of {len(marks):,} points say no state, so they are {usual or 'bare'} ({named})"
            hint = '; state = "climbing" beside file would make them climbing' if usual is None else ": are all trees?"
            source.check.remark("", words + hint)
        for own, state in zip(fields, states, strict=True):
            own["state"] = state or usual or "bare"
    return _features(source.path, marks, shapely.points([mark.rings[0][0] for mark in marks]), fields)


def _polygons(marks: list[Mark], source: Source, metres: float) -> Features | None:
    """Give outlines; a mat has a cover."""
    check = source.check
    before = len(check.problems)
    shapes, covers = [], list[str]()
    for k, mark in enumerate(marks):
        shapes.append(outline(mark, source, metres))
        if source.key == "mats":
            covers.append(_cover(mark, source))
        if len(check.problems) - before >= _MOST_NAMED and k + 1 < len(marks):
            check.problems.say(
                check.thing, "", f"{len(marks) - k - 1:,} more points, tracks and outlines not looked at"
            )
            return None
    fields: list[dict[str, Any]] = [{"name": mark.name or f"unit {k}"} for k, mark in enumerate(marks, 1)]
    for own, cover in zip(fields, covers, strict=False):
        own["cover"] = cover
    if len(check.problems) > before:
        return None
    geometries = np.empty(len(shapes), dtype=object)
    geometries[:] = shapes
    return _features(source.path, marks, in_degrees(geometries, marks), fields)


def _cover(mark: Mark, source: Source) -> str:
    """Give the cover of a mat as a text that `cover_of` reads, or note that there is none."""
    usual, scale = source.said["cover"], source.said["scale"]
    said = cover_said(mark) or ("" if usual is None else str(usual))
    known = None if scale is None else scale_of(scale)
    found = cover_of(said, known) if said else None
    if found is None:
        allowed = f"{cover_allowed(known)}, in its name or description; or cover = 0.7 beside file for all"
        source.check.add(f"{mark.place}, cover", said or MISSING, allowed)
        return "0"
    return said if found.scale in CLASSES or known is not None else f"{found.middle!r}"


def _features(path: Path, marks: list[Mark], geometries: Any, rows: list[dict[str, Any]]) -> Features:
    from pyproj import CRS

    from spreadsim.inputs.crs import DEGREES
    from spreadsim.inputs.vector_file import Features, plain_column

    names = list(dict.fromkeys(name for row in rows for name in row))
    fields = {name: plain_column([row.get(name) for row in rows]) for name in names}
    places = tuple(mark.place for mark in marks)
    return Features(str(path), np.asarray(geometries, dtype=object), fields, CRS.from_user_input(DEGREES), places)


def _remark_left(left: list[Mark], why: str, check: Check) -> None:
    if left:
        named = "; ".join(mark.place for mark in left[:3]) + (f" and {len(left) - 3:,} more" if left[3:] else "")
        check.remark("", f"left out, {why}: {named}")


def _counted(marks: list[Mark]) -> str:
    counts = [(sum(mark.shape == shape for mark in marks), shape) for shape in (POINT, LINE, AREA)]
    held = ", ".join(f"{count:,} {shape}{'s' if count != 1 else ''}" for count, shape in counts)
    return held + (", none of them for this" if marks else "")
