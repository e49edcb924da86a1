"""Headings of tables: which column is meant, and in which unit it is."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import NamedTuple

from spreadsim.errors import Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.raw_tables import RawTable
from spreadsim.inputs.units import FOOT

LENGTHS: Mapping[str, float] = MappingProxyType(
    {
        **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
        **dict.fromkeys(("ft", "foot", "feet"), FOOT),
    }
)
# Plain words for columns of ours.
_ALIASES: Mapping[str, str] = MappingProxyType(
    {
        "east": "easting",
        "north": "northing",
        **dict.fromkeys(("lon", "long", "lng", "decimal longitude", "decimallongitude"), "longitude"),
        **dict.fromkeys(("lat", "decimal latitude", "decimallatitude"), "latitude"),
        "status": "state",
        "type": "kind",
        "size": "girth",
        "light": "top_light",
        "tree height": "height",
        "years climbed": "years_climbing",
        "percent cover": "cover",
        "cover class": "cover",
        "fruiting hosts": "hosts",
        "accuracy": "uncertainty",
        **dict.fromkeys(("number", "how many"), "count"),
        "unit name": "unit",
    }
)
_UNCERTAINTY = ("coordinateuncertaintyinmeters", "coordinate uncertainty in meters")  # of Darwin Core
# What people write beside what is used; left alone.
_FREE = frozenset(
    {"tag", "id", "no", "nr", "name", "note", "notes", "comment", "comments", "remarks", "species", "date", "observer"}
    | {"observers", "photo", "photos", "number", "accuracy", "uncertainty", "unit", "circumference"}
)
PAIRS = (("x", "y"), ("easting", "northing"), ("longitude", "latitude"))


class Heading(NamedTuple):
    """A column of a file that is used: its number there, its text, our name for it, metres in its unit or None."""

    column: int
    text: str
    name: str
    metres: float | None


def headings_of(
    raw: RawTable,
    names: Collection[str],
    needed: Collection[str],
    check: Check,
    said: Mapping[str, str] | None = None,
    *,
    aliases: Mapping[str, str] | None = None,
) -> list[Heading] | None:
    """Find our columns among the headings of a file.

    Capitals, spaces, hyphens and underscores make no difference. A heading may say its unit: ``height (ft)``,
    ``x_m``. In place of ``x`` and ``y`` there may be ``easting`` and ``northing``, or ``longitude`` and ``latitude``.

    Parameters
    ----------
    raw : RawTable
        With the headings.
    names, needed : collections of str
        Columns that there may be, and must be.
    check : Check
        Where to note headings that are not known, twice or missing.
    said : mapping, optional
        Headings by our names, where the file that names the table says so.
    aliases : mapping, optional
        More plain words for columns, for a kind of table that may have any other columns besides.

    Returns
    -------
    list of Heading or None
        None if something is wrong.
    """
    before = len(check.problems)
    placed = {"x", "y"} <= set(names)
    allowed = (*names, *(name for pair in PAIRS[1:] for name in pair)) if placed else tuple(names)
    theirs = {" ".join(text.lower().split()): name for name, text in (said or {}).items()}
    found: list[Heading] = []
    for index, text in enumerate(raw.headings):
        if text:
            _one(
                Heading(index, text, *_meant(text, allowed, theirs, aliases or {})),
                allowed,
                found,
                raw,
                check,
                aliases is not None,
            )
        elif any(row[index] for _, row in raw.rows):
            check.add(raw.at, Said(f"no heading over column {index + 1}"), "a heading over every column")
    for name, text in (said or {}).items():
        if name not in allowed:
            check.add(f"fields.{name}", name, one_of(allowed))
        elif name not in [one.name for one in found]:
            check.add(f"fields.{name}", text, f"a heading of the file: {', '.join(raw.headings)}")
    if len(check.problems) == before:
        _check_needed([one.name for one in found], names, needed, raw, check)
    return found if len(check.problems) == before else None


def _one(
    heading: Heading, allowed: Collection[str], found: list[Heading], raw: RawTable, check: Check, any_other: bool
) -> None:
    if heading.name in allowed:
        if any(other.name == heading.name for other in found):
            check.add(raw.at, Said(f'column "{heading.name}" twice'), "each column only once")
        found.append(heading)
    elif heading.name not in _FREE and not any_other:
        close = get_close_matches(heading.name, [name for name in allowed], 1)
        hint = f' (perhaps "{close[0]}" was meant)' if close else ""
        free = ", or for your own use tag, name, notes, species, date"
        check.add(raw.at, Said(f'column "{heading.text}"{hint}'), one_of(allowed) + free)


def _check_needed(
    found: list[str], names: Collection[str], needed: Collection[str], raw: RawTable, check: Check
) -> None:
    placed = {"x", "y"} <= set(needed)
    whole = [pair for pair in PAIRS if set(pair) <= set(found)]
    if placed and len(whole) > 1:
        check.add(raw.at, Said(f"{' and '.join(', '.join(pair) for pair in whole)}"), "one pair of coordinates")
    for name in needed:
        if name not in found and not (placed and whole and name in ("x", "y")):
            check.add(raw.at, Said(f'no column "{name}"'), f"columns {', '.join(names)}")
    for pair in PAIRS[1:]:
        if placed and whole and whole != [pair] and set(pair) & set(found):
            check.add(raw.at, Said(f"{' and '.join(set(pair) & set(found))}"), "one pair of coordinates")


def _meant(
    text: str, allowed: Collection[str], theirs: Mapping[str, str], aliases: Mapping[str, str]
) -> tuple[str, float | None]:
    """Give the name of ours that a heading means, and metres in the unit that it says."""
    plain = " ".join(text.lower().split())
    if plain in theirs:
        return theirs[plain], None
    plain = plain.removeprefix("dwc:").removeprefix("eco:")
    spaced = " ".join(re.sub(r"[_\-]+", " ", plain).split())
    if spaced in _UNCERTAINTY and "uncertainty" in allowed:
        return "uncertainty", 1.0
    name = _named(spaced, allowed, aliases)
    if name in allowed or name in _FREE:
        return name, None
    match = re.fullmatch(r"(.*\S)(?:\s+|\s*[(\[])(%|[a-z]+)[)\]]?", spaced)
    if match is None:
        return spaced, None
    name = _named(match[1], allowed, aliases)
    if match[2] in LENGTHS and name in allowed:
        return name, LENGTHS[match[2]]
    if match[2] in ("%", "percent", "degrees", "deg") and name in allowed:
        return name, None
    return spaced, None


def _named(spaced: str, allowed: Collection[str], aliases: Mapping[str, str]) -> str:
    """Give our name for a heading without capitals and marks; the heading itself if it is none."""
    for name in allowed:
        if spaced in (name.lower().replace("_", " "), name.lower().replace("_", "")):
            return name
    alias = aliases.get(spaced, _ALIASES.get(spaced, spaced))
    return alias if alias in allowed else spaced
