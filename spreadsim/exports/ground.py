"""Hosts, units and likely mat as a GeoPackage: things on the ground rather than cells of a map."""

import os
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import check_strategy, check_year
from spreadsim.errors import InputError, show
from spreadsim.exports.geotiff import placed
from spreadsim.exports.needs import gis
from spreadsim.inputs import unembed
from spreadsim.inputs.hosts import STATES


def export_ground(
    dataset: xr.Dataset, path: str | os.PathLike[str], *, strategy: str, year: int = -1, share: float = 0.5
) -> Path:
    """Write hosts, units and ground with mat as layers of a GeoPackage.

    Parameters
    ----------
    dataset
        What `compare` returned, with its embedded inputs.
    path
        The file; an older one is replaced once the new one is whole.
    strategy, year
        Of the layer `mat`; negative years count from the last, which is -1.
    share
        A cell is in the layer `mat` if at least this share of the replicates has mat in it (0 to 1, not 0).

    Returns
    -------
    pathlib.Path
        The file written. Layers: `hosts` (points, as mapped at the start), `units` (areas, if the site has any)
        and `mat` (areas of cells side by side, in rings of corners; none if no cell has the share).

    Raises
    ------
    InputError
        A name, year or share that is not allowed, no maps, or the extra `gis` is missing.
    """
    for library in ("rasterio.features", "pyogrio.raw", "shapely"):
        gis(library, "GeoPackage")
    if isinstance(share, bool) or not 0 < share <= 1:
        raise InputError(f"share: found {show(share)}, allowed above 0 to 1")
    if "occupancy" not in dataset:
        raise InputError("dataset: found no map occupancy, allowed outcomes with maps")
    check_strategy(dataset, strategy, "strategy")
    label = check_year(dataset, year)
    site = unembed(dataset).site
    occupancy = dataset["occupancy"].sel(strategy=strategy, year=label).to_numpy()
    path = Path(path)
    part = path.with_name(f".{path.stem}.part.gpkg")
    part.unlink(missing_ok=True)
    try:
        if len(site.hosts):
            write_layer(part, "hosts", *_hosts(site), crs=site.crs, geometry="Point")
        if site.unit.any():
            names = {number: site.unit_names[number - 1] for number in np.unique(site.unit[site.unit > 0])}
            shapes, numbers = _areas(dataset, site.unit.astype("i4"), site.unit > 0)
            fields = {"number": numbers, "name": np.array([names[n] for n in numbers], dtype=object)}
            write_layer(part, "units", shapes, fields, crs=site.crs, geometry="Polygon")
        likely = np.nan_to_num(occupancy, nan=0.0) >= share
        shapes, _ = _areas(dataset, likely.astype("i4"), likely)
        fields = {
            "strategy": np.full(len(shapes), strategy, dtype=object),
            "year": np.full(len(shapes), label, "i4"),
            "share_of_worlds": np.full(len(shapes), share),
        }
        write_layer(part, "mat", shapes, fields, crs=site.crs, geometry="Polygon")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    return path


def _hosts(site: Any) -> tuple[Any, dict[str, Any]]:
    """Points in the site's reference system, and what is known of them."""
    shapely = gis("shapely", "GeoPackage")
    hosts = site.hosts
    points = shapely.points(site.origin[0] + hosts.x, site.origin[1] + hosts.y)
    return points, {
        "number": np.arange(len(hosts), dtype="i4"),
        "state": np.array([STATES[code] for code in hosts.state], dtype=object),
        "kind": np.array([str(kind) for kind in hosts.kind], dtype=object),
        "girth": np.array([str(girth) for girth in hosts.girth], dtype=object),
        "height": np.asarray(hosts.height, "f8"),
        "known": np.asarray(hosts.known).astype("i4"),
    }


def _areas(dataset: xr.Dataset, numbers: Any, mask: Any) -> tuple[Any, Any]:
    """Areas of cells side by side with the same number, with that number."""
    features, shapely = gis("rasterio.features", "GeoPackage"), gis("shapely", "GeoPackage")
    rasterio = gis("rasterio", "GeoPackage")
    found = list(features.shapes(numbers, mask=mask, connectivity=4, transform=placed(rasterio, dataset)))
    shapes = np.array([shapely.geometry.shape(shape) for shape, _ in found], dtype=object)
    return shapes, np.array([int(number) for _, number in found], dtype="i4")


def write_layer(path: Path, layer: str, shapes: Any, fields: dict[str, Any], *, crs: str | None, geometry: str) -> None:
    """Put a layer into a GeoPackage, which is made if it isn't there."""
    raw, shapely = gis("pyogrio.raw", "GeoPackage"), gis("shapely", "GeoPackage")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "'crs' was not provided")  # an invented site has none
        raw.write(
            str(path),
            geometry=np.asarray(shapely.to_wkb(shapes), dtype=object),
            field_data=list(fields.values()),
            fields=list(fields),
            layer=layer,
            driver="GPKG",
            geometry_type=geometry,
            crs=crs,
            append=path.exists(),
            dataset_options={"VERSION": "1.2"},  # what older programs read without a warning
        )
