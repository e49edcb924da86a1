"""What vines and treatments do alike with their parameters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.parameter import Parameter


def check_parameters(parameters: object, check: Check) -> None:
    """Note what is no parameter, or stands under another name than its own; raise if there is any."""
    if not isinstance(parameters, Mapping):
        check.add("parameters", parameters, "a mapping of names to Parameter objects")
    else:
        for name, parameter in parameters.items():
            if not isinstance(parameter, Parameter):
                check.add(f"parameters.{name}", parameter, "a Parameter")
            elif parameter.name != name:
                check.add(f"parameters.{name}", parameter.name, "a Parameter of that name")
    check.done()


def replace_values(
    parameters: Mapping[str, Parameter], values: Mapping[str, Any], thing: str, check_ranges: bool
) -> dict[str, Parameter]:
    """Give parameters with some values replaced; all problems are raised together."""
    check = Check(thing)
    if not isinstance(values, Mapping):
        check.add("", values, "a mapping of names to values")
        check.done()
    new = dict(parameters)
    for name, value in values.items():
        if name not in parameters:
            check.add(str(name), value, one_of(parameters))
            continue
        try:
            new[name] = parameters[name].with_value(value, check_ranges=check_ranges)
        except InputError as error:
            for detail in error.details:
                place = name if detail.place == "value" else f"{name}.{detail.place}"
                check.problems.say(thing, place, detail.text)
    check.done()
    return new


def parameters_from_dict(tables: Mapping[str, Mapping[str, Any]]) -> dict[str, Parameter]:
    """Make parameters of what `Parameter.to_dict` gave, by name."""
    return {name: Parameter(name, **{"value": None, **table}) for name, table in tables.items()}
