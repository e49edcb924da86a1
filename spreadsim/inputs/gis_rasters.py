"""Layers of rasters: by which rules they are brought onto the grid, and what stands where they say nothing."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.gis_source import Source
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.raster_file import onto_grid
from spreadsim.inputs.resampling import AVERAGE, HIGHEST, MAJORITY
from spreadsim.inputs.site_checks import MOST_UNITS

SHARE, PERCENT = "share", "percent"
_KNOWN = 0.5  # share of a cell that must have data


class _Rule(NamedTuple):
    """How a raster of a layer is brought onto the grid, what it may hold, and what stands where it is unknown."""

    way: str
    low: float
    high: float
    above: bool
    whole: bool
    unknown: float | None  # None: the mean of what is known
    words: str


_RULES: Mapping[str, _Rule] = MappingProxyType(
    {
        "plantable": _Rule(AVERAGE, 0, 1, False, False, 0.0, "as ground that the vine cannot grow on"),
        "canopy": _Rule(AVERAGE, 0, 1, False, False, None, "as the mean of the rest"),
        "wetness": _Rule(AVERAGE, 0, 1, False, False, None, "as the mean of the rest"),
        "access": _Rule(AVERAGE, 0, 1000, True, False, 1.0, "as factor 1"),
        "mat": _Rule(AVERAGE, 0, 1, False, False, 0.0, "as without mat, though nobody may have looked there"),
        "sensitive": _Rule(HIGHEST, 0, 1, False, True, 1.0, "as sensitive, to be safe"),
        "unit": _Rule(MAJORITY, 0, MOST_UNITS, False, True, 0.0, "as in no unit"),
    }
)
_WAYS = MappingProxyType(
    {
        AVERAGE: "averages by area",
        MAJORITY: "the value with the largest area",
        HIGHEST: "the highest of all pixels that touch a cell",
    }
)


def raster_layer(gis: Gis, key: str, grid: Grid, ground: np.ndarray | None) -> np.ndarray | None:
    """Give a layer of a raster.

    Shares and factors (canopy, plantable, wetness, mat, access) are averages by area; units are the number with the
    largest area in a cell; a cell is sensitive if any sensitive pixel touches it. A cell is unknown where less than
    half of it has data: what stands there is in `FileTable.unknown`, or by the layer, and a remark says so.

    Parameters
    ----------
    gis : Gis
        With the raster.
    key : str
        Name of the layer.
    grid : Grid
        That of the site.
    ground : float64 (y, x) or None
        Ground that the vine can grow on: cells without any are not counted as unknown.

    Returns
    -------
    float64 (y, x) or None
        None if something is wrong.
    """
    source, raster, rule = gis.sources[key], gis.rasters[key], _RULES[key]
    read = onto_grid(raster, grid, rule.way, source.check)
    if read is None:
        return None
    values, known, pixels = read
    percent = source.said["scale"] == PERCENT
    if source.said["scale"] not in (None, SHARE, PERCENT) or (percent and rule.high != 1) or (percent and rule.whole):
        allowed = f'"{SHARE}" or "{PERCENT}"' if rule.high == 1 and not rule.whole else f"none: {key} is no share"
        source.check.add("scale", source.said["scale"], allowed)
    factor = 0.01 if percent else 1.0
    if not _in_bounds(pixels * factor, rule, source):
        return None
    across, down = raster.pixel
    system = "" if raster.crs is None or raster.crs == grid.crs else f" in {raster.crs.name}"
    words = f"pixels of {across:.3g} x {down:.3g}{system} brought onto cells of {grid.size:g} m: {_WAYS[rule.way]}"
    source.check.remark(key, words)
    return _filled(values * factor, known < _KNOWN, rule, source, ground)


def _in_bounds(pixels: np.ndarray, rule: _Rule, source: Source) -> bool:
    """Note pixels that cannot be, with what they look like."""
    check, key = source.check, source.key
    if not pixels.size:
        check.add(key, Said("no pixel with data on the site"), "some: is its crs right, and what stands for no data?")
        return False
    low, high = float(pixels.min()), float(pixels.max())
    allowed = f"{'more than ' if rule.above else ''}{rule.low:g} to {rule.high:g}"
    if low < rule.low or high > rule.high or (rule.above and low == rule.low):
        odd = low if low < rule.low or (rule.above and low == rule.low) else high
        if 1 < high <= 100 and low >= 0 and rule.high == 1 and not rule.whole:
            hint = f'it looks like percent: write {key} = {{ file = "{source.path.name}", scale = "{PERCENT}" }}'
        else:
            hint = f"if {odd:.7g} stands for no data, write nodata = {odd:.7g} in the table of the file"
        check.add(key, Said(f"values from {low:.7g} to {high:.7g}"), f"{allowed}; {hint}")
        return False
    if rule.whole and (pixels != np.floor(pixels)).any():
        check.add(key, float(pixels[pixels != np.floor(pixels)][0]), "whole numbers")
        return False
    if source.said["scale"] == PERCENT and high <= 0.01:
        check.remark(key, f"all values are at most {high * 100:g} percent: are they shares already?")
    return True


def _filled(
    values: np.ndarray, unknown: np.ndarray, rule: _Rule, source: Source, ground: np.ndarray | None
) -> np.ndarray | None:
    """Put something where a raster says nothing, and say so."""
    given = source.said["unknown"]
    if given is not None:
        before = len(source.check.problems)
        given = source.check.number("unknown", given, rule.low, rule.high, above=rule.above)
        if rule.whole and given != int(given):
            source.check.add("unknown", given, "a whole number")
        if len(source.check.problems) > before:
            return None
    if not unknown.any():
        return values
    mean = float(values[~unknown].mean()) if (~unknown).any() else 0.0
    default = mean if rule.unknown is None else rule.unknown
    filled: np.ndarray = np.where(unknown, default if given is None else given, values)
    counted = unknown if ground is None else unknown & (ground > 0)
    if counted.any():
        words = f"as {given:g}, as told" if given is not None else f"{rule.words} ({default:.3g})"
        remedy = "" if given is not None else "; unknown = NUMBER in its table says otherwise"
        share = counted.sum() / (counted.size if ground is None else max(1, (ground > 0).sum()))
        where = "the site" if ground is None else "the ground"
        source.check.remark(source.key, f"no data on {100 * share:.2g} % of {where}: taken {words}{remedy}")
    return filled
