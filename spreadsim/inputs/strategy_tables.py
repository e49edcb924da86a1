"""Making crews and strategies of the tables of an experiment file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from spreadsim.errors import InputError
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.file_models import CrewTable, FollowUpTable, StrategyTable, TaskTable, take
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.task import FollowUp, Task
from spreadsim.inputs.units import UNITS, to_si

_AREAS = tuple(name for name, unit in UNITS.items() if unit.dimension == "area")


@dataclass
class Found:
    """A strategy as far as it could be read; a task that is wrong is None: the others keep their places."""

    name: str = ""
    tasks: list[Task | None] = field(default_factory=list)
    strategy: Strategy | None = None


def read_crews(tables: object, check: Check) -> list[Crew | None]:
    """Make crews, noting everything that is wrong; a crew that is wrong is None."""
    return [_made(Crew, CrewTable, table, check, place) for place, table in _each(tables, "crews")]


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
        values["new_ground"] = _area(values["new_ground"], check, f"{place}.new_ground")
    made = _tried(Task, values, check, place) if "treatment" in values else None
    return made if len(check.problems) == before else None


def _area(value: object, check: Check, place: str) -> float:
    """Read an area: a number of m2, or a text such as "0.5 acre"."""
    if not isinstance(value, str):
        return check.number(place, value, 0)
    number, _, unit = value.strip().partition(" ")
    unit = unit.strip().removesuffix("s")
    try:
        area = to_si(float(number), unit) if unit in _AREAS else -1.0
    except ValueError:
        area = -1.0
    if is_number(area) and area >= 0:
        return area
    check.add(place, value, f'a number of m2, or a text such as "0.5 acre" (units: {", ".join(_AREAS)})')
    return 0.0


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
