"""The weather that matters to work: days fit to spray."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.closed_days import month_numbers, open_days, spans_of_days
from spreadsim.inputs.daily import Daily
from spreadsim.inputs.monthly import Monthly
from spreadsim.inputs.weather_parts import (
    MAX_WIND,
    MIN_TEMPERATURE,
    USUAL_DAYS,
    Four,
    limit_of,
    mean_days_of,
    part_of,
    record_of,
)
from spreadsim.schema import SEASONS

_LENGTHS = (90, 92, 92, 91)  # days in the seasons of a year of 365


@dataclass(frozen=True, init=False)
class Weather:
    """Days fit to spray, told in one of three ways.

    Attributes
    ----------
    mean_days : tuple of four floats, or None
        First way: means for winter, spring, summer and autumn; the number of a year is drawn around them. The
        defaults are assumed: common practice, no source.
    monthly : Monthly or None
        Second way: monthly means.
    daily : Daily or None
        Third way: a record of days.
    min_temperature : float
        A day is fit from this high on, degC. 7 (4 to 10) is common practice (the row foliar-spray,
        min_air_temperature of parameters.csv); the label may say otherwise, and then it is the label that counts.
    max_wind : float
        A day is fit up to this wind, m/s. 4.5 (10 miles per hour) is common practice, no source; again the label
        counts. It goes with `daily` only; `monthly` counts the windy days itself.
    closed_months : tuple of int
        Months in which nothing is sprayed, 1 to 12.
    closed_days : tuple of str
        Spans of days in which nothing is sprayed, such as ``"11-15/11-30"`` for a deer hunt. Where means by season
        are given, closed months and days take their share of the season out of them.

    Notes
    -----
    Besides, a day is fit when neither it nor the day after has rain, and no snow lies: as labels and handbooks
    commonly ask; common practice, no source.
    """

    mean_days: Four | None = USUAL_DAYS
    monthly: Monthly | None = None
    daily: Daily | None = None
    min_temperature: float = MIN_TEMPERATURE
    max_wind: float = MAX_WIND
    closed_months: tuple[int, ...] = ()
    closed_days: tuple[str, ...] = ()

    def __init__(
        self,
        fit_days: float | Mapping[str, float] | Iterable[float] | None = None,
        *,
        monthly: Monthly | Mapping[str, Any] | None = None,
        daily: Daily | Mapping[str, Any] | str | Path | None = None,
        min_temperature: float | None = None,
        max_wind: float | None = None,
        closed_months: Iterable[int | str] = (),
        closed_days: Iterable[str] = (),
    ) -> None:
        """Check and freeze the weather.

        Parameters
        ----------
        fit_days : float, mapping or four numbers, optional
            Mean number of days in every season, by season (0 where not named) or from winter to autumn; 0 to 92.
        monthly : Monthly or mapping of its fields, optional
            Twelve numbers of each kind.
        daily : Daily, mapping of its fields, or path of a CSV file in metric units, optional
            A record of days.
        min_temperature, max_wind : float, optional
            Limits, where they are not the usual ones.
        closed_months : list of ints or texts
            By number or name.
        closed_days : list of texts
            Such as ``"11-15/11-30"``.

        Raises
        ------
        InputError
            For everything that is not allowed: more than one of the three ways, limits that are of no use with it.
        """
        check = Check("Weather")
        given = {"fit_days": fit_days, "monthly": monthly, "daily": daily}
        ways = [name for name, way in given.items() if way is not None]
        if len(ways) > 1:
            check.add(ways[1], Said(f"{' and '.join(ways)} together"), "one of fit_days, monthly and daily")
        values: dict[str, Any] = {
            "mean_days": None,
            "monthly": None if monthly is None else part_of(check, "monthly", Monthly, monthly),
            "daily": None if daily is None else record_of(check, daily),
            "min_temperature": limit_of(check, "min_temperature", min_temperature, (-50, 60), ways),
            "max_wind": limit_of(check, "max_wind", max_wind, (0, 60), ways),
        }
        if fit_days is not None or not ways:
            values["mean_days"] = mean_days_of(check, USUAL_DAYS if fit_days is None else fit_days)
        values["closed_months"] = month_numbers(check, "closed_months", closed_months)
        values["closed_days"] = spans_of_days(check, "closed_days", closed_days)
        check.done()
        for name, value in values.items():
            object.__setattr__(self, name, value)

    @cached_property
    def table(self) -> np.ndarray | None:
        """Days fit to spray, float64 (weather years, 4), read-only; None where means by season are given."""
        days = open_days(self.closed_months, self.closed_days)
        if self.monthly is not None:
            table = self.monthly.fit_days(days, self.min_temperature)
        elif self.daily is not None:
            table = self.daily.fit_days(days, self.min_temperature, self.max_wind)
        else:
            return None
        table.setflags(write=False)
        return table

    @property
    def fit_days(self) -> Four:
        """Mean number of days fit to spray in winter, spring, summer and autumn, closed ones taken out."""
        if self.table is not None:
            four = [float(mean) for mean in self.table.mean(axis=0)]
        else:
            means = USUAL_DAYS if self.mean_days is None else self.mean_days
            four = [mean * share for mean, share in zip(means, self._open_shares(), strict=True)]
        return four[0], four[1], four[2], four[3]

    def _open_shares(self) -> list[float]:
        """Share of each season's days that are open."""
        days = open_days(self.closed_months, self.closed_days)
        days[1, 28:] = days[[3, 5, 8, 10], 30] = True  # days that there are not
        closed = (~days).sum(axis=1)
        return [1.0 - float(closed[[3 * k - 1, 3 * k, 3 * k + 1]].sum()) / _LENGTHS[k] for k in range(4)]

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain: dict[str, Any] = {}
        if self.mean_days is not None:
            plain["fit_days"] = dict(zip(SEASONS, self.mean_days, strict=True))
        for name in ("monthly", "daily"):
            if getattr(self, name) is not None:
                plain |= {name: getattr(self, name).to_dict(), "min_temperature": self.min_temperature}
        if self.daily is not None:
            plain["max_wind"] = self.max_wind
        return plain | {"closed_months": list(self.closed_months), "closed_days": list(self.closed_days)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Weather:
        """Make it of what `to_dict` gave."""
        return cls(**data)
