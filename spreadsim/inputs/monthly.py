"""Weather as monthly means, and the days fit to spray that follow from them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import KW_ONLY, asdict, dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from spreadsim.inputs.checks import Check

WEATHER_YEARS = 200  # synthetic years; a season's mean is then known to a few percent
_KEY = 0x5EA50  # of the draws: any number, always the same, so that a table depends on what is given alone
_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_LISTS = ("temperature", "temperature_sd", "rain_days", "wind_days", "snow_days")
Twelve = tuple[float, ...]


@dataclass(frozen=True)
class Monthly:
    """Twelve numbers of each kind, January first.

    Attributes
    ----------
    temperature : tuple of twelve floats
        Mean of the daily highs, degC.
    temperature_sd : tuple of twelve floats
        Standard deviation of the high from day to day, degC.
    rain_days, wind_days, snow_days : tuple of twelve floats
        Mean number of days in the month with rain, too windy to spray, and with snow on the ground.
    year_sd : float
        Standard deviation of a month's mean from year to year, degC; 1.5 is assumed: common practice, no source.
    """

    temperature: Twelve
    temperature_sd: Twelve
    rain_days: Twelve
    wind_days: Twelve
    snow_days: Twelve
    _: KW_ONLY
    year_sd: float = 1.5

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check("Monthly")
        bounds = {"temperature": (-90.0, 60.0), "temperature_sd": (0.0, 30.0)}
        for name in _LISTS:
            low, high = bounds.get(name, (0.0, None))
            object.__setattr__(self, name, _twelve(check, name, getattr(self, name), low, high))
        object.__setattr__(self, "year_sd", check.number("year_sd", self.year_sd, 0, 10))
        check.done()

    def fit_days(self, open_days: np.ndarray, min_temperature: float) -> np.ndarray:
        """Draw the days fit to spray.

        A month's mean of the highs is normal about `temperature`, each day's high normal about that. A day is
        fit when its high reaches `min_temperature` and, by chances of their own, it and the day after are dry,
        it is calm and there is no snow. Rain comes independently from day to day here; in life it comes in
        spells, which leaves somewhat more fit days.

        Parameters
        ----------
        open_days : bool (12, 31)
            By month and day.
        min_temperature : float
            degC.

        Returns
        -------
        float64 (weather years, 4)
            Number of days by season, winter (December to February) first.
        """
        draws = np.random.Generator(np.random.Philox(key=_KEY))
        luck = draws.random((WEATHER_YEARS, 12))
        month = np.concatenate([np.full(_DAYS[m], m) for m in (11, *range(11))])
        day = np.concatenate([np.arange(_DAYS[m]) for m in (11, *range(11))])
        wet, windy, snowy = (self._chances(name)[month] for name in ("rain_days", "wind_days", "snow_days"))
        warm = draws.random((WEATHER_YEARS, month.size)) < self._warm(luck, min_temperature)[:, month]
        # one day more: the last one's rain tomorrow
        dry = draws.random((WEATHER_YEARS, month.size + 1)) >= np.append(wet, wet[0])
        calm = draws.random((WEATHER_YEARS, month.size)) >= windy
        bare = draws.random((WEATHER_YEARS, month.size)) >= snowy
        fit = warm & dry[:, :-1] & dry[:, 1:] & calm & bare & open_days[month, day]
        season = (month + 1) % 12 // 3
        return np.stack([fit[:, season == k].sum(axis=1) for k in range(4)], axis=1).astype(np.float64)

    def _chances(self, name: str) -> np.ndarray:
        chances: np.ndarray = np.minimum(np.array(getattr(self, name)) / np.array(_DAYS), 1.0)
        return chances

    def _warm(self, luck: np.ndarray, least: float) -> np.ndarray:
        """Chance that a day's high reaches `least`, by year and month."""
        normal = NormalDist()
        warm = np.empty(luck.shape)
        for year, month in np.ndindex(*luck.shape):
            mean = self.temperature[month] + self.year_sd * normal.inv_cdf(max(float(luck[year, month]), 1e-300))
            spread = self.temperature_sd[month]
            above = mean - least
            warm[year, month] = 0.5 * math.erfc(-above / spread / math.sqrt(2)) if spread > 0 else float(above >= 0)
        return warm

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain = asdict(self)
        return {name: list(value) if isinstance(value, tuple) else value for name, value in plain.items()}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Monthly:
        """Make it of what `to_dict` gave."""
        return cls(**data)


def _twelve(check: Check, place: str, values: Any, low: float, high: float | None) -> Twelve:
    """Check twelve numbers; without `high`, they are days and cannot be more than a month has."""
    if isinstance(values, str | Mapping) or not isinstance(values, Iterable):
        check.add(place, values, "twelve numbers, January first")
        return (0.0,) * 12
    listed = list(values)
    if len(listed) != 12:
        check.add(place, listed, f"twelve numbers, January first, not {len(listed)}")
        return (0.0,) * 12
    most = [high if high is not None else float(days) for days in _DAYS]
    if high is None:
        most[1] = 29.0  # means over leap years are above 28
    return tuple(check.number(f"{place}[{k}]", value, low, most[k]) for k, value in enumerate(listed))
