"""Reading the weather of an experiment file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from spreadsim.errors import InputError
from spreadsim.inputs.checks import Check
from spreadsim.inputs.daily import read_daily
from spreadsim.inputs.file_models import MonthlyTable, WeatherTable
from spreadsim.inputs.paths import beside
from spreadsim.inputs.taking import take
from spreadsim.inputs.units import FAHRENHEIT, MILE
from spreadsim.inputs.weather import Weather

_TEMPERATURES = (-90.0, 60.0)  # degC


def read_weather(table: object, folder: Path, check: Check, *, us: bool) -> Weather | None:
    """Make the weather of ``[weather]``, noting everything that is wrong.

    Parameters
    ----------
    table : object
        What stands in the file: any one of ``fit_days``, ``monthly`` (a table of lists) and ``daily`` (a CSV
        file), with ``min_temperature``, ``max_wind``, ``closed_months`` and ``closed_days``.
    folder : Path
        Where the file lies.
    check : Check
        Where to note.
    us : bool
        Whether temperatures are in degF and wind in miles per hour, here and in the CSV file, with rain and
        snow in inches; else degC, m/s, mm and cm.

    Returns
    -------
    Weather or None
        None if something is wrong.
    """
    before = len(check.problems)
    values, _ = take(WeatherTable, table, check, "weather")
    if values["monthly"] is not None:
        values["monthly"] = _monthly(values["monthly"], check, us)
    if values["daily"] is not None:
        path = beside(folder, values["daily"], check, "weather.daily")
        values["daily"] = None if path is None else read_daily(path, check.problems, us=us)
    if us:
        for key, low, high, zero, factor in (
            ("min_temperature", -50.0, 60.0, 32.0, FAHRENHEIT),
            ("max_wind", 0.0, 60.0, 0.0, MILE / 3600.0),
        ):
            if values[key] is not None:
                values[key] = _converted(check, f"weather.{key}", values[key], low, high, zero, factor)
    ways = [key for key in ("monthly", "daily") if isinstance(table, dict) and key in table]
    if any(values[way] is None for way in ways):  # noted already, and what goes with it is not known
        return None
    try:
        made = Weather(**values)
    except InputError as error:
        check.problems.absorb(error, file=check.thing, place="weather")
        return None
    return made if len(check.problems) == before else None


def _monthly(table: object, check: Check, us: bool) -> dict[str, Any] | None:
    values, whole = take(MonthlyTable, table, check, "weather.monthly")
    if not whole:
        return None
    if us:
        low, high = _TEMPERATURES
        for k, value in enumerate(values["temperature"]):
            place = f"weather.monthly.temperature[{k}]"
            values["temperature"][k] = _converted(check, place, value, low, high, 32.0, FAHRENHEIT)
        values["temperature_sd"] = [sd * FAHRENHEIT for sd in values["temperature_sd"]]
        if values["year_sd"] is not None:
            values["year_sd"] *= FAHRENHEIT
    return {key: value for key, value in values.items() if value is not None}


def _converted(check: Check, place: str, value: float, low: float, high: float, zero: float, factor: float) -> float:
    """Check a number in the unit of the file, between bounds in SI, and give it in SI."""
    ends = (low / factor + zero, high / factor + zero)
    return min(max((check.number(place, value, *ends) - zero) * factor, low), high)
