"""The weather that matters to work: days fit to spray."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import by_season
from spreadsim.schema import SEASONS


@dataclass(frozen=True, init=False)
class Weather:
    """Mean number of days fit to spray.

    Attributes
    ----------
    fit_days : tuple of four floats
        In winter, spring, summer and autumn; the number of a year is drawn around it. The defaults are
        assumed: common practice, no source.
    """

    fit_days: tuple[float, float, float, float] = (4.0, 6.0, 8.0, 5.0)

    def __init__(
        self, fit_days: float | Mapping[str, float] | Iterable[float] = (4.0, 6.0, 8.0, 5.0)
    ) -> None:
        """Check and freeze; what is not allowed (0 to 92 days) is an `InputError`."""
        check = Check("Weather")
        days = by_season(check, "fit_days", fit_days)
        for season, number in zip(SEASONS, days, strict=True):
            if number > 92:
                check.add(f"fit_days.{season}", number, "0 to 92 days")
        check.done()
        object.__setattr__(self, "fit_days", days)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        return {"fit_days": dict(zip(SEASONS, self.fit_days, strict=True))}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Weather:
        """Make it of what `to_dict` gave."""
        return cls(**data)
