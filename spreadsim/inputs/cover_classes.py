"""Cover as people note it: a share, percent, or a class of a scale, with the interval that it stands for.

What was noted is kept beside what it means: the code and the scale. Those who fit something take the interval;
the middle is a convention of whoever worked out the plots.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

SHARE, PERCENT = "share", "percent"
DAUBENMIRE, MODIFIED, BRAUN_BLANQUET = "daubenmire", "modified daubenmire", "braun-blanquet"


@dataclass(frozen=True)
class Cover:
    """A cover that was noted.

    Attributes
    ----------
    code : str
        As it was noted: ``"2b"``, ``"30 %"``.
    scale : str
        One of `SCALES`.
    low, high : float
        The cover lies between these, as shares.
    middle : float
        What usually stands for it, a share.
    source : str
        Where the interval and the middle come from; empty for numbers.
    """

    code: str
    scale: str
    low: float
    high: float
    middle: float
    source: str = ""


_RANGELANDS = "Rangelands Gateway, University of Arizona: Daubenmire method (read)"
_MANUAL = "US interagency technical manual of sampling vegetation attributes: modified Daubenmire scale (read)"
_BLANQUET = (
    "Braun-Blanquet cover classes as tabulated by several handbooks (read; a table that gives 17.5 for 2 is wrong)"
)
_RARE = "conventions differ: 0.1, 0.5, 3.0 or 0.1, 0.3, 2.8 for r, +, 1 (read); bounds from memory"
_SPLIT = "later division of class 2 (from memory)"

# percent: low, high, middle
_DAUBENMIRE = {
    "1": (0.0, 5.0, 2.5),
    "2": (5.0, 25.0, 15.0),
    "3": (25.0, 50.0, 37.5),
    "4": (50.0, 75.0, 62.5),
    "5": (75.0, 95.0, 85.0),
    "6": (95.0, 100.0, 97.5),
}
_TABLES: Mapping[str, Mapping[str, tuple[float, float, float, str]]] = MappingProxyType(
    {
        DAUBENMIRE: {code: (*ends, _RANGELANDS) for code, ends in _DAUBENMIRE.items()},
        MODIFIED: {
            "t": (0.0, 1.0, 0.5, _MANUAL),
            "1": (1.0, 5.0, 3.0, _MANUAL),
            **{code: (*ends, _MANUAL) for code, ends in _DAUBENMIRE.items() if code != "1"},
        },
        BRAUN_BLANQUET: {
            "r": (0.0, 1.0, 0.1, _RARE),
            "+": (0.0, 1.0, 0.5, _RARE),
            "1": (1.0, 5.0, 3.0, _RARE),
            "2": (5.0, 25.0, 15.0, _BLANQUET),
            "2m": (0.0, 5.0, 2.5, _SPLIT),
            "2a": (5.0, 15.0, 10.0, _SPLIT),
            "2b": (15.0, 25.0, 20.0, _SPLIT),
            "3": (25.0, 50.0, 37.5, _BLANQUET),
            "4": (50.0, 75.0, 62.5, _BLANQUET),
            "5": (75.0, 100.0, 87.5, _BLANQUET),
        },
    }
)
CLASSES: Mapping[str, Mapping[str, Cover]] = MappingProxyType(
    {
        scale: MappingProxyType(
            {
                code: Cover(code, scale, low / 100, high / 100, mid / 100, said)
                for code, (low, high, mid, said) in of.items()
            }
        )
        for scale, of in _TABLES.items()
    }
)
SCALES = (SHARE, PERCENT, *CLASSES)
_FILLING = re.compile(r"\b(cover|abundance|scale|class|classes|method|of)\b|[^a-z%]+")
_KNOWN = MappingProxyType(
    {
        "share": SHARE,
        "fraction": SHARE,
        "percent": PERCENT,
        "percentage": PERCENT,
        "%": PERCENT,
        "percentcover": PERCENT,
        "daubenmire": DAUBENMIRE,
        "modifieddaubenmire": MODIFIED,
        "daubenmiremodified": MODIFIED,
        "braunblanquet": BRAUN_BLANQUET,
    }
)
_NAMED = re.compile(r"(?P<scale>(?:modified\s+)?daubenmire|braun[\s-]*blanquet)\s*(?:class)?[\s:]*(?P<code>\S+)")


def scale_of(name: object) -> str | None:
    """Find a scale by its name, as people write it: ``"Braun-Blanquet Scale"``, ``"% cover"``; None if it is none."""
    if not isinstance(name, str):
        return None
    return _KNOWN.get(_FILLING.sub("", name.strip().lower()))


def cover_of(text: str, scale: str | None = None) -> Cover | None:
    """Read a cover.

    Parameters
    ----------
    text : str
        A number, a number with the sign %, a code of the scale, or a code with its scale before it, such as
        ``"Daubenmire 3"``.
    scale : str, optional
        One of `SCALES`; without it a bare number is a share.

    Returns
    -------
    Cover or None
        None if it is none: out of bounds, or no code of that scale.
    """
    noted = " ".join(text.split())
    named = _NAMED.fullmatch(noted.lower())
    if named is not None:
        own = scale_of(named["scale"])
        return None if own is None or scale not in (None, own) else _class_of(noted, named["code"], own)
    if scale in CLASSES:
        return _class_of(noted, noted.lower().removeprefix("class ").strip(), str(scale))
    percent = noted.endswith("%") or scale == PERCENT
    try:
        number = float(noted.removesuffix("%")) / (100.0 if percent else 1.0)
    except ValueError:
        return None
    if not (0.0 <= number <= 1.0) or math.isnan(number) or "_" in noted:
        return None
    return Cover(noted, PERCENT if percent else SHARE, number, number, number)


def _class_of(noted: str, code: str, scale: str) -> Cover | None:
    """Look up a code; one that stands for nothing (0) is no cover."""
    if code in ("0", "0.0"):
        return Cover(noted, scale, 0.0, 0.0, 0.0)
    # spreadsheets turn the code 3 into the number 3.0
    found = CLASSES[scale].get(code.removesuffix(".0") if code[:-2].isdigit() else code)
    return None if found is None else Cover(noted, scale, found.low, found.high, found.middle, found.source)


def cover_allowed(scale: str | None) -> str:
    """Word what `cover_of` takes."""
    if scale == PERCENT:
        return "0 to 100"
    if scale in CLASSES:
        return f"a class of {scale}: {', '.join(CLASSES[str(scale)])}"
    return '0 to 1, percent with the sign %, or a class with its scale, such as "daubenmire 3"'
