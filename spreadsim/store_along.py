"""Writing outcomes piece by piece along one of their dimensions, so that memory holds one piece at a time."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import xarray as xr
from xarray.backends import H5NetCDFStore

from spreadsim.guarded import GuardedFile, remove_leftovers, renamed_when_whole
from spreadsim.netcdf import NetCDFFile
from spreadsim.store import encoding, to_disk

_LABELS_A_CHUNK = 1024
_LONGEST_CHUNK = 256


def write_along(pieces: Iterator[xr.Dataset], dim: str, path: str | os.PathLike[str]) -> Path:
    """Write datasets that follow each other along a dimension as one NetCDF-4 file.

    The file is replaced, and errors are raised, as by `store.write`.

    Parameters
    ----------
    pieces
        As `schema.build_dataset` makes them, in order. What does not lie along the dimension, and all attributes, are
        those of the first; later ones need not have it.
    dim
        ``"design"`` or ``"replicate"``; unlimited in the file.
    path
        The file.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    path = Path(path)
    remove_leftovers(path)
    with renamed_when_whole(path) as raw:
        first = to_disk(next(pieces))
        with NetCDFFile(raw, "w") as file:
            first.dump_to_store(H5NetCDFStore(file), encoding=_encoding(first, dim), unlimited_dims=[dim])
            raw.check()
            _append(raw, file, dim, first.sizes[dim], pieces)
    return path


def _append(raw: GuardedFile, file: Any, dim: str, length: int, pieces: Iterator[xr.Dataset]) -> None:
    for piece in pieces:
        disk = to_disk(piece)
        here = slice(length, length + disk.sizes[dim])
        length = here.stop
        file.resize_dimension(dim, length)
        for name, variable in disk.variables.items():
            if dim in variable.dims:
                where = tuple(here if other == dim else slice(None) for other in variable.dims)
                file.variables[str(name)][where] = variable.values
        raw.check()


def _encoding(disk: xr.Dataset, dim: str) -> dict[str, dict[str, Any]]:
    """As for any outcomes, in chunks of one strategy and few pieces."""
    chosen = encoding(disk)
    for name, variable in disk.variables.items():
        if dim in variable.dims:
            sizes = {other: 1 if other == "strategy" else max(1, size) for other, size in variable.sizes.items()}
            sizes[dim] = 1 if dim == "design" else min(_LONGEST_CHUNK, variable.sizes[dim])
            chunk = (_LABELS_A_CHUNK,) if variable.ndim == 1 else tuple(sizes.values())
            chosen[str(name)]["chunksizes"] = chunk
    return chosen
