"""The file of a learned state: NetCDF, its amendments as ragged arrays with a row for each."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, InputError, Problem
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.hashes import HASH, check_unchanged, hash_of
from spreadsim.inputs.hosts import STATES
from spreadsim.inputs.layers_file import open_netcdf
from spreadsim.inputs.site import Site
from spreadsim.inputs.start import CELLS, HOSTS, Start
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.weather import Weather

FORMAT = 1
PREFIX = "start_"
_SAID = "start_about"
_WORLD, _VALUES = f"{PREFIX}number", f"{PREFIX}value"
Variable = tuple[tuple[str, ...], np.ndarray, dict[str, Any]]
_COLUMNS: Mapping[str, str] = {
    "cell_world": "index of the world in which a cell is amended",
    "cell": "cell that is amended: row x columns + column, row 0 in the north",
    "cell_cover": "living cover of mat in the cell, 0 where it is gone",
    "cell_known": "whether the steward knows of the mat in the cell",
    "host_world": "index of the world in which a host is amended",
    "host": "host that is amended, by its place in the site",
    "host_state": "state of the host",
    "host_known": "whether the steward knows of the vine on the host",
}


def start_variables(start: Start, prefix: str = "") -> dict[str, Variable]:
    """Give a start as variables of a dataset: dimensions, array and attributes, with the hash of the values.

    Names begin with the prefix and ``start_``. A column without a row is left out: a dimension of length 0 is trouble
    in some file formats.
    """
    about = {
        "format": FORMAT,
        "years": start.years,
        "seed": start.seed,
        "site": start.site,
        "strategy": start.strategy.to_dict(),
        "crews": [crew.to_dict() for crew in start.crews],
        "parameters": list(start.values),
        "rows": [len(start.cell), len(start.host)],
        "surveyed": start.surveyed,
        "notice": start.notice,
        "weather": None if start.weather is None else start.weather.to_dict(),
    }
    text = json.dumps(about, allow_nan=False, ensure_ascii=False).encode("utf-8")
    said = {"units": "1", "long_name": "work that was done, seed and names of parameters, as JSON text in UTF-8"}
    variables: dict[str, Variable] = {
        _SAID: ((f"{PREFIX}byte",), np.frombuffer(text, np.uint8).copy(), said),
        _WORLD: (
            (f"{PREFIX}world",),
            start.numbers.copy(),
            {"units": "1", "long_name": "replicate number that a world is run as from the map on"},
        ),
    }
    if start.values:
        values = np.stack(list(start.values.values()))
        said = {"units": "1", "long_name": "parameters of a world, each in its own unit, in the order of their names"}
        variables[_VALUES] = ((f"{PREFIX}parameter", f"{PREFIX}world"), values, said)
    for names, row in ((CELLS, "cell_row"), (HOSTS, "host_row")):
        for name in names if len(getattr(start, names[0])) else ():
            column = getattr(start, name)
            attrs: dict[str, Any] = {"units": "1", "long_name": _COLUMNS[name]}
            if name == names[0]:
                attrs["instance_dimension"] = f"{prefix}{PREFIX}world"  # an indexed ragged array, as CF calls it
            if name == "host_state":
                attrs |= {"flag_values": np.arange(len(STATES), dtype=np.uint8), "flag_meanings": " ".join(STATES)}
            column = column.astype(np.uint8) if column.dtype == bool else column.copy()
            variables[PREFIX + name] = ((PREFIX + row,), column, attrs)
    for _, array, attrs in variables.values():
        attrs[HASH] = hash_of(array)
    return {
        prefix + name: (tuple(prefix + dim for dim in dims), array, attrs)
        for name, (dims, array, attrs) in variables.items()
    }


def start_of(dataset: Any, prefix: str = "") -> Start | None:
    """Give back the start that a dataset carries, None where it has none.

    Raises
    ------
    InputError
        It was changed since it was written, or cannot be read.
    """
    if prefix + _SAID not in dataset:
        return None
    check_unchanged(dataset, [str(name) for name in dataset.data_vars if str(name).startswith(prefix + PREFIX)])

    def column(name: str) -> Any:
        return np.asarray(dataset[prefix + name].values) if prefix + name in dataset else np.zeros(0)

    try:
        about = json.loads(bytes(column(_SAID).astype(np.uint8)).decode("utf-8"))
        if about["format"] != FORMAT:
            raise InputError(Problem("", f"{prefix}{_SAID}", f"found format {about['format']}, allowed {FORMAT}"))
        names, rows = about["parameters"], [len(column(PREFIX + name)) for name in ("cell", "host")]
        if about["rows"] != rows:
            told = f"found {rows[0]} rows of cells and {rows[1]} of hosts, allowed {about['rows']}, as were written"
            raise InputError(Problem("", f"{prefix}{_SAID}", told))
        return Start(
            years=about["years"],
            seed=about["seed"],
            numbers=column(_WORLD),
            values=dict(zip(names, column(_VALUES), strict=True)),
            strategy=Strategy.from_dict(about["strategy"]),
            crews=tuple(Crew.from_dict(crew) for crew in about["crews"]),
            site=about["site"],
            surveyed=about["surveyed"],
            notice=about["notice"],
            weather=None if about.get("weather") is None else Weather.from_dict(about["weather"]),
            **{name: column(PREFIX + name) for name in (*CELLS, *HOSTS)},
        )
    except InputError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError) as error:
        problem = Problem("", f"{prefix}{_SAID}", f"found damaged text ({error!r}), allowed what spreadsim wrote")
        raise InputError(problem) from error


def write_start(start: Start, path: str | os.PathLike[str]) -> Path:
    """Write a start as a NetCDF-4 file, whole or not at all.

    Parameters
    ----------
    start : Start
        What to write.
    path : path
        The file; an older one is replaced once the new one is whole.

    Raises
    ------
    OSError
        The disk refused.
    """
    import xarray as xr  # here, since most experiments need no such file
    from xarray.backends import H5NetCDFStore

    from spreadsim.netcdf import NetCDFFile

    path = Path(path)
    attrs = {
        "Conventions": "CF-1.11",
        "title": f"State of worlds {start.years} years after the map",
        "comment": start.notice,
    }
    dataset = xr.Dataset(start_variables(start), attrs={name: text for name, text in attrs.items() if text})
    with renamed_when_whole(path) as raw, NetCDFFile(raw, "w") as file:
        dataset.dump_to_store(H5NetCDFStore(file))
    return path


def read_start(path: str | os.PathLike[str], site: Site) -> Start:
    """Read a start that belongs to a site.

    Parameters
    ----------
    path : path
        A file that `write_start` wrote.
    site : Site
        The site that it was learned on.

    Raises
    ------
    InputError
        There is no such file, it is damaged, or it belongs to another site.
    """
    check = Check(str(path))
    dataset = open_netcdf(Path(path), check, PREFIX)
    check.done()
    try:
        start = start_of(dataset)
    except InputError as error:
        check.problems.absorb(error, file=str(path))
        raise check.problems.error() from error
    if start is None:
        check.add("", MISSING, "a start that spreadsim wrote")
        raise check.problems.error()
    start.check_against(check, site, "")
    check.done()
    return start
