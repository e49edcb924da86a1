"""An event: a storm, a gap or the removal of shrubs, planned or by chance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, asdict, dataclass
from typing import Any

from spreadsim.errors import MISSING
from spreadsim.inputs.checks import Check
from spreadsim.schema import SEASONS

KINDS = ("storm", "gap", "shrub removal")


@dataclass(frozen=True)
class Event:
    """What disturbs the ground in a circle, and may fell trees there.

    A planned event has a `year` and a place; one by chance has `per_year`, and falls anywhere on the site.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    year : int or None
        Of a planned event, from 1.
    per_year : float
        Of one by chance: mean number a year, 0 to 100.
    season : str
        When in the year.
    x, y : float or None
        Centre of a planned event, m from the south-west corner of the site.
    radius : float
        m, above 0.
    trees_fall : float
        Share of the trees in the circle that fall, 0 to 1.
    """

    kind: str
    _: KW_ONLY
    year: int | None = None
    per_year: float = 0.0
    season: str = "spring"
    x: float | None = None
    y: float | None = None
    radius: float
    trees_fall: float = 0.0

    def __post_init__(self) -> None:
        """Check everything and put numbers in their proper types."""
        check = Check(f'Event "{self.kind}"')
        check.choice("kind", self.kind, KINDS)
        check.choice("season", self.season, SEASONS)
        values: dict[str, Any] = {
            "per_year": check.number("per_year", self.per_year, 0, 100),
            "radius": check.number("radius", self.radius, 0, 100_000, above=True),
            "trees_fall": check.number("trees_fall", self.trees_fall, 0, 1),
        }
        if self.year is not None:
            values["year"] = check.whole("year", self.year, 1)
        for axis in ("x", "y"):
            if getattr(self, axis) is not None:
                values[axis] = check.number(axis, getattr(self, axis), -1e8, 1e8)
        self._check_when_and_where(check)
        check.done()
        for field, value in values.items():
            object.__setattr__(self, field, value)

    def _check_when_and_where(self, check: Check) -> None:
        if self.year is None and self.per_year == 0:
            check.add("year", MISSING, "a year with x and y (planned), or per_year above 0 (by chance)")
        elif self.year is None:
            for axis in ("x", "y"):
                if getattr(self, axis) is not None:
                    check.add(axis, getattr(self, axis), "none for an event by chance, which falls anywhere")
        else:
            if self.per_year != 0:
                check.add("per_year", self.per_year, "none for a planned event, which has a year")
            for axis in ("x", "y"):
                if getattr(self, axis) is None:
                    check.add(axis, MISSING, "a number of metres for a planned event, which has a year")

    @property
    def planned(self) -> bool:
        """Whether it has a year and a place; else it comes by chance."""
        return self.year is not None

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        return asdict(self)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Event:
        """Make an event of what `to_dict` gave."""
        return cls(**data)
