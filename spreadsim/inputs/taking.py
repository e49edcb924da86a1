"""Taking a table of a file apart by its model, with words of our own for what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from types import NoneType
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check

_MOST_UNKNOWN = 20  # keys named one by one
_TYPES: Mapping[type, str] = {
    str: "a text",
    int: "a whole number",
    float: "a finite number",
    bool: "true or false",
    list: "a list",
    dict: "a table",
}


def take(model: type[BaseModel], table: object, check: Check, place: str = "") -> tuple[dict[str, Any], bool]:
    """Read a table by its model, noting every key and type that is wrong in our words.

    Parameters
    ----------
    model : type
        One of `file_models`.
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
        unknown = [fault for fault in faults if fault["type"] == "extra_forbidden"]
        for fault in [one for one in faults if one["type"] != "extra_forbidden"] + unknown[:_MOST_UNKNOWN]:
            _reword(model, fault, check, place)
        if len(unknown) > _MOST_UNKNOWN:
            check.problems.say(check.thing, place, f"and {len(unknown) - _MOST_UNKNOWN:,} more keys that are not known")
    wrong = {str(fault["loc"][0]) for fault in faults if fault["loc"]}
    given = table if isinstance(table, Mapping) else {}
    right = {name: given[name] for name in fields if name in given and name not in wrong}
    usual = {name: field.get_default() for name, field in fields.items() if not field.is_required()}
    return {**usual, **right}, False


def _reword(model: type[BaseModel], fault: Any, check: Check, place: str) -> None:
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
