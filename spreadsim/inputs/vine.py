"""A vine: one species' parameters, with ranges, units and sources."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.errors import MISSING, InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.limits import check_limits
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.parameter_sets import check_parameters, parameters_from_dict, replace_values
from spreadsim.inputs.parameter_tables import find_profile, make_parameter, shipped_file, shipped_names
from spreadsim.inputs.toml import read_toml
from spreadsim.schema import SEASONS

KERNELS = ("2Dt",)  # the forms that the model can draw landings from
_TEXTS = ("name", "title", "notice")


@dataclass(frozen=True)
class Vine:
    """A vine profile.

    Attributes
    ----------
    name : str
        Short name, such as ``"wintercreeper"``.
    title : str
        Name for people.
    parameters : mapping of str to Parameter
        By ``process.name``, such as ``"mat.front_speed"``; read-only.
    notice : str
        What must be said wherever the profile is shown.

    Raises
    ------
    InputError
        If a value is beyond what its parameter can mean.
    """

    name: str
    title: str
    parameters: Mapping[str, Parameter]
    notice: str = ""

    def __post_init__(self) -> None:
        """Check and freeze the parameters."""
        check = Check(f'Vine "{self.name}"')
        check.text("name", self.name, empty=False)
        check.text("title", self.title)
        check.text("notice", self.notice)
        check_parameters(self.parameters, check)
        check_limits(self.parameters, check)
        _check_words(self.parameters, check)
        check.done()
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))

    def __getitem__(self, name: str) -> Parameter:
        """Give the parameter called `name`."""
        try:
            return self.parameters[name]
        except KeyError:
            check = Check(f'Vine "{self.name}"')
            check.add(name, MISSING, one_of(self.parameters))
            raise InputError(*check.problems.found) from None

    def __iter__(self) -> Iterator[str]:
        """Go through the names of the parameters."""
        return iter(self.parameters)

    def __hash__(self) -> int:
        """Hash by name and values."""
        return hash((self.name, tuple(self.parameters.values())))

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle with a plain dictionary, since a read-only view has no pickle."""
        return type(self), (self.name, self.title, dict(self.parameters), self.notice)

    def replace(self, values: Mapping[str, Any], *, check_ranges: bool = True) -> Vine:
        """Give the same vine with other values.

        Parameters
        ----------
        values : mapping
            By parameter name: a new value, or a mapping with any of ``value``, ``low`` and ``high``.
        check_ranges : bool
            Refuse values outside a parameter's range; if false, widen the range to hold the value.

        Raises
        ------
        InputError
            For unknown names and values that are not allowed, all of them.
        """
        parameters = replace_values(self.parameters, values, f'Vine "{self.name}"', check_ranges)
        return Vine(self.name, self.title, parameters, self.notice)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        parameters = {name: parameter.to_dict() for name, parameter in self.parameters.items()}
        return {"name": self.name, "title": self.title, "notice": self.notice, "parameters": parameters}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Vine:
        """Make a vine of what `to_dict` gave."""
        return cls(data["name"], data["title"], parameters_from_dict(data["parameters"]), data["notice"])


def _check_words(parameters: Mapping[str, Parameter], check: Check) -> None:
    """Check the parameters that are no single number."""
    if "seed.fruit_season" in parameters:
        seasons = parameters["seed.fruit_season"].value
        check.words("seed.fruit_season.value", seasons, SEASONS)
    if "birds.kernel" in parameters:
        check.choice("birds.kernel.value", parameters["birds.kernel"].value, KERNELS)
    if "mat.growth_share_by_season" in parameters:
        shares = parameters["mat.growth_share_by_season"].value
        numbers = [share for share in shares if isinstance(share, float)] if isinstance(shares, tuple) else []
        if len(numbers) != len(SEASONS) or min(numbers) < 0 or abs(sum(numbers) - 1) > 1e-9:
            check.add("mat.growth_share_by_season.value", shares, "four shares, at least 0, that sum to 1")


def load_vine(name_or_path: str | Path) -> Vine:
    """Load a vine profile.

    Parameters
    ----------
    name_or_path : str or Path
        ``"wintercreeper"`` or ``"english-ivy"``, or the path of a TOML file of the same form.

    Returns
    -------
    Vine

    Raises
    ------
    InputError
        Everything that is wrong with the file: a parameter that lacks a unit or a source, one that is not
        known or is missing, a value outside its range.
    """
    path = find_profile(name_or_path, "vines")
    return _shipped(path.stem) if path == shipped_file("vines", path.stem) else _read(path, _standard_units())


def vine_names() -> tuple[str, ...]:
    """Give the names of the vines that come with the package."""
    return shipped_names("vines")


@cache
def _shipped(name: str) -> Vine:
    return _read(shipped_file("vines", name), None)


def _standard_units() -> dict[str, str]:
    """Give the unit of every parameter that the model takes, as the shipped profile has it."""
    return {name: parameter.unit for name, parameter in _shipped("wintercreeper").parameters.items()}


def _read(path: Path, units: Mapping[str, str] | None) -> Vine:
    data = read_toml(path)
    check = Check(str(path))
    for key in ("name", "title"):
        check.text(key, data.get(key, MISSING), empty=False)
    check.text("notice", data.get("notice", ""))
    parameters: dict[str, Parameter] = {}
    for process, tables in data.items():
        if process in _TEXTS:
            continue
        if not isinstance(tables, dict):
            check.add(process, tables, "name, title, notice, or a table of parameters")
            continue
        for name, table in tables.items():
            full = f"{process}.{name}"
            if units is not None and full not in units:
                check.add(full, table, one_of(units))
                continue
            made = make_parameter(full, table, check, place=full, unit=None if units is None else units[full])
            if made is not None:
                parameters[full] = made
    for full in units or ():
        process, name = full.split(".")
        if name not in (data.get(process) if isinstance(data.get(process), dict) else {}):  # type: ignore[operator]
            check.add(full, MISSING, "every parameter of a vine, this one too")
    check_limits(parameters, check)
    _check_words(parameters, check)
    check.done()
    return Vine(data["name"], data["title"], parameters, data.get("notice", ""))
