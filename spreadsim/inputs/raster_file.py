"""Bringing a GeoTIFF, in any grid and reference system, onto the grid of a site."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import crs_of
from spreadsim.inputs.gis import installed
from spreadsim.inputs.ground_grid import Box, Grid
from spreadsim.inputs.resampling import Pixels, resampled

if TYPE_CHECKING:
    from pyproj import CRS

MOST_PIXELS = 50_000_000  # read at once
_LARGEST_BLOCK = 256_000_000  # bytes of a tile or strip, which are unpacked whole
_MARGIN = 2  # pixels read around the site


@dataclass(frozen=True)
class Raster:
    """A band of a GeoTIFF, not read yet.

    Attributes
    ----------
    path : Path
        The file.
    band : int
        From 1.
    crs : pyproj.CRS or None
        None if the file says none.
    transform : affine.Affine
        From columns and rows to coordinates.
    width, height : int
        Columns and rows.
    nodata : float or None
        A value that stands for unknown besides what the file says.
    """

    path: Path
    band: int
    crs: CRS | None
    transform: Any
    width: int
    height: int
    nodata: float | None = None

    @property
    def bounds(self) -> Box:
        """West, south, east and north end in its own coordinates."""
        corners = [_at(self.transform, u * self.width, v * self.height) for u in (0, 1) for v in (0, 1)]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def pixel(self) -> tuple[float, float]:
        """Width and height of a pixel, in units of its own coordinates."""
        t = self.transform
        return math.hypot(t.a, t.d), math.hypot(t.b, t.e)


def open_raster(path: Path, check: Check, *, band: int | None = None, nodata: float | None = None) -> Raster | None:
    """Look at a GeoTIFF without reading its pixels.

    Parameters
    ----------
    path : Path
        The file.
    check : Check
        Where to note; `check.thing` should name the file.
    band : int, optional
        Which band; needed if it has several (one for transparency aside).
    nodata : float, optional
        A value that stands for unknown besides what the file says.

    Returns
    -------
    Raster or None
        None if something is wrong.
    """
    if not installed(check, "", "rasterio", "pyproj"):
        return None
    if path.is_dir() or not path.exists():
        check.add("", Said("a folder" if path.is_dir() else "no such file"), "a GeoTIFF that exists")
        return None
    before = len(check.problems)
    try:
        with _opened(path) as dataset:
            number = _band(dataset, band, check)
            made = None if number is None else _raster(dataset, path, number, nodata, check)
    except Exception as error:  # damaged files make GDAL and rasterio raise nearly anything
        _not_read(check, error)
        return None
    return made if len(check.problems) == before else None


def onto_grid(raster: Raster, grid: Grid, rule: str, check: Check) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Read what lies on a grid and bring it onto that.

    Averages weigh every pixel by the area of it that lies in the cell, the majority likewise; the highest is 1 if any
    pixel above 0 reaches into the cell. Pixels without data count for nothing in any of them. See `resampled`.

    Parameters
    ----------
    raster : Raster
        With a reference system if the grid has one.
    grid : Grid
        That of the site.
    rule : str
        `AVERAGE`, `MAJORITY` or `HIGHEST` of `resampling`.
    check : Check
        Where to note.

    Returns
    -------
    values : float64 (y, x)
        NaN where no pixel has data.
    known : float64 (y, x)
        Share of each cell's area with data.
    pixels : float64 (n,)
        The values of pixels with data that were read, before they were brought onto the grid.
    None if something is wrong.
    """
    try:
        found = _read(raster, grid, check)
        if found is None:
            return None
        values, transform = found
        onto, known = resampled(Pixels(values, transform, raster.crs), grid, rule)
    except Exception as error:
        _not_read(check, error)
        return None
    return onto, known, values[np.isfinite(values)]


def _opened(path: Path) -> Any:
    """Open as a GeoTIFF and nothing else: other formats can name files elsewhere."""
    import rasterio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that it has no place is said in our words
        return rasterio.open(path.resolve(), driver="GTiff")


def _band(dataset: Any, band: int | None, check: Check) -> int | None:
    from rasterio.enums import ColorInterp

    if band is not None:
        if not 1 <= band <= dataset.count:
            check.add("band", band, f"1 to {dataset.count}")
            return None
        return band
    shown = [k for k in dataset.indexes if dataset.count == 1 or dataset.colorinterp[k - 1] != ColorInterp.alpha]
    if len(shown) != 1:
        check.add("band", Said(f"{len(shown)} bands"), "one, or band = N in the table of the file: is it a picture?")
        return None
    return int(shown[0])


def _raster(dataset: Any, path: Path, band: int, nodata: float | None, check: Check) -> Raster | None:
    dtype = np.dtype(dataset.dtypes[band - 1])
    if dtype.kind not in "iuf":
        check.add("", Said(f"pixels of type {dtype}"), "whole numbers or floats")
        return None
    rows, columns = dataset.block_shapes[band - 1]
    bands = dataset.count if dataset.interleaving is not None and dataset.interleaving.name == "pixel" else 1
    if rows * columns * dtype.itemsize * bands > _LARGEST_BLOCK:
        found = f"tiles or strips of {rows:,} x {columns:,} pixels"
        check.add("", Said(found), "at most 256 MB each: save it again in tiles")
        return None
    t = dataset.transform
    numbers = (t.a, t.b, t.c, t.d, t.e, t.f)
    if t.is_identity or not all(map(math.isfinite, numbers)) or t.a * t.e - t.b * t.d == 0:
        check.add(
            "", Said("no place on the map (it is not georeferenced)"), "a GeoTIFF that a GIS puts where it belongs"
        )
        return None
    crs = None if dataset.crs is None or not dataset.crs.wkt else crs_of(dataset.crs.wkt, check, "crs")
    return Raster(path, band, crs, t, dataset.width, dataset.height, nodata)


def _read(raster: Raster, grid: Grid, check: Check) -> tuple[np.ndarray, Any] | None:
    """Read the pixels on and around a grid as float64, NaN where there are none, and where they lie."""
    from rasterio.windows import Window

    window = _window(raster, grid)
    if window is None:
        check.add(
            "", Said("a raster that lies nowhere on the site"), f"one that covers {_said(grid)}: is its crs right?"
        )
        return None
    column, row, width, height = window
    if width * height > MOST_PIXELS:
        found = f"{width:,} x {height:,} pixels on the site"
        check.add("", Said(found), f"at most {MOST_PIXELS:,}: resample it to about {grid.size:g} m in a GIS")
        return None
    with _opened(raster.path) as dataset:
        part = Window(column, row, width, height)
        values = dataset.read(raster.band, window=part).astype(np.float64)
        held = dataset.read_masks(raster.band, window=part) > 0
        scale, offset = dataset.scales[raster.band - 1], dataset.offsets[raster.band - 1]
    if raster.nodata is not None:
        held &= values != raster.nodata
    values = np.where(held, values * scale + offset if (scale, offset) != (1.0, 0.0) else values, np.nan)
    # what lies beyond the raster is unknown: else a cell that it only touches would count as covered by it
    around = np.pad(values, _MARGIN, constant_values=np.nan)
    return around, _shifted(raster.transform, column - _MARGIN, row - _MARGIN)


def _window(raster: Raster, grid: Grid) -> tuple[int, int, int, int] | None:
    """Give column, row, width and height of the pixels on and around a grid; None if there are none."""
    from rasterio.warp import transform_bounds

    steps = np.linspace(0, 1, 21)
    west, south, east, north = grid.bounds
    if raster.crs is not None and grid.crs is not None and raster.crs != grid.crs:
        west, south, east, north = transform_bounds(grid.crs.to_wkt(), raster.crs.to_wkt(), west, south, east, north)
    xs, ys = west + (east - west) * steps, south + (north - south) * steps
    inverse = ~raster.transform
    corners = [_at(inverse, x, y) for x in (xs[0], xs[-1]) for y in (ys[0], ys[-1])]
    columns, rows = np.array(corners).T
    if not np.isfinite(corners).all():
        return None
    first = [max(0, math.floor(at.min()) - _MARGIN) for at in (columns, rows)]
    last = [min(most, math.ceil(at.max()) + _MARGIN) for at, most in ((columns, raster.width), (rows, raster.height))]
    width, height = (end - start for start, end in zip(first, last, strict=True))
    return None if width <= 0 or height <= 0 else (first[0], first[1], width, height)


def _at(t: Any, u: float, v: float) -> tuple[float, float]:
    """Apply an affine transform; its operator differs between versions of the library."""
    return t.a * u + t.b * v + t.c, t.d * u + t.e * v + t.f


def _shifted(t: Any, columns: int, rows: int) -> Any:
    """Give the transform of an image that begins some columns and rows further on."""
    x, y = _at(t, columns, rows)
    return type(t)(t.a, t.b, x, t.d, t.e, y)


def _said(grid: Grid) -> str:
    west, south, east, north = grid.bounds
    return f"x {west:.0f} to {east:.0f}, y {south:.0f} to {north:.0f} m"


def _not_read(check: Check, error: Exception) -> None:
    reason = " ".join(str(error).split()) or type(error).__name__
    check.problems.say(check.thing, "", f"cannot be read as a GeoTIFF: {reason}")
