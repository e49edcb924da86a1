"""Writing a new experiment: all its files or none, into a folder that is empty or not there yet."""

from __future__ import annotations

import csv
import io
import math
import shutil
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs.experiment_file import read_experiment
from spreadsim.inputs.units import FOOT
from spreadsim.starting.invent import Invented
from spreadsim.starting.numbers import Numbers
from spreadsim.starting.texts import experiment_text, readme_text, site_text

# layer: what it is, its unit
_LAYERS = {
    "canopy": "canopy cover",
    "plantable": "share of the ground that the vine can grow on; 0 is water, or outside the site",
    "mat": "living cover of the mat",
    "access": "factor on hours of work, by the way from the entrance",
    "sensitive": "1: no herbicide here",
    "unit": "number of the unit, 0 for none",
}


def refuse_full(folder: Path) -> None:
    """Raise `InputError` if a folder has something in it, or is a file."""
    if folder.is_file() or (folder.is_dir() and any(folder.iterdir())):
        found = "a file" if folder.is_file() else "a folder with something in it"
        raise InputError(f"{folder}: found {found}, allowed a new or empty folder: nothing is overwritten")


def write_new(
    folder: Path, numbers: Numbers, made: Invented, *, seed: int, boundary: str = "", title: str = ""
) -> Path:
    """Write an experiment and make sure that it can be read.

    Parameters
    ----------
    folder : Path
        Must not be there, or be empty.
    numbers : Numbers
        What was asked.
    made : Invented
        The site.
    seed : int
        With which it was invented, for the record.
    boundary : str
        Name of the file with the boundary, if there was one.
    title : str
        Name of the place, for people.

    Returns
    -------
    Path
        ``experiment.toml``.

    Raises
    ------
    InputError
        The folder has something in it.
    """
    refuse_full(folder)
    folder.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        texts = {
            "experiment.toml": experiment_text(numbers, title, seed),
            "site.toml": site_text(numbers, made, title, seed),
            "README.md": readme_text(numbers, made, title, seed, boundary),
            "hosts.csv": _hosts(numbers, made),
        }
        if len(made.sources):
            texts["sources.csv"] = _sources(numbers, made)
        for name, text in texts.items():
            (part / name).write_text(text, encoding="utf-8", newline="\n")
        _write_layers(part / "ground.nc", made)
        read_experiment(part / "experiment.toml")
        part.chmod(0o755)
        if folder.exists():
            folder.rmdir()  # refuses one that has been filled meanwhile
        part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder / "experiment.toml"


def _hosts(numbers: Numbers, made: Invented) -> str:
    hosts, unit = made.hosts, FOOT if numbers.system == "us" else 1.0
    ny, nx = made.mat.shape
    ends = (nx * made.ground.outline.cell / unit, ny * made.ground.outline.cell / unit)
    rows = []
    for k in range(len(hosts["x"])):
        place = [f"{min(float(hosts[axis][k]) / unit, _down(end)):.2f}" for axis, end in zip("xy", ends, strict=True)]
        years = "" if math.isnan(hosts["years_climbing"][k]) else f"{hosts['years_climbing'][k]:.0f}"
        height = f"{hosts['height'][k] / unit:.1f}"
        light = f"{hosts['top_light'][k]:.2f}"
        rows.append([*place, hosts["state"][k], "tree", hosts["girth"][k], height, light, years])
    head = ["x", "y", "state", "kind", "girth", "height", "top_light", "years_climbing"]
    return _csv([head, *rows])


def _down(end: float) -> float:
    """Give the last hundredth that is still on the site."""
    return math.floor(end * 100) / 100


def _sources(numbers: Numbers, made: Invented) -> str:
    unit = FOOT if numbers.system == "us" else 1.0
    return _csv([["x", "y", "hosts"], *[[f"{x / unit:.1f}", f"{y / unit:.1f}", f"{n:g}"] for x, y, n in made.sources]])


def _csv(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _write_layers(path: Path, made: Invented) -> None:
    import xarray as xr

    ground, outline = made.ground, made.ground.outline
    ny, nx = made.mat.shape
    values = {
        "canopy": made.canopy,
        "plantable": ground.free.astype(np.float64),
        "mat": made.mat,
        "access": ground.access,
        "sensitive": ground.sensitive.astype(np.int8),
        "unit": ground.unit,
    }
    cell, (west, south) = outline.cell, outline.origin
    axes = {"x": west + (np.arange(nx) + 0.5) * cell, "y": south + (np.arange(ny)[::-1] + 0.5) * cell}
    coords = {
        name: (name, axis, {"units": "m", "standard_name": f"projection_{name}_coordinate"})
        for name, axis in axes.items()
    }
    dataset = xr.Dataset(
        {name: (("y", "x"), layer, {"long_name": _LAYERS[name], "units": "1"}) for name, layer in values.items()},
        coords=coords,
        attrs={"comment": "Invented from a few numbers; see README.md.", "Conventions": "CF-1.11"},
    )
    if outline.crs is not None:
        dataset["crs"] = ((), np.int32(0), {"crs_wkt": outline.crs})
        for name in values:
            dataset[name].attrs["grid_mapping"] = "crs"
    packed: dict[str, dict[str, Any]] = {name: {"zlib": True, "complevel": 4, "_FillValue": None} for name in values}
    packed |= {name: {"_FillValue": None} for name in axes}
    for name in ("canopy", "access"):
        packed[name]["dtype"] = "float32"
    dataset.to_netcdf(path, engine="h5netcdf", encoding=packed)
