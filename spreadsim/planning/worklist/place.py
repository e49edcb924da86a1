"""A place of a work list."""

from dataclasses import dataclass
from typing import Any

LEAST_SHARE = 0.2  # a place that fewer worlds came to is not listed
PLANNED = 0.5  # one that at least so many came to is planned; the others are for when hours are left
CRUMB = 0.005  # h: less is 0 in a table, and nobody is sent for it
HOST, GROUND, SEARCH, FIND = "host", "ground", "whole unit", "to be found"


@dataclass(frozen=True)
class Place:
    """A host, a piece of ground or a unit to search, in a season."""

    season: int
    unit: int
    task: int
    order: int
    """From 1, within season and task."""
    kind: str
    label: str
    """H12 is host 12 of the site's list, from 0; G3 a piece of ground, numbered in the whole list; U2 all of unit 2; F2
    what has to be found in unit 2 before it can be worked."""
    x: float
    y: float
    """m from the south-west corner of the site."""
    share: float
    """Of the worlds in which the task came to it; of a piece of ground the mean of its cells."""
    visit: bool
    """Whether it is a follow-up visit in most of them."""
    hours: float
    """Of all crews, where the task came to it."""
    treatments: tuple[str, ...]
    """What was done to it, the commonest first; for ground what the task may use."""
    about: str
    area: float
    """m2; 0 for a host."""
    cells: Any
    """Numbers of its cells; none for a host."""

    @property
    def planned(self) -> bool:
        """Whether it belongs to the plan, and is not only for when hours are left."""
        return self.share >= PLANNED
