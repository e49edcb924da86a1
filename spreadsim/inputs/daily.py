"""Weather as a record of days, and the days fit to spray in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import InputError, Problems, Said
from spreadsim.inputs.arrays import Frozen, freeze
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import DAILY, read_csv
from spreadsim.inputs.units import FAHRENHEIT, INCH, MILE

_COLUMNS = {"temperature": (-90.0, 60.0), "rain": (0.0, 2000.0), "wind": (0.0, 120.0), "snow": (0.0, 2000.0)}


@dataclass(frozen=True, eq=False)
class Daily(Frozen):
    """Consecutive days, at least a whole year of them. Make one with `read_daily` or `Weather`.

    Attributes
    ----------
    first : str
        The first day, as in ``"2015-01-01"``.
    temperature : float64 (days,)
        High of the day, degC.
    rain : float64 (days,)
        mm.
    wind : float64 (days,)
        At the height and time of spraying, m/s.
    snow : float64 (days,)
        On the ground, cm; or 1 and 0 for some and none.
    """

    first: str
    temperature: np.ndarray
    rain: np.ndarray
    wind: np.ndarray
    snow: np.ndarray

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check("Daily")
        first = _date(self.first)
        if first is None:
            check.add("first", self.first, 'a date such as "2015-01-01"')
        lengths = set()
        for name, (low, high) in _COLUMNS.items():
            try:
                values = np.array(getattr(self, name), dtype=np.float64).reshape(-1)
            except (TypeError, ValueError):
                check.add(name, getattr(self, name), "numbers")
                continue
            for k in np.flatnonzero(~((values >= low) & (values <= high)))[:5]:
                check.add(f"{name}[{k}]", float(values[k]), f"{low:g} to {high:g}")
            lengths.add(values.size)
            object.__setattr__(self, name, freeze(values))
        if len(lengths) > 1:
            check.add("rain", Said(f"columns of {sorted(lengths)} days"), "columns of equal length")
        elif first is not None and lengths and _later(first, 1) > first + timedelta(days=lengths.pop()):
            check.add("first", Said(f"{self.temperature.size} days"), "at least a whole year of days")
        check.done()

    def fit_days(self, open_days: np.ndarray, min_temperature: float, max_wind: float) -> np.ndarray:
        """Count the days fit to spray in each whole year of the record.

        A day is fit when its high reaches `min_temperature`, its wind is at most `max_wind`, neither it nor the
        day after has rain (the day after the record counts as dry) and no snow lies. Years end with November;
        where the record begins or ends within one, what it has of its first year and of its last are put
        together as one year, given last. Days beyond the last whole year are left out.

        Parameters
        ----------
        open_days : bool (12, 31)
            By month and day.
        min_temperature, max_wind : float
            degC and m/s.

        Returns
        -------
        float64 (whole years, 4)
            Number of days by season, winter (December to February) first.
        """
        start = date.fromisoformat(self.first)
        days = [start + timedelta(days=k) for k in range(self.temperature.size)]
        years = 1
        while _later(start, years + 1) <= days[-1] + timedelta(days=1):
            years += 1
        n = (_later(start, years) - start).days
        dry = np.append(self.rain <= 0, True)
        fit = (self.temperature >= min_temperature) & dry[:-1] & dry[1:]
        fit = fit & (self.wind <= max_wind) & (self.snow <= 0)
        table = np.zeros((years + 1, 4))
        year_of_first = start.year + (start.month == 12)
        for day, good in zip(days[:n], fit[:n], strict=True):
            if good and open_days[day.month - 1, day.day - 1]:
                table[day.year + (day.month == 12) - year_of_first, day.month % 12 // 3] += 1.0
        if (start.month, start.day) == (12, 1):
            return table[:years]
        table[years] += table[0]
        return table[1:]

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        return {"first": self.first, **{name: getattr(self, name).tolist() for name in _COLUMNS}}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Daily:
        """Make it of what `to_dict` gave."""
        return cls(**data)


def read_daily(path: Path, problems: Problems, *, us: bool = False) -> Daily | None:
    """Read a CSV file with the columns date, temperature, rain, wind and snow, one line for each day.

    Parameters
    ----------
    path : Path
        The file.
    problems : Problems
        Where to note what is wrong, by line and column.
    us : bool
        Whether it is in degF, inches and miles per hour; else degC, mm, m/s and cm.

    Returns
    -------
    Daily or None
        None if something is wrong.
    """
    table = read_csv(path, DAILY, problems)
    if table is None:
        return None
    check = Check(str(path), problems)
    before = len(problems)
    days = [_date(text) for text in table.columns["date"]]
    for k, (row, day) in enumerate(zip(table.rows, days, strict=True)):
        last = days[k - 1] if k else None
        if day is None:
            check.add(f"{row}, date", table.columns["date"][k], "a date such as 2015-01-31")
        elif last is not None and day != last + timedelta(days=1):
            check.add(f"{row}, date", day.isoformat(), f"the day after the one before, {last + timedelta(days=1)}")
    if not days:
        check.add("", Said("no days"), "at least a whole year of days")
    if len(problems) > before or days[0] is None:
        return None
    columns = {name: table.columns[name] for name in _COLUMNS}
    if us:
        columns["temperature"] = (columns["temperature"] - 32.0) * FAHRENHEIT
        columns["rain"] = columns["rain"] * (INCH * 1000.0)
        columns["wind"] = columns["wind"] * (MILE / 3600.0)
        columns["snow"] = columns["snow"] * (INCH * 100.0)
    try:
        return Daily(days[0].isoformat(), **columns)
    except InputError as error:
        for detail in error.details:
            if detail.place == "first":
                check.problems.say(str(path), "", detail.text)
            else:
                table.absorb(detail._replace(place=f"daily.{detail.place}"), problems)
        return None


def _date(text: object) -> date | None:
    if not isinstance(text, str) or re.fullmatch(r"[1-2]\d\d\d-\d\d-\d\d", text, re.ASCII) is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:  # such as 31 February
        return None


def _later(day: date, years: int) -> date:
    """Give the same day some years later; a 29 February becomes 1 March."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
