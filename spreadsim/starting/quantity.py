"""Quantities as people type them: ``40 ac``, ``2.5 ha``, ``60 %``, ``300 trees/ha``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from spreadsim.inputs.checks import Check
from spreadsim.inputs.units import ACRE, HECTARE, SQUARE_FOOT

_AREAS: Mapping[str, float] = MappingProxyType(
    {
        **dict.fromkeys(("ha", "hectare", "hectares"), HECTARE),
        **dict.fromkeys(("ac", "acre", "acres"), ACRE),
        **dict.fromkeys(("m2", "sqm", "m^2"), 1.0),
        **dict.fromkeys(("ft2", "sqft", "ft^2"), SQUARE_FOOT),
        **dict.fromkeys(("km2", "km^2"), 1e6),
    }
)
_NUMBER = re.compile(
    r"\s*([+-]?\d[\d,_ ]*(?:\.\d+)?(?:e[+-]?\d+)?|[+-]?\.\d+)\s*(.*?)\s*", re.ASCII | re.DOTALL | re.IGNORECASE
)


def area_of(check: Check, place: str, text: object, system: str) -> float:
    """Read an area; a bare number is in hectares, or in acres where the system is ``"us"``.

    Parameters
    ----------
    check : Check
        Where to note what is wrong.
    place : str
        The place named there, such as ``--area``.
    text : str or float
        ``"40 ac"``, ``"2.5 ha"``, ``16``.
    system : str
        ``"metric"`` or ``"us"``.

    Returns
    -------
    float
        m2; 0 if it is none.
    """
    allowed = "an area, such as 2.5 ha or 40 ac"
    number, unit = _parts(text)
    factor = _AREAS.get(unit.replace(" ", "") or ("acre" if system == "us" else "ha"))
    if number is None or factor is None or not number > 0:
        check.add(place, text, allowed)
        return 0.0
    return number * factor


def density_of(check: Check, place: str, text: object, system: str) -> float:
    """Read trees per hectare or acre (``"300"``, ``"120/ac"``, ``"300 a hectare"``); gives them per m2."""
    number, unit = _parts(text)
    words = re.sub(r"^(trees?)?\s*(/|per\b|an?\b)?\s*", "", unit)
    factor = _AREAS.get(words or ("acre" if system == "us" else "ha"))
    if number is None or factor is None or number < 0:
        check.add(place, text, "trees a hectare or acre, such as 300, 300/ha or 120/ac")
        return 0.0
    return number / factor


def share_of(check: Check, place: str, text: object) -> float:
    """Read a share: ``"4 %"``, or ``0.04``; a bare number above 1 is per cent."""
    number, unit = _parts(text)
    if (number is not None and unit in ("%", "percent", "per cent", "pct")) or (
        number is not None and not unit and number > 1
    ):
        number /= 100
    elif unit:
        number = None
    if number is None or not 0 <= number <= 1:
        check.add(place, text, "a share, such as 4 % or 0.04")
        return 0.0
    return number


def count_of(check: Check, place: str, text: object, most: float = 1e6) -> float:
    """Read a number of 0 or more, commas between thousands allowed; ``"300 h"`` and ``"4 days"`` too."""
    number, unit = _parts(text)
    if number is None or not 0 <= number <= most or unit not in ("", "h", "hours", "days", "d", "trees"):
        check.add(place, text, f"a number from 0 to {most:,.0f}")
        return 0.0
    return number


def _parts(text: object) -> tuple[float | None, str]:
    """Take number and unit apart, the unit in small letters; no number if there is none."""
    found = None if isinstance(text, bool) else _NUMBER.fullmatch(str(text))
    if found is None or len(str(text)) > 60:
        return None, ""
    return float(re.sub(r"[,_ ]", "", found[1])), found[2].lower()
