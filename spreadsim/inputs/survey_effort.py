"""The effort of an event, of all the terms that may say it, in any of its rows."""

from __future__ import annotations

import math

from spreadsim.errors import MISSING
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.effort import Effort, area_with, effort_of, hours_with

_ALLOWED = "hours, minutes or an area of all people together, such as 2 hours, 3 observer-hours, 400 m2"
# Terms with a value and a unit: which, and what it may be.
_PAIRS = (
    ("samplingEffortValue", "samplingEffortUnit", "hours or minutes, also of persons; or an area"),
    ("sampleSizeValue", "sampleSizeUnit", "an area, such as square metre, ha, acre"),
    ("totalAreaSampledValue", "totalAreaSampledUnit", "an area, such as square metre, ha, acre"),
)


def effort_of_rows(table: Table, members: list[int], check: Check) -> tuple[Effort, str]:
    """Give the effort of an event.

    Parameters
    ----------
    table : Table
        With all columns of a survey.
    members : list of int
        Rows of the event; they may repeat its effort, and may not contradict each other.
    check : Check
        Where to note.

    Returns
    -------
    effort : Effort
        Hours and m2.
    said : str
        As it was noted.
    """
    first: dict[str, tuple[float, str]] = {}
    said = ""
    for k in members:
        effort, words = _of_row(table, k, check)
        said = said or words
        for name, value in effort._asdict().items():
            if value is None:
                continue
            known = first.setdefault(name, (value, table.rows[k]))
            if not math.isclose(known[0], value, rel_tol=1e-9):
                check.add(
                    f"{table.rows[k]}, effort", value, f"the {name} of its event, as in {known[1]} ({known[0]:g})"
                )
    values = {name: value for name, (value, _) in first.items()}
    return Effort(values.get("hours"), values.get("area")), said


def _of_row(table: Table, k: int, check: Check) -> tuple[Effort, str]:
    row, columns = table.rows[k], table.columns
    found = []
    said = str(columns["samplingEffort"][k])
    if said:
        effort = effort_of(said)
        if effort is None:
            check.add(f"{row}, {table.called('samplingEffort')}", said, _ALLOWED)
        found.append(effort or Effort())
    for value_name, unit_name, allowed in _PAIRS:
        effort = _of_pair(table, k, value_name, unit_name, allowed, check)
        if effort is not None:
            found.append(effort)
            said = said or f"{columns[value_name][k]:g} {columns[unit_name][k]}"
    for name, factor in (("hours", None), ("totalAreaSampledInSquareKilometers", 1e6)):
        value = float(columns[name][k])
        if not math.isnan(value):
            found.append(Effort(value) if factor is None else Effort(None, value * factor))
            said = said or f"{value:g} {'hours' if factor is None else 'km2'}"
    hours = next((one.hours for one in found if one.hours is not None), None)
    area = next((one.area for one in found if one.area is not None), None)
    for name, number in (("hours", hours), ("area", area)):
        if number is not None and number < 0:
            check.add(f"{row}, effort", number, f"{name} of at least 0")
    return Effort(hours, area), said


def _of_pair(table: Table, k: int, value_name: str, unit_name: str, allowed: str, check: Check) -> Effort | None:
    value, unit = float(table.columns[value_name][k]), str(table.columns[unit_name][k])
    if math.isnan(value) and not unit:
        return None
    if math.isnan(value) or not unit:
        name = value_name if math.isnan(value) else unit_name
        check.add(f"{table.rows[k]}, {table.called(name)}", MISSING, f"both {value_name} and {unit_name}, or neither")
        return None
    hours = hours_with(value, unit) if value_name == "samplingEffortValue" else None
    area = area_with(value, unit)
    if hours is None and area is None:
        check.add(f"{table.rows[k]}, {table.called(unit_name)}", unit, allowed)
        return None
    return Effort(hours, area)
