"""What the words about a point or track of a phone mean, by simple rules.

Whole words in the name, comment, description or type of a point, or the name of its folder, count; capitals don't.

- state: ``fruiting``, ``fruit``, ``fruits``, ``berries`` make a fruiting host; else ``climbing``, ``climbed``,
  ``climbs`` a climbing one; else ``bare`` a bare one. A word behind ``no``, ``not`` or ``without`` doesn't count.
- kind and girth: one of our own words, such as ``fence`` or ``large``.
- mat: ``mat``, ``mats``, ``patch`` or ``carpet``; its cover from ``70 %``, ``cover 0.7`` or ``daubenmire 4``, its
  radius from ``radius 3 m`` or ``radius 10 ft``.
- boundary: ``boundary`` or ``outline``.

Data with a name (``state``, ``kind``, ``girth``, ``cover``, ``radius``, ``height``...) counts before words.
"""

from __future__ import annotations

import re

from spreadsim.inputs.hosts import GIRTHS, KINDS
from spreadsim.inputs.phone_xml import Mark

MAT, HOST, BOUNDARY, UNSAID = "mat", "host", "boundary", "unsaid"
_STATES = (
    ("fruiting", ("fruiting", "fruit", "fruits", "berries")),
    ("climbing", ("climbing", "climbed", "climbs")),
    ("bare", ("bare",)),
)
_ROLES = ((MAT, ("mat", "mats", "patch", "carpet")), (BOUNDARY, ("boundary", "outline")))
_COVER = re.compile(
    r"(?P<percent>(?<![\d.])\d++(?:\.\d++)?\s*%)|\bcover(?:\s+of)?[\s:=]+(?P<share>\d+(?:\.\d+)?)(?![\d.]*\s*%)|"
    r"(?P<named>(?:(?:modified\s+)?daubenmire|braun[\s-]*blanquet)\s*(?:class)?[\s:]*[\w+]+)"
)
_RADIUS = re.compile(r"\bradius(?:\s+of)?[\s:=]+(\d+(?:\.\d+)?\s*(?:m|ft|feet)?)\b")
OWN = ("kind", "girth", "top_light", "height", "years_climbing", "known", "uncertainty", "hosts")


def role_of(mark: Mark) -> str:
    """Tell what a point or track is meant to be: a mat, a host, a boundary, or unsaid."""
    if "state" in mark.fields or state_of(mark):
        return HOST
    found = next((role for role, words in _ROLES if _says(mark.words, words)), None)
    if found is None and _says(mark.words, KINDS):
        return HOST
    return found or UNSAID


def state_of(mark: Mark) -> str:
    """Give the state of a host; empty if nothing is said."""
    if "state" in mark.fields:
        return mark.fields["state"]
    return next((state for state, words in _STATES if _says(mark.words, words)), "")


def cover_said(mark: Mark) -> str:
    """Give the cover of a mat as it is written; empty if nothing is said."""
    if "cover" in mark.fields:
        return mark.fields["cover"]
    match = _COVER.search(mark.words)
    return "" if match is None else next(part for part in match.groups() if part)


def radius_said(mark: Mark) -> str:
    """Give the radius of a mat with its unit; empty if nothing is said."""
    if "radius" in mark.fields:
        return mark.fields["radius"]
    match = _RADIUS.search(mark.words)
    return "" if match is None else match[1]


def own_fields(mark: Mark) -> dict[str, str]:
    """Give what else is said of a host, by our names."""
    found = {name: mark.fields[name] for name in OWN if name in mark.fields}
    for name, words in (("kind", KINDS), ("girth", GIRTHS)):
        said = next((word for word in words if _says(mark.words, (word,))), None)
        if name not in found and said is not None:
            found[name] = said
    return found


def _says(text: str, words: tuple[str, ...]) -> bool:
    any_of = "|".join(words)
    return any(match[1] is None for match in re.finditer(rf"\b((?:no|not|without)\s+)?(?:{any_of})\b", text))
