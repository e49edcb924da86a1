"""Writing outcomes along their design points, one after the other, so that memory holds one at a time."""

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.store import encoding_of, to_disk

_ALONG = "design"
_LABELS_A_CHUNK = 1024


def write_points(points: Iterator[xr.Dataset], path: str | os.PathLike[str]) -> Path:
    """Write datasets of one design point each as one NetCDF-4 file, under a temporary name, then rename it.

    Parameters
    ----------
    points
        As `schema.build_dataset` makes them, with `design` of length 1 in order; they differ along it alone.
    path
        The file; an older one is replaced once the new one is whole, never before.

    Returns
    -------
    pathlib.Path
        The file written; `design` is its unlimited dimension, and a chunk holds values of one point.

    Raises
    ------
    OSError
        The disk refused; the temporary file is removed and an older file is left as it was.
    """
    path = Path(path)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        first = to_disk(next(points))
        options: dict[str, Any] = {"engine": "h5netcdf", "format": "NETCDF4", "unlimited_dims": [_ALONG]}
        first.to_netcdf(part, encoding=_encoding(first), **options)
        _append(part, points)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
    return path


def _append(part: Path, points: Iterator[xr.Dataset]) -> None:
    import h5netcdf

    with h5netcdf.File(part, "r+") as file:
        for k, point in enumerate(points, start=1):
            disk = to_disk(point)
            file.resize_dimension(_ALONG, k + 1)
            for name, variable in disk.variables.items():
                if _ALONG in variable.dims:
                    file.variables[str(name)][k] = variable.values[0]


def _encoding(disk: xr.Dataset) -> dict[str, dict[str, Any]]:
    """As for any outcomes, in chunks of one point and strategy."""
    encoding = encoding_of(disk)
    for name, variable in disk.variables.items():
        if _ALONG in variable.dims:
            sizes = [1 if dim in (_ALONG, "strategy") else variable.sizes[dim] for dim in variable.dims]
            chunk = (_LABELS_A_CHUNK,) if variable.ndim == 1 else tuple(max(1, size) for size in sizes)
            encoding[str(name)]["chunksizes"] = chunk
    return encoding
