"""Making crews, strategies, funds and events of the tables of an experiment file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from spreadsim.errors import InputError
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.event import Event
from spreadsim.inputs.file_models import CrewTable, EventTable, FollowUpTable, FundTable, StrategyTable, TaskTable
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.taking import take
from spreadsim.inputs.task import FollowUp, Task
from spreadsim.inputs.units import UNITS, to_si


@dataclass
class Found:
    """A strategy as far as it could be read; a task that is wrong is None: the others keep their places."""

    name: str = ""
    tasks: list[Task | None] = field(default_factory=list)
    strategy: Strategy | None = None


def read_crews(tables: object, check: Check) -> list[Crew | None]:
    """Make crews, noting everything that is wrong; a crew that is wrong is None."""
    return [_made(Crew, CrewTable, table, check, place) for place, table in _each(tables, "crews")]


def read_funds(tables: object, check: Check) -> list[Fund | None]:
    """Make funds, noting everything that is wrong; a fund that is wrong is None."""
    return [_made(Fund, FundTable, table, check, place) for place, table in _each(tables, "funds")]


def read_events(tables: object, check: Check, *, unit: str) -> list[Event | None]:
    """Make events, noting everything that is wrong; an event that is wrong is None.

    Parameters
    ----------
    tables : object
        What stands in the file.
    check : Check
        Where to note.
    unit : str
        Of lengths that are numbers alone, ``"m"`` or ``"ft"``.
    """
    events = []
    for place, table in _each(tables, "events"):
        before = len(check.problems)
        values, _ = take(EventTable, table, check, place)
        for key in ("x", "y", "radius"):
            if values.get(key) is not None:
                values[key] = _measure(values[key], check, f"{place}.{key}", "length", unit)
        made = _tried(Event, values, check, place) if {"kind", "radius"} <= set(values) else None
        events.append(made if len(check.problems) == before else None)
    return events


def read_strategies(tables: object, check: Check) -> list[Found]:
    """Make strategies, noting everything that is wrong."""
    found = []
    for place, table in _each(tables, "strategies"):
        values, whole = take(StrategyTable, table, check, place)
        tasks = [_task(part, check, at) for at, part in _each(values.get("tasks"), f"{place}.tasks")]
        this = Found(values.get("name", ""), tasks)
        right = [task for task in tasks if task is not None]
        if "name" in values:
            made = _tried(Strategy, {**values, "tasks": right}, check, place)
            this.strategy = made if whole and len(right) == len(tasks) else None
        found.append(this)
    return found


def _each(tables: object, place: str) -> list[tuple[str, Any]]:
    return [(f"{place}[{k}]", table) for k, table in enumerate(tables if isinstance(tables, list) else ())]


def _task(table: object, check: Check, place: str) -> Task | None:
    before = len(check.problems)
    values, _ = take(TaskTable, table, check, place)
    if values.get("follow_up") is not None:
        values["follow_up"] = _made(FollowUp, FollowUpTable, values["follow_up"], check, f"{place}.follow_up")
    if values.get("new_ground") is not None:
        values["new_ground"] = _measure(values["new_ground"], check, f"{place}.new_ground", "area", "m2")
    made = _tried(Task, values, check, place) if "treatment" in values else None
    return made if len(check.problems) == before else None


def _measure(value: object, check: Check, place: str, dimension: str, unit: str) -> float:
    """Read an area or a length, a number in `unit` or a text such as "0.5 acre", into m2 or m; 1 if it is wrong."""
    units = [name for name, known in UNITS.items() if known.dimension == dimension]
    if is_number(value) and float(value) >= 0:  # type: ignore[arg-type]
        return to_si(float(value), unit)  # type: ignore[arg-type]
    number, _, said = (value if isinstance(value, str) else "").strip().partition(" ")
    said = said.strip() if said.strip() in units else said.strip().removesuffix("s")
    try:
        size = to_si(float(number), said) if said in units else -1.0
    except ValueError:
        size = -1.0
    if is_number(size) and size >= 0:
        return size
    allowed = f'a number of {unit}, at least 0, or a text such as "0.5 {units[-1]}" (units: {", ".join(units)})'
    check.add(place, value, allowed)
    return 1.0


def _made(kind: Any, model: Any, table: object, check: Check, place: str) -> Any:
    """Make an object of a table; None if anything is wrong with it."""
    values, whole = take(model, table, check, place)
    needed = {name for name, key in model.model_fields.items() if key.is_required()}
    made = _tried(kind, values, check, place) if needed <= set(values) else None
    return made if whole else None


def _tried(kind: Any, values: dict[str, Any], check: Check, place: str) -> Any:
    """Make an object, noting at its place what it refuses."""
    try:
        return kind(**values)
    except InputError as error:
        check.problems.absorb(error, file=check.thing, place=place)
        return None
