"""Making parameters of the tables of a TOML file."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from spreadsim.errors import MISSING, InputError, one_of
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.units import convert, convertible

_KEYS = ("value", "low", "high", "unit", "scale", "confidence", "source", "note", "solved")
_NEEDED = ("unit", "confidence", "source")


def make_parameter(name: str, table: object, check: Check, *, place: str, unit: str | None = None) -> Parameter | None:
    """Make a parameter of a table, noting what is wrong with it.

    Parameters
    ----------
    name : str
        The parameter's name.
    table : object
        What stands under that name in the file; should be a table.
    check : Check
        Where to note problems.
    place : str
        Where the table stands in the file.
    unit : str, optional
        The unit that the model takes; value, low and high are converted to it where they can be, and the
        note then says how they were given.

    Returns
    -------
    Parameter or None
        None if something is wrong with it.
    """
    if not isinstance(table, Mapping):
        check.add(place, table, "a table with value, low, high, unit, confidence and source")
        return None
    before = len(check.problems)
    for key in table:
        if key not in _KEYS:
            check.add(f"{place}.{key}", table[key], one_of(_KEYS))
    for key in _NEEDED:
        if key not in table:
            check.add(f"{place}.{key}", MISSING, "a text, always")
    if "value" not in table and table.get("solved") is not True:
        check.add(f"{place}.value", MISSING, "a value")
    if ("low" in table) != ("high" in table):
        check.add(f"{place}.low", table.get("low", MISSING), "both low and high, or neither")
    if len(check.problems) > before:
        return None
    values = dict(table)
    if unit is not None and values["unit"] != unit and not _into(values, unit, check, place):
        return None
    try:
        return Parameter(name, values.pop("value", None), **values)
    except InputError as error:
        check.problems.absorb(error, file=check.thing, place=place)
        return None


def _into(values: dict[str, Any], unit: str, check: Check, place: str) -> bool:
    """Convert the numbers of a table into `unit`, in place."""
    given = values["unit"]
    if not isinstance(given, str) or not convertible(given, unit):
        check.add(f"{place}.unit", given, f'"{unit}" or a unit that converts to it')
        return False
    as_given = []
    for key in ("value", "low", "high"):
        if is_number(values.get(key)):
            as_given.append(f"{float(values[key]):g}")
            values[key] = convert(float(values[key]), given, unit)
    values["unit"] = unit
    note = values.get("note", "")
    if as_given and isinstance(note, str):  # else something is wrong, and will be noted
        said = f"given as {as_given[0]}" + (f" ({as_given[1]} to {as_given[2]})" if len(as_given) == 3 else "")
        values["note"] = "; ".join(part for part in (note, f"{said} {given}") if part)
    return True


def shipped_file(folder: str, name: str) -> Path:
    """Give where a file that comes with the package lies."""
    return Path(__file__).parent / folder / f"{name}.toml"


def shipped_names(folder: str) -> tuple[str, ...]:
    """Give the names of the profiles in a folder of the package, sorted."""
    return tuple(sorted(path.stem for path in (Path(__file__).parent / folder).glob("*.toml")))


def find_profile(name_or_path: object, folder: str) -> Path:
    """Find a profile by the name of one that is shipped, or else by its path.

    Raises
    ------
    InputError
        If it is neither; the message lists the shipped names.
    """
    check = Check("")
    names = shipped_names(folder)
    if isinstance(name_or_path, str) and name_or_path in names:
        return shipped_file(folder, name_or_path)
    if isinstance(name_or_path, Path):
        return name_or_path
    if isinstance(name_or_path, str) and (name_or_path.endswith(".toml") or _exists(name_or_path)):
        return Path(name_or_path)
    check.add(folder.removesuffix("s"), name_or_path, f"{one_of(names)}, or the path of a TOML file")
    raise InputError(*check.problems.found)


def _exists(path: str) -> bool:
    try:
        return bool(path.strip()) and Path(path).exists()
    except (OSError, ValueError):
        return False
