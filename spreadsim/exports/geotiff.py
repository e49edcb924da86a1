"""Maps of outcomes as cloud-optimised GeoTIFF, which any GIS opens in the right place."""

import os
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import spreadsim
from spreadsim.analysis.outcomes import check_strategy, check_year, strategy_names
from spreadsim.errors import InputError, one_of, show
from spreadsim.exports.needs import gis
from spreadsim.schema import VARIABLES


def map_names(dataset: xr.Dataset) -> tuple[str, ...]:
    """Give the maps of the dataset that are means or shares over all replicates."""
    return tuple(
        name for name, variable in VARIABLES.items() if variable.is_map and name in dataset and not _own(dataset, name)
    )


def _own(dataset: xr.Dataset, name: str) -> bool:
    return "replicate" in dataset[name].dims


def export_map(
    dataset: xr.Dataset, path: str | os.PathLike[str], name: str = "occupancy", *, strategy: str, year: int = -1
) -> Path:
    """Write one map as a cloud-optimised GeoTIFF of 32-bit numbers.

    Parameters
    ----------
    dataset
        What `compare` returned.
    path
        The file; an older one is replaced once the new one is whole.
    name
        One of `map_names`: "occupancy" (share of replicates with mat in the cell) or "mean_cover".
    strategy
        Name of a strategy.
    year
        Year of the dataset; negative ones count from the last, which is -1.

    Returns
    -------
    pathlib.Path
        The file written. Cells without a number are NaN; what the map is stands in its tags.

    Raises
    ------
    InputError
        A name or year that is not allowed, a year whose map was not kept, or the extra `gis` is missing.
    """
    rasterio = gis("rasterio", "GeoTIFF")
    names = map_names(dataset)
    if name not in names:
        raise InputError(f"map: found {show(name)}, allowed {one_of(names)}")
    check_strategy(dataset, strategy, "strategy")
    label = check_year(dataset, year)
    layer = dataset[name].sel(strategy=strategy, year=label)
    values = layer.to_numpy().astype("f4")
    if not np.isfinite(values).any():
        kept = ", ".join(str(number) for number in kept_years(dataset, name))
        raise InputError(f"year: found {label}, whose maps were not kept, allowed {kept}")
    profile = {
        "driver": "COG",
        "height": values.shape[0],
        "width": values.shape[1],
        "count": 1,
        "dtype": "float32",
        "nodata": float("nan"),
        "transform": placed(rasterio, dataset),
        "crs": dataset.attrs.get("crs") or None,
        "compress": "DEFLATE",
    }
    path = Path(path)
    # the driver looks at the ending, so the temporary name has the same
    part = path.with_name(f".{path.stem}.part.tif")
    try:
        with rasterio.open(part, "w", **profile) as file:
            file.write(values, 1)
            file.set_band_description(1, str(layer.attrs.get("long_name", name)))
            file.update_tags(**_tags(dataset, name, strategy, label))
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    return path


def kept_years(dataset: xr.Dataset, name: str) -> list[int]:
    """Years whose maps are in the dataset, looked up in its first strategy."""
    first = dataset[name].isel(strategy=0)
    return [int(year) for year in first["year"].values if bool(np.isfinite(first.sel(year=year).values).any())]


def placed(rasterio: Any, dataset: xr.Dataset) -> Any:
    """Transform from rows and columns to metres, from the coordinates of cell centres."""
    x, y = dataset["x"].to_numpy(), dataset["y"].to_numpy()
    side = side_of(dataset)
    return rasterio.transform.from_origin(x[0] - side / 2, y[0] + side / 2, side, side)


def side_of(dataset: xr.Dataset) -> float:
    """Side of a cell, m; sites of one row and one column have no distance between centres, and tell it themselves."""
    for name in ("x", "y"):
        if dataset.sizes[name] > 1:
            return abs(float(dataset[name][1] - dataset[name][0]))
    from spreadsim.inputs import unembed

    return unembed(dataset).site.cell_size


def _tags(dataset: xr.Dataset, name: str, strategy: str, year: int) -> dict[str, str]:
    said = {
        "title": dataset.attrs.get("title", ""),
        "map": dataset[name].attrs.get("long_name", name),
        "units": dataset[name].attrs.get("units", "1"),
        "strategy": strategy,
        "year": year,
        "strategies": ", ".join(strategy_names(dataset)),
        "replicates": dataset.sizes["replicate"],
        "seed": dataset.attrs.get("seed", ""),
        "source": dataset.attrs.get("source", f"spreadsim {spreadsim.__version__}"),
        "comment": dataset.attrs.get("comment", ""),
    }
    return {key: str(value) for key, value in said.items() if str(value)}
