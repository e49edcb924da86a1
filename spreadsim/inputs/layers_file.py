"""Reading the layers of a site from a NetCDF file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.site_checks import MOST_CELLS

if TYPE_CHECKING:
    import xarray as xr

LAYERS = ("mat", "canopy", "plantable", "unit", "access", "wetness", "sensitive", "boundary_mat")
_ZARR = MappingProxyType({"engine": "zarr", "consolidated": False, "zarr_format": 3})  # format 2 can unpickle
_MOST_NUMBERS = 4 * MOST_CELLS  # in any one variable that is read


@dataclass(frozen=True)
class Layers:
    """What a layers file holds.

    Attributes
    ----------
    arrays : dict of str to array (y, x)
        By the names of `LAYERS`; row 0 in the north.
    cell_size : float or None
        m; None if the file has no coordinates.
    origin : tuple of two floats or None
        South-west corner, m.
    crs : str or None
        Well-known text of the coordinate reference system.
    """

    arrays: dict[str, np.ndarray]
    cell_size: float | None
    origin: tuple[float, float] | None
    crs: str | None


def read_layers(path: Path, check: Check) -> Layers | None:
    """Read layers on (y, x), turned so that row 0 is in the north.

    Parameters
    ----------
    path : Path
        A NetCDF file with any of `LAYERS` as variables; coordinates x and y, if it has them, are centres of
        square cells in metres. Without them row 0 is taken to be the north.
    check : Check
        Where to note; `check.thing` should name the file.

    Returns
    -------
    Layers or None
        None if something is wrong.
    """
    before = len(check.problems)
    dataset = _loaded(path, check, _is_ours, MOST_CELLS, LAYERS)
    if dataset is None:
        return None
    arrays: dict[str, np.ndarray] = {}
    for name in LAYERS:
        if name not in dataset:
            continue
        if set(dataset[name].dims) != {"y", "x"}:
            check.add(name, Said(f"dimensions {dataset[name].dims}"), "dimensions (y, x)")
            continue
        arrays[name] = dataset[name].transpose("y", "x").to_numpy()
    steps = {axis: _axis(dataset, axis, check) for axis in ("x", "y")}
    if len(check.problems) > before:
        return None
    if steps["x"] is None or steps["y"] is None:
        return Layers(arrays, None, None, _crs(dataset))
    (west, across), (south, down) = steps["x"], steps["y"]
    if abs(across) != 0 and abs(abs(down) - abs(across)) > 1e-6 * abs(across):
        check.add("y", abs(down), f"square cells, of {abs(across):g} m as along x")
        return None
    if across < 0:
        arrays = {name: array[:, ::-1] for name, array in arrays.items()}
    if down > 0:
        arrays = {name: array[::-1] for name, array in arrays.items()}
    size = abs(across)
    return Layers(arrays, size, (west - size / 2, south - size / 2), _crs(dataset))


def open_netcdf(path: Path, check: Check, prefix: str = "") -> xr.Dataset | None:
    """Load what begins with the prefix in a NetCDF-4 file, or a Zarr store; note why not if it cannot be read."""
    return _loaded(path, check, lambda name, variable: name.startswith(prefix), _MOST_NUMBERS)


def _is_ours(name: str, variable: Any) -> bool:
    """Tell layers, their coordinates and what may be a grid mapping; a file may hold much else."""
    return name in (*LAYERS, "x", "y") or variable.ndim == 0


def _loaded(
    path: Path, check: Check, wanted: Callable[[str, Any], bool], most: int, needed: Sequence[str] = ()
) -> xr.Dataset | None:
    """Load the variables wanted, unless one claims more numbers than can be: a small file can claim a terabyte.

    Where some are needed, one of them has to be there.
    """
    import xarray as xr  # here, since most experiments need no such file

    from spreadsim.netcdf import open_store

    zarr = (path / "zarr.json").exists()
    if not zarr and (path.is_dir() or not path.exists()):
        check.add("", Said("a folder" if path.is_dir() else "no such file"), "a NetCDF file that exists")
        return None
    try:
        how: Mapping[str, Any] = _ZARR if zarr else {}
        # our own store, since h5netcdf's prints a traceback when what it could not open is thrown away
        store: Any = path if zarr else open_store(path)
        with xr.open_dataset(store, decode_times=False, **how) as dataset:
            if needed and not any(name in dataset for name in needed):
                check.add("", Said(f"variables {list(map(str, dataset.data_vars))}"), f"at least {one_of(needed)}")
                return None
            kept = dataset.drop_vars([n for n, one in dataset.variables.items() if not wanted(str(n), one)])
            large = {str(name): one for name, one in kept.variables.items() if one.size > most}
            for name, one in large.items():
                shape = " x ".join(f"{size:,}" for size in one.shape)
                found = f"{shape} numbers ({one.size * one.dtype.itemsize / 1e9:,.1f} GB of memory)"
                check.add(name, Said(found), f"at most {most:,}: larger cells, or a part of it")
            return None if large else kept.load()
    except Exception as error:  # damaged files make HDF5 and xarray raise nearly anything
        reason = str(error).strip().split("\n")[0]
        check.problems.say(check.thing, "", f"cannot be read as a NetCDF-4 file: {reason}")
        return None


def _axis(dataset: Any, axis: str, check: Check) -> tuple[float, float] | None:
    """Give the least coordinate and the signed step of an axis; None without coordinates."""
    if axis not in dataset.coords or dataset[axis].size < 2:
        return None
    values = np.asarray(dataset[axis].to_numpy())
    if values.dtype.kind not in "iuf" or not np.isfinite(values).all():
        check.add(axis, values.ravel()[:3].tolist(), "finite numbers of metres")
        return None
    steps = np.diff(values.astype(np.float64))
    step = float(steps.mean())
    if step == 0 or np.abs(steps - step).max() > 1e-4 * abs(step):
        check.add(axis, Said(f"steps from {steps.min():g} to {steps.max():g}"), "equal steps")
        return None
    return float(values.min()), step


def _crs(dataset: Any) -> str | None:
    """Find a coordinate reference system the CF way: the attribute crs_wkt of a grid mapping."""
    for variable in dataset.variables.values():
        if isinstance(variable.attrs.get("crs_wkt"), str):
            return str(variable.attrs["crs_wkt"])
    return None
