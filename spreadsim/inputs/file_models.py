"""The keys of our files and their types. What the values may be is checked by the objects made of them."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from types import NoneType
from typing import Any, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check


class _Table(BaseModel):
    """A table of a file: no other keys, and no text where a number belongs."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class FollowUpTable(_Table):
    """``follow_up`` of a task."""

    every: int = 4
    clean: int = 2
    treatment: str | None = None


class TaskTable(_Table):
    """One of ``[[strategies.tasks]]``."""

    treatment: str
    name: str | None = None
    targets: str = "all"
    order: str | None = None
    units: list[str] = []
    seasons: list[str] = []
    years: list[int] | None = None
    share: float = 1.0
    cap: float | None = None
    new_ground: Any = None  # a number of m2, or a text with another unit
    follow_up: dict[str, Any] | None = None
    not_until: str | None = None
    instead: str | None = None
    crews: list[str] = []
    haul_out: bool = False


class StrategyTable(_Table):
    """One of ``[[strategies]]``."""

    name: str
    tasks: list[dict[str, Any]] = []
    reserve_follow_up: bool = True
    why: str = ""


class CrewTable(_Table):
    """One of ``[[crews]]``."""

    name: str
    hours: Any  # a number, or a table by season
    may: list[str] = ["all"]
    volunteers: bool = False
    pace: float = 1.0
    turnout: float = 1.0
    price: float = 0.0
    paid: bool = True
    people: float = 1.0


class WeatherTable(_Table):
    """``[weather]``."""

    fit_days: Any = Field(default=(4.0, 6.0, 8.0, 5.0))  # a number, or a table by season


class SiteTable(_Table):
    """A site file, or ``[site]`` of an experiment."""

    title: str = ""
    notice: str = ""
    units: str = "metric"
    cell_size: float | None = None
    width: float | None = None
    height: float | None = None
    origin: list[float] | None = None
    crs: str | None = None
    layers: str | None = None
    unit_names: list[str] | None = None
    hosts: str | None = None
    mats: str | None = None
    sources: str | None = None
    canopy: Any = None  # a number, or "from hosts"
    crown_radius: float | None = None
    canopy_window: float | None = None
    background_seed: float = 0.0


class ExperimentTable(_Table):
    """The top of an experiment file."""

    title: str
    vine: str
    site: dict[str, Any]
    notice: str = ""
    years: int = 30
    replicates: int = 200
    seed: int = 1
    units: str = "metric"
    currency: str = "USD"
    price_year: int | None = None
    treatments: list[str] = []
    fixed_parameters: bool = False
    parameters: dict[str, Any] = {}
    weather: dict[str, Any] = {}
    crews: list[dict[str, Any]] = []
    strategies: list[dict[str, Any]] = []


_TYPES: Mapping[type, str] = {
    str: "a text",
    int: "a whole number",
    float: "a finite number",
    bool: "true or false",
    list: "a list",
    dict: "a table",
}


def take(model: type[_Table], table: object, check: Check, place: str = "") -> tuple[dict[str, Any], bool]:
    """Read a table by its model, noting every key and type that is wrong in our words.

    Parameters
    ----------
    model : type
        One of the models of this module.
    table : object
        What stands in the file.
    check : Check
        Where to note.
    place : str
        Where the table stands; empty for the top of the file.

    Returns
    -------
    values : dict
        By key, with defaults where the file says nothing, or nothing right; a key that is needed and is not
        right is left out. So what is wrong with other values can still be found.
    whole : bool
        Whether everything was right.
    """
    fields = model.model_fields
    try:
        read = model.model_validate(table)
        return {name: getattr(read, name) for name in fields}, True
    except ValidationError as error:
        faults = error.errors(include_url=False, include_context=False)
        for fault in faults:
            _reword(model, fault, check, place)
    wrong = {str(fault["loc"][0]) for fault in faults if fault["loc"]}
    given = table if isinstance(table, Mapping) else {}
    right = {name: given[name] for name in fields if name in given and name not in wrong}
    usual = {name: field.get_default() for name, field in fields.items() if not field.is_required()}
    return {**usual, **right}, False


def _reword(model: type[_Table], fault: Any, check: Check, place: str) -> None:
    where = place
    for part in fault["loc"]:
        where += f"[{part}]" if isinstance(part, int) else f".{part}" if where else str(part)
    if not fault["loc"]:
        check.add(where, fault["input"], "a table")
        return
    key = str(fault["loc"][0])
    if fault["type"] == "extra_forbidden":
        close = get_close_matches(key, model.model_fields, 1)
        hint = f' (perhaps "{close[0]}" was meant)' if close else ""
        check.add(where, Said(f"a key that is not known{hint}"), one_of(model.model_fields))
        return
    inside = len(fault["loc"]) > 1
    allowed = _allowed(model.model_fields[key].annotation, inside)
    check.add(where, MISSING if fault["type"] == "missing" else fault["input"], allowed)


def _allowed(annotation: Any, inside: bool) -> str:
    """Word a type: of a field, or of what is inside the list that it holds."""
    choices = [kind for kind in get_args(annotation) if kind is not NoneType]
    if type(annotation).__name__ == "UnionType" and choices:
        annotation = choices[0]
    inner = get_args(annotation)
    kind = inner[0] if inside and inner else annotation
    bare = getattr(kind, "__origin__", kind)
    return _TYPES.get(bare, "a value")
