"""Units: exact factors into SI, and out of it for people who work in feet and acres.

Inside, everything is in metres, square metres, hours and years. Other units are met only where a file is read
or a number is shown. The foot is 0.3048 m and the acre 4840 square yards of it, both by definition
(international yard, 1959); all else follows from these.
"""

from __future__ import annotations

from typing import NamedTuple

from spreadsim.errors import InputError, Problem, one_of, show

FOOT = 0.3048  # m
YARD = 3 * FOOT
MILE = 5280 * FOOT
INCH = FOOT / 12
SQUARE_FOOT = FOOT * FOOT  # m2
ACRE = 43560 * SQUARE_FOOT
HECTARE = 10000.0
POUND = 0.45359237  # kg
FAHRENHEIT = 5 / 9  # degC of a difference of 1 degF
US_GALLON = 231 * INCH**3 * 1000  # L


class _Unit(NamedTuple):
    dimension: str
    si: str
    factor: float


UNITS: dict[str, _Unit] = {
    "m": _Unit("length", "m", 1.0),
    "km": _Unit("length", "m", 1000.0),
    "ft": _Unit("length", "m", FOOT),
    "yd": _Unit("length", "m", YARD),
    "mile": _Unit("length", "m", MILE),
    "m2": _Unit("area", "m2", 1.0),
    "ha": _Unit("area", "m2", HECTARE),
    "ft2": _Unit("area", "m2", SQUARE_FOOT),
    "acre": _Unit("area", "m2", ACRE),
    "m/yr": _Unit("speed", "m/yr", 1.0),
    "ft/yr": _Unit("speed", "m/yr", FOOT),
    "1/m2": _Unit("density", "1/m2", 1.0),
    "1/ha": _Unit("density", "1/m2", 1 / HECTARE),
    "1/ft2": _Unit("density", "1/m2", 1 / SQUARE_FOOT),
    "1/acre": _Unit("density", "1/m2", 1 / ACRE),
    "h/m2": _Unit("effort", "h/m2", 1.0),
    "h/100 m2": _Unit("effort", "h/m2", 1 / 100),
    "h/ha": _Unit("effort", "h/m2", 1 / HECTARE),
    "h/acre": _Unit("effort", "h/m2", 1 / ACRE),
    "h/acre walked": _Unit("effort", "h/m2", 1 / ACRE),
    "h": _Unit("time", "h", 1.0),
    "min": _Unit("time", "h", 1 / 60),
    "h per visit": _Unit("time", "h", 1.0),
    "h per asking": _Unit("time", "h", 1.0),
    "1": _Unit("number", "1", 1.0),
    "1 per asking and yr": _Unit("number", "1", 1.0),
    "m3/m2": _Unit("depth", "m3/m2", 1.0),
    "m3/100 m2": _Unit("depth", "m3/m2", 1 / 100),
    "ft3/ft2": _Unit("depth", "m3/m2", FOOT),
    "yd3/ft2": _Unit("depth", "m3/m2", YARD**3 / SQUARE_FOOT),
    "min/ha": _Unit("search time", "min/ha", 1.0),
    "min/acre": _Unit("search time", "min/ha", HECTARE / ACRE),
    "currency/m2": _Unit("price of area", "currency/m2", 1.0),
    "USD/m2": _Unit("price of area", "currency/m2", 1.0),
    "USD/acre": _Unit("price of area", "currency/m2", 1 / ACRE),
    "currency/100 m2": _Unit("price of area", "currency/m2", 1 / 100),
    "currency/ha": _Unit("price of area", "currency/m2", 1 / HECTARE),
    "currency/acre": _Unit("price of area", "currency/m2", 1 / ACRE),
}

SYSTEMS = ("metric", "us")
_SHOWN = {
    "metric": {
        "length": "m",
        "area": "m2",
        "large area": "ha",
        "speed": "m/yr",
        "density": "1/ha",
        "effort": "h/ha",
    },
    "us": {
        "length": "ft",
        "area": "ft2",
        "large area": "acre",
        "speed": "ft/yr",
        "density": "1/acre",
        "effort": "h/acre",
    },
}


def to_si(value: float, unit: str) -> float:
    """Convert a value into the SI unit of its dimension.

    Parameters
    ----------
    value : float
        A value in `unit`.
    unit : str
        One of `UNITS`; any other is an `InputError`.

    Returns
    -------
    float
        The value in ``UNITS[unit].si``.
    """
    known = _unit(unit)
    return value if known.factor == 1.0 else value * known.factor


def from_si(value: float, unit: str) -> float:
    """Convert a value from SI into `unit`; the reverse of `to_si`."""
    known = _unit(unit)
    return value if known.factor == 1.0 else value / known.factor


def convert(value: float, unit: str, wanted: str) -> float:
    """Convert between two units of one dimension; others are an `InputError`."""
    if unit == wanted:
        return value
    if _unit(unit).dimension != _unit(wanted).dimension:
        raise InputError(Problem("", "unit", f"found {show(unit)}, allowed a unit that converts to {wanted}"))
    return from_si(to_si(value, unit), wanted)


def convertible(unit: str, wanted: str) -> bool:
    """Tell whether values in `unit` can be converted to `wanted`."""
    if unit == wanted:
        return True
    return unit in UNITS and wanted in UNITS and UNITS[unit].dimension == UNITS[wanted].dimension


def display(value: float, dimension: str, system: str = "metric") -> tuple[float, str]:
    """Give a value and its unit as people of a system of units like to see it.

    Parameters
    ----------
    value : float
        In SI.
    dimension : str
        ``"length"``, ``"area"`` (m2 or ft2), ``"large area"`` (ha or acres), ``"speed"``, ``"density"``
        (per ha or acre) or ``"effort"`` (h per ha or acre).
    system : str
        ``"metric"`` or ``"us"``.

    Returns
    -------
    tuple of float and str
        The value in the unit, and the unit.
    """
    if system not in SYSTEMS:
        raise InputError(Problem("", "units", f"found {show(system)}, allowed {one_of(SYSTEMS)}"))
    shown = _SHOWN[system]
    if dimension not in shown:
        raise InputError(Problem("", "dimension", f"found {show(dimension)}, allowed {one_of(shown)}"))
    unit = shown[dimension]
    return from_si(value, unit), unit


def _unit(unit: str) -> _Unit:
    if unit not in UNITS:
        raise InputError(Problem("", "unit", f"found {show(unit)}, allowed {one_of(UNITS)}"))
    return UNITS[unit]
