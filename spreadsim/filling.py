"""Outcomes too large for memory on their way to disk: the file is shaped first, then filled by region, then renamed."""

import itertools
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import xarray as xr

from spreadsim import store
from spreadsim.guarded import GuardedFile, remove_leftovers, renamed_when_whole
from spreadsim.netcdf import NetCDFFile

Layer = tuple[int, int, Mapping[str, Any]]


def fill(
    path: str | os.PathLike[str], strips: Iterator[xr.Dataset], layers: Iterable[Layer], replicates: Sequence[int]
) -> Path:
    """Write outcomes piece by piece under a temporary name, then rename the file.

    Parameters
    ----------
    path
        The file; an older one is replaced once the new one is whole, never before.
    strips
        Outcomes of some replicates after the other, all but the last of equal length, as `schema.build_dataset` makes
        them. Of what isn't by replicate, only the first one's is written. Its maps are not: they come as layers.
    layers
        Place of a strategy, place of a year, and maps (y, x) by name.
    replicates
        Numbers of all replicates in the strips.

    Returns
    -------
    pathlib.Path
        The file written; it opens as one written by `store.write`.

    Raises
    ------
    OSError
        The disk refused; the temporary file is removed and an older file is left as it was.
    """
    path = Path(path)
    remove_leftovers(path)
    with renamed_when_whole(path) as raw:
        _write(raw, strips, layers, replicates)
    return path


def _write(raw: GuardedFile, strips: Iterator[xr.Dataset], layers: Iterable[Layer], replicates: Sequence[int]) -> None:
    begin = next(strips)
    first = store.to_disk(begin)
    length = first.sizes["replicate"]
    whole = _shaped(first, replicates)
    described, attrs = xr.conventions.encode_dataset_coordinates(whole)
    filled = [str(name) for name, variable in whole.data_vars.items() if _by_replicate(variable) or _is_map(variable)]
    with NetCDFFile(raw, "w") as file:
        store.dump(whole.drop_vars(filled), file)
        if "coordinates" not in attrs and "coordinates" in file.attrs:
            del file.attrs["coordinates"]  # of the rest alone; with what follows, each is named by a variable
        for name in filled:
            _shape(file, name, described[name], length)
    # strips and layers are whole chunks, so that a cache of chunks for each variable would be memory for nothing
    with h5py.File(raw, "r+", rdcc_nbytes=0) as file:
        arrays = {name: file[name] for name in filled}
        ours = {
            str(first.variables[name].attrs.get("parameter_name", name)): file[name] for name in filled
        }  # before `to_disk`
        for place, strip in enumerate(itertools.chain([begin], strips)):
            _fill_strip(ours, strip, place * length)
            raw.check()
        for strategy, year, values in layers:
            for name, layer in values.items():
                arrays[name][strategy, year] = layer.astype("f4")
            raw.check()


def _by_replicate(variable: Any) -> bool:
    return "replicate" in variable.dims


def _is_map(variable: Any) -> bool:
    return bool(variable.dims == ("strategy", "year", "y", "x"))


def _shaped(first: xr.Dataset, replicates: Sequence[int]) -> xr.Dataset:
    """Stretch the first strip over all replicates, with stand-ins for values that take no memory."""
    stretched = {}
    for name, variable in first.data_vars.items():
        if _by_replicate(variable):
            shape = tuple(len(replicates) if dim == "replicate" else n for dim, n in variable.sizes.items())
            stretched[name] = (variable.dims, np.broadcast_to(variable.dtype.type(0), shape), variable.attrs)
    replicate = xr.Variable(("replicate",), np.asarray(replicates, first["replicate"].dtype), first["replicate"].attrs)
    return first.drop_vars([*stretched, "replicate"]).assign_coords(replicate=replicate).assign(stretched)


def _shape(file: Any, name: str, described: xr.Variable, length: int) -> None:
    """Make room for a variable, in chunks of one strategy and one strip or year.

    What is never written (years whose maps are not kept) is missing and takes no room.
    """
    one = {"strategy": 1, "replicate": length} | ({"year": 1} if _is_map(described) else {})
    variable = file.create_variable(
        name,
        described.dims,
        described.dtype,
        fillvalue=described.dtype.type(np.nan) if described.dtype.kind == "f" else None,
        chunks=tuple(min(one.get(str(dim), size), size) for dim, size in described.sizes.items()),
        compression="gzip",
        compression_opts=4,
        shuffle=True,
    )
    for key, value in described.attrs.items():
        variable.attrs[key] = value


def _fill_strip(arrays: Mapping[str, Any], strip: xr.Dataset, start: int) -> None:
    stop = start + strip.sizes["replicate"]
    for name, variable in strip.variables.items():
        if _by_replicate(variable) and name != "replicate":
            region = tuple(slice(start, stop) if dim == "replicate" else slice(None) for dim in variable.dims)
            arrays[str(name)][region] = variable.values
