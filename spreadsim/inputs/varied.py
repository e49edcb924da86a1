"""An experiment with some of its values changed, each named by where it stands."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from spreadsim.errors import InputError, Problems
from spreadsim.inputs.checks import is_number
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.event import Event
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.places import SETTINGS_VARIED, Place
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.vine import load_vine
from spreadsim.inputs.weather import Weather

NONE = "none"  # how a file says that there is no cap, no condition...
_LISTS: Mapping[str, type[Any]] = MappingProxyType(
    {"crews": Crew, "strategies": Strategy, "funds": Fund, "events": Event}
)


def varied(experiment: Experiment, values: Mapping[Place, Any], beyond_range: Collection[str] = ()) -> Experiment:
    """Give the experiment with other values at some places.

    A parameter is held at its value: its range goes, so that every replicate has it, and all other parameters are
    drawn as they were.

    Parameters
    ----------
    experiment : Experiment
        What to change.
    values : mapping
        By place; ``None`` or ``"none"``: none, where that is allowed.
    beyond_range : collection of str
        Paths of parameters whose value may lie outside the range of the profile.

    Raises
    ------
    InputError
        For all values that are not allowed, by the path that they were given for.
    """
    problems = Problems()
    changes: dict[str, Any] = {}
    plain: dict[tuple[Any, ...], dict[str, Any]] = {}
    touched: dict[tuple[Any, ...], str] = {}
    for place, value in sorted(values.items(), key=lambda item: item[0].path != "vine"):
        try:
            for part in place.parts:
                if part[0] == "vine":
                    changes["vine"] = _with_vine(changes.get("vine", experiment.vine), part, value, beyond_range)
                elif part[0] == "treatment":
                    own = changes.get("treatments", experiment.treatments)
                    changes["treatments"] = _with_treatment(experiment, own, part, value, beyond_range)
                elif part[0] in SETTINGS_VARIED:
                    changes[part[0]] = value
                else:
                    _set(plain, experiment, part, value)
                    touched.setdefault(part[:2], place.path)
        except InputError as error:
            problems.absorb(error, file=f'factor "{place.path}"')
    for key, table in plain.items():
        try:
            _rebuild(changes, experiment, key, table)
        except InputError as error:
            problems.absorb(error, file=f'factor "{touched[key]}"')
    problems.raise_if_any()
    try:
        return replace(experiment, **changes) if changes else experiment
    except InputError as error:  # right by itself, and not with the rest of the experiment
        names = ", ".join(f'"{place.path}"' for place in values)
        problems.absorb(error, file=f"factor {names}")
        raise InputError(*problems.found) from error


def _held(parameter: Parameter, value: Any, free: bool) -> Mapping[str, Any]:
    """Give what to put in place of a parameter, so that it is the value in every replicate."""
    if not free:
        parameter.with_value(value)  # refuses what is outside the range
    if parameter.low is None or not is_number(value):
        return {"value": value}
    return {"value": value, "low": value, "high": value}


def _with_vine(vine: Any, part: tuple[Any, ...], value: Any, free: Collection[str]) -> Any:
    if len(part) == 1:
        return load_vine(value)
    name = part[1]
    return vine.replace({name: _held(vine[name], value, name in free)}, check_ranges=False)


def _with_treatment(experiment: Experiment, own: Any, part: tuple[Any, ...], value: Any, free: Collection[str]) -> Any:
    _, name, role = part
    old = next((one for one in own if one.name == name), None) or experiment.treatment(name)
    new = old.replace({role: _held(old[role], value, f"{name}.{role}" in free)}, check_ranges=False)
    if any(one.name == name for one in own):
        return tuple(new if one.name == name else one for one in own)
    return (*own, new)


def _set(
    plain: dict[tuple[Any, ...], dict[str, Any]], experiment: Experiment, part: tuple[Any, ...], value: Any
) -> None:
    """Put a value into the plain data of its part."""
    first, number, *keys = part
    part_now = experiment.weather if first == "weather" else getattr(experiment, first)[number]
    table = plain.setdefault(part[:2], part_now.to_dict())
    if keys[0] == "hours_factor":
        if not is_number(value) or value < 0:
            raise InputError(f"hours_factor: found {value!r}, allowed a number, at least 0")
        table["hours"] = {season: hours * value for season, hours in table["hours"].items()}
        return
    for key in keys[:-1]:
        table = table[key]
    table[keys[-1]] = None if isinstance(value, str) and value == NONE else value


def _rebuild(changes: dict[str, Any], experiment: Experiment, key: tuple[Any, ...], table: dict[str, Any]) -> None:
    """Make a part again of its plain data."""
    first, number = key
    if first == "weather":
        changes[first] = Weather.from_dict(table)
        return
    members = list(changes.get(first, getattr(experiment, first)))
    members[number] = _LISTS[first].from_dict(table)
    changes[first] = tuple(members)
