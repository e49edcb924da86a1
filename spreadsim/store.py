"""Outcomes on disk: written whole or not at all, and opened lazily with their names put back.

On disk the dataset follows the CF conventions, which ask for two changes: `strategy` and `season`
become whole-number dimensions with their names beside them (readers of CF stumble over a dimension
of strings), and the drawn parameters get names without dots.
"""

import importlib
import importlib.util
import os
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from xarray.backends import H5NetCDFStore

from spreadsim.discovery import CONTENT, content_of, discovery
from spreadsim.errors import InputError
from spreadsim.guarded import renamed_when_whole
from spreadsim.netcdf import NetCDFFile, open_store
from spreadsim.schema import CONVENTIONS, COORDINATES

MARK = "spreadsim_dataset"
MARK_VALUE = "outcomes, layout 1"
_NAMED = ("strategy", "season", "reason", "fund")
_PREFIX = "parameter_"
_FACTOR = "factor_name"
_UNITS_OF_OURS = "units_in_words"


def write(dataset: xr.Dataset, path: str | os.PathLike[str]) -> Path:
    """Write outcomes as a NetCDF-4 file under a temporary name, then rename it.

    Parameters
    ----------
    dataset
        As `schema.build_dataset` makes it.
    path
        The file; an older one is replaced once the new one is whole, never before.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    OSError
        The disk refused; the temporary file is removed and an older file is left as it was.
    """
    path = Path(path)
    disk = to_disk(dataset)
    with renamed_when_whole(path) as raw, NetCDFFile(raw, "w") as file:
        dump(disk, file)
    return path


def dump(disk: xr.Dataset, file: Any) -> None:
    """Write a dataset, as `to_disk` gives it, to an open file of h5netcdf."""
    disk.dump_to_store(H5NetCDFStore(file), encoding=encoding(disk))


def open_outcomes(path: str | os.PathLike[str]) -> xr.Dataset:
    """Open outcomes lazily: values are read from the disk when they are used.

    Parameters
    ----------
    path
        An `outcomes.nc` or a Zarr store (a folder; needs the package zarr).

    Returns
    -------
    xarray.Dataset
        With the names of strategies and seasons as coordinates and the parameters called
        "process.name" again.

    Raises
    ------
    InputError
        Nothing is there, it cannot be read, or something else wrote it.
    """
    path = Path(path)
    allowed = "allowed: an outcomes.nc or a Zarr store written by spreadsim"
    if not path.exists():
        raise InputError(f"{path}: found no such file; {allowed}")
    if path.is_dir() and importlib.util.find_spec("zarr") is None:
        raise InputError(
            f"{path}: found a folder, which would be a Zarr store, and the package zarr that reads it is not "
            "installed; install it with: python -m pip install zarr"
        )
    plain: dict[str, Any] = {"decode_times": False, "decode_timedelta": False}
    try:
        if path.is_dir():
            # never format 2: a store of it may name a codec that unpickles
            disk = xr.open_dataset(path, engine="zarr", consolidated=False, zarr_format=3, **plain)
        else:
            disk = xr.open_dataset(open_store(path), **plain)
    except (OSError, ValueError, KeyError) as error:
        raise InputError(f"{path}: found something that cannot be read ({_short(error)}); {allowed}") from error
    if not str(disk.attrs.get(MARK, "")).startswith("outcomes"):
        disk.close()
        raise InputError(f"{path}: found a dataset that spreadsim did not write (no {MARK}); {allowed}")
    return from_disk(disk)


def to_disk(dataset: xr.Dataset) -> xr.Dataset:
    """Give the dataset with the names and attributes that go to the disk; values are shared."""
    disk = dataset.drop_encoding()  # what an opened file left there would be written again
    for dim in _NAMED:
        if dim in disk.dims:
            names = _texts(disk[dim].values)
            number = {"long_name": f"number of the {dim}, named in {dim}_name", "units": "1"}
            disk = disk.assign_coords(
                {
                    dim: (dim, np.arange(len(names), dtype="i4"), number),
                    f"{dim}_name": (dim, names, {"long_name": f"name of the {dim}"}),
                }
            )
    renamed = _factor_names(disk)
    for name in renamed:
        disk[name].attrs |= {_FACTOR: name, **_cf_units(disk[name].attrs.get("units", "1"))}
    for name in [str(name) for name in disk.data_vars]:
        if "." in name:
            renamed[name] = _PREFIX + "".join(sign if sign.isalnum() else "_" for sign in name)
            disk[name].attrs |= {"parameter_name": name, **_cf_units(disk[name].attrs.get("units", "1"))}
    clashes = len(renamed) - len(set(renamed.values()))
    if clashes:
        raise ValueError(f"{clashes} parameters would share a name on disk: {', '.join(sorted(renamed))}")
    disk = disk.rename(renamed)
    crs = _crs_attributes(str(disk.attrs.get("crs", "") or ""))
    if crs:
        disk["crs"] = xr.Variable((), np.int32(0), crs)
        for key, layer in disk.data_vars.items():
            if {"y", "x"} <= set(layer.dims):
                disk[key].attrs["grid_mapping"] = "crs"
    attrs = {"Conventions": CONVENTIONS, MARK: MARK_VALUE, "institution": "not given", **disk.attrs}
    defaults = {
        "source": "spreadsim",
        "history": "simulated and written by spreadsim",
        "references": "parameters carry their sources as attributes",
        "comment": "Compares strategies under stated assumptions; does not forecast a place.",
    }
    attrs = defaults | attrs
    disk.attrs = attrs
    disk.attrs |= discovery(disk)
    for key, stored in disk.variables.items():
        stored.attrs = _plain(stored.attrs)
        if key != "crs":
            stored.attrs[CONTENT] = content_of(str(key), disk)
    disk.attrs = _plain(disk.attrs)
    return disk


def from_disk(disk: xr.Dataset) -> xr.Dataset:
    """Undo `to_disk`: names of strategies, seasons and parameters; values stay unread."""
    dataset = disk
    for dim in _NAMED:
        if f"{dim}_name" in dataset.variables:
            names = _texts(dataset[f"{dim}_name"].values)
            dataset = dataset.drop_vars(f"{dim}_name").assign_coords({dim: (dim, names, dict(COORDINATES[dim]))})
    if "task_name" in dataset.variables:
        dims, attrs = dataset["task_name"].dims, dataset["task_name"].attrs
        text = _texts(dataset["task_name"].values)
        dataset = dataset.assign_coords(task_name=(dims, text, attrs))
    renamed = {
        name: str(variable.attrs[mark])
        for name, variable in dataset.variables.items()
        for mark in ("parameter_name", _FACTOR)
        if mark in variable.attrs
    }
    dataset = dataset.rename(renamed)
    for name in renamed.values():
        if dataset[name].dtype.kind in "OUT":
            texts = _texts(dataset[name].values)
            dataset = dataset.assign_coords({name: (dataset[name].dims, texts, dataset[name].attrs)})
        attrs = dataset[name].attrs
        attrs.pop("parameter_name", attrs.pop(_FACTOR, None))
        if _UNITS_OF_OURS in attrs:
            attrs["units"] = attrs.pop(_UNITS_OF_OURS)
    for variable in dataset.variables.values():
        for mark in ("grid_mapping", CONTENT):
            variable.attrs.pop(mark, None)
    dataset = dataset.drop_vars("crs", errors="ignore")
    dataset.set_close(disk.close)
    return dataset


def _factor_names(dataset: xr.Dataset) -> dict[str, str]:
    """Names on disk of the coordinates that say what was swept; numbered, since signs fall away."""
    swept = [str(name) for name, values in dataset.coords.items() if values.dims == ("design",) and name != "design"]
    return {
        name: f"factor_{k}_" + "".join(sign if sign.isalnum() else "_" for sign in name) for k, name in enumerate(swept)
    }


def _cf_units(unit: str) -> dict[str, str]:
    """Units in words that CF's readers know, with our own beside them where they don't know ours."""
    known = {"share of full sun": "1", "1 per fruiting host and yr": "1/yr"}.get(unit, unit)
    # hosts are counted and money has no unit there
    known = known.replace("/host", "").replace("currency", "1")
    return {} if known == unit else {"units": known, _UNITS_OF_OURS: unit}


def _texts(values: Any) -> np.ndarray[Any, Any]:
    """Texts as plain Python ones, whatever kind of string array a storage engine gives."""
    array = np.asarray(values)
    return np.array([str(text) for text in array.ravel()], dtype=object).reshape(array.shape)


def encoding(disk: xr.Dataset) -> dict[str, dict[str, Any]]:
    """Compress numbers with zlib (any reader has it); no fill value where nothing is missing."""
    options_of: dict[str, dict[str, Any]] = {}
    for name, variable in disk.variables.items():
        kind = variable.dtype.kind
        if kind in "OUT":  # texts cannot be compressed
            options_of[str(name)] = {}
            continue
        options: dict[str, Any] = {}
        if variable.ndim:
            options = {"zlib": True, "complevel": 4, "shuffle": True}
        if name in disk.coords or kind != "f":
            options["_FillValue"] = None
        options_of[str(name)] = options
    return options_of


def _crs_attributes(crs: str) -> dict[str, Any]:
    """Everything that CF says about a projection; nothing where pyproj, which knows it, is not installed."""
    if not crs or importlib.util.find_spec("pyproj") is None:
        return {}
    pyproj = importlib.import_module("pyproj")  # heavy, and only in the gis extra
    try:
        return {"long_name": "coordinate reference system", **pyproj.CRS.from_user_input(crs).to_cf()}
    except RuntimeError:  # what pyproj raises for a text that it doesn't know; the text itself stays
        return {}


def _plain(attrs: dict[Any, Any]) -> dict[str, Any]:
    """Attributes as NetCDF can hold them: no truth values, nothing that is None."""
    return {
        str(key): int(value) if isinstance(value, bool | np.bool_) else value
        for key, value in attrs.items()
        if value is not None
    }


def _short(error: BaseException) -> str:
    return " ".join(str(error).split())[:120]
