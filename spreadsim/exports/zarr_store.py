"""Outcomes as a Zarr store: many small files that programs on a cluster or in a cloud read in part, and at once."""

import itertools
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.errors import InputError
from spreadsim.store import open_outcomes, to_disk
from spreadsim.strips import strip_of

_CHUNK_BYTES = 4e6


def export_zarr(dataset: xr.Dataset, path: str | os.PathLike[str]) -> Path:
    """Write outcomes as a Zarr store (format 3), chunk by chunk, so that memory does not grow with them.

    Parameters
    ----------
    dataset
        What `compare` returned, or `open_outcomes`.
    path
        The folder to become the store; an older store of outcomes there is replaced once the new one is whole.

    Returns
    -------
    pathlib.Path
        The store; `open_outcomes` opens it as it opens outcomes.nc, with the same values.

    Raises
    ------
    InputError
        Something else than a store of outcomes is there; it is left alone.
    OSError
        The disk refused; an older store is left as it was.
    """
    path = Path(path)
    _check_free(path)
    for left in path.parent.glob(f".{path.name}.*.part"):
        shutil.rmtree(left)  # of a killed process
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        _write(dataset, part / "new")
        if path.exists():
            path.rename(part / "old")
        try:
            (part / "new").rename(path)
        except OSError:
            if (part / "old").exists():
                (part / "old").rename(path)
            raise
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return path


def _check_free(path: Path) -> None:
    """Only a store of outcomes is replaced: a folder may hold anything, and goes with all that is in it."""
    if not path.exists():
        return
    try:
        if path.is_dir():
            open_outcomes(path).close()
            return
    except InputError:
        pass
    raise InputError(f"{path}: found something else than a Zarr store of outcomes, allowed a place that is free")


def _write(dataset: xr.Dataset, place: Path) -> None:
    import zarr  # takes time to load

    disk = to_disk(dataset)
    large = [str(name) for name, variable in disk.data_vars.items() if _is_large(variable)]
    described, _ = xr.conventions.encode_dataset_coordinates(disk)
    small = disk.drop_vars(large)
    # CF has no missing coordinates, but what xarray chooses says that they may be missing
    whole = {str(name): {"_FillValue": None} for name in small.variables if name in small.coords}
    small.to_zarr(place, mode="w", zarr_format=3, consolidated=False, encoding=whole)
    group = zarr.open_group(place, mode="r+", zarr_format=3)
    for name in large:
        variable = disk.variables[name]
        ours = str(variable.attrs.get("parameter_name", name))
        chunks = _chunks(dataset[ours].variable)
        array = group.create_array(
            name,
            shape=variable.shape,
            chunks=chunks,
            dtype=variable.dtype,
            fill_value=np.nan if variable.dtype.kind == "f" else 0,
            dimension_names=[str(dim) for dim in variable.dims],
            attributes={key: _plain(value) for key, value in described[name].attrs.items()},
        )
        for region in _regions(variable.shape, chunks):
            array[region] = variable[region].values
    if "coordinates" in group.attrs:
        del group.attrs["coordinates"]  # of the small ones alone; with the rest, each is named by a variable


def _is_large(variable: Any) -> bool:
    return variable.ndim > 1 and variable.dtype.kind in "fiu" and bool({"replicate", "year"} & set(variable.dims))


def _chunks(variable: xr.Variable) -> tuple[int, ...]:
    """One design point and strategy; of maps one year; as many replicates as a chunk should hold."""
    one = {"design": 1, "strategy": 1}
    if "x" in variable.dims:
        one |= {"year": 1, "replicate": 1}
    elif "replicate" in variable.dims:
        one |= {"replicate": strip_of(variable, _CHUNK_BYTES)}
    return tuple(max(1, min(one.get(str(dim), size), size)) for dim, size in variable.sizes.items())


def _regions(shape: tuple[int, ...], chunks: tuple[int, ...]) -> Iterator[tuple[slice, ...]]:
    starts = [range(0, size, chunk) for size, chunk in zip(shape, chunks, strict=True)]
    for corner in itertools.product(*starts):
        yield tuple(slice(at, at + chunk) for at, chunk in zip(corner, chunks, strict=True))


def _plain(value: Any) -> Any:
    """Attributes as JSON can hold them."""
    return value.tolist() if isinstance(value, np.ndarray | np.generic) else value
