"""Loading treatments from TOML files, those that are shipped and others."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from spreadsim.errors import MISSING, InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.parameter_tables import find_profile, make_parameter, shipped_file, shipped_names
from spreadsim.inputs.toml import read_toml
from spreadsim.inputs.treatment import KEYS, ROLES, Treatment


def load_treatment(name_or_path: str | Path) -> Treatment:
    """Load a treatment.

    Parameters
    ----------
    name_or_path : str or Path
        The name of one that is shipped (see `treatment_names`), or the path of a TOML file of the same form.

    Returns
    -------
    Treatment

    Raises
    ------
    InputError
        Everything that is wrong with the file.
    """
    path = find_profile(name_or_path, "treatments")
    return _shipped(path.stem) if path == shipped_file("treatments", path.stem) else _read(path)


def treatment_names() -> tuple[str, ...]:
    """Give the names of the treatments that come with the package."""
    return shipped_names("treatments")


@cache
def _shipped(name: str) -> Treatment:
    return _read(shipped_file("treatments", name))


def _read(path: Path) -> Treatment:
    data = read_toml(path)
    check = Check(str(path))
    for key in data:
        if key not in KEYS:
            check.add(key, data[key], one_of(KEYS))
    for key in ("name", "title", "acts_on"):
        if key not in data:
            check.add(key, MISSING, "a list" if key == "acts_on" else "a text")
    tables = data.get("parameters", {})
    if not isinstance(tables, dict):
        check.add("parameters", tables, "a table of parameters")
        tables = {}
    parameters: dict[str, Parameter] = {}
    for name, table in tables.items():
        if name not in ROLES:
            check.add(f"parameters.{name}", table, one_of(ROLES))
            continue
        made = make_parameter(name, table, check, place=f"parameters.{name}", unit=ROLES[name])
        if made is not None:
            parameters[name] = made
    rest = {key: value for key, value in data.items() if key in KEYS and key != "parameters"}
    try:
        made_of = Treatment(**{"name": "x", "title": "x", "acts_on": ["mat"], **rest, "parameters": parameters})
    except InputError as error:
        check.problems.absorb(error, file=str(path))
    check.done()
    return made_of
