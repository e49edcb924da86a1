"""A steward's own totals of a site, to be held against the map."""

from __future__ import annotations

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.file_models import TotalsTable
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.taking import take
from spreadsim.inputs.units import UNITS, to_si

_AREAS = ("area", "mat_area")


def totals_of(context: Context) -> tuple[tuple[str, float], ...]:
    """Read ``[totals]`` of a site file.

    Parameters
    ----------
    context : Context
        Numbers of area are in hectares, or acres where its units are ``"us"``; a text such as ``"300 m2"`` or
        ``"2.5 acre"`` says its own.

    Returns
    -------
    tuple of (str, float)
        ``area`` and ``mat_area`` in m2, ``hosts``, ``climbed`` (fruiting ones included) and ``fruiting``; those that
        are given.
    """
    if context.values.totals is None:
        return ()
    place = context.at("totals")
    values, _ = take(TotalsTable, context.values.totals, context.check, place)
    usual = "acre" if context.values.units == "us" else "ha"
    found = {}
    for name, value in values.items():
        if value is None:
            continue
        if name in _AREAS:
            found[name] = _area(context.check, f"{place}.{name}", value, usual)
        else:
            found[name] = float(context.check.whole(f"{place}.{name}", value, 0))
    return tuple(found.items())


def _area(check: Check, place: str, value: object, usual: str) -> float:
    parts = value.split() if isinstance(value, str) else [value, usual]
    unit = {"ac": "acre", "acres": "acre"}.get(str(parts[-1]), str(parts[-1]))
    known = [name for name, one in UNITS.items() if one.dimension == "area"]
    try:
        number = float(str(parts[0])) if len(parts) == 2 and unit in known else None
    except ValueError:
        number = None
    if number is None or isinstance(value, bool) or not is_number(number) or number < 0:
        shown = value if isinstance(value, str | int | float) else Said("no area")
        check.add(place, shown, f"a number of {usual}, or one with its unit: {', '.join(known)}")
        return 0.0
    return to_si(number, unit)
