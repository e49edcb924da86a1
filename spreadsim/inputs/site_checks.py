"""Checks of the layers of a site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.checks import Check

MOST_CELLS = 25_000_000
MOST_UNITS = 32767  # what int16 holds


# What stands where a layer is not given, and what it may hold: default, low, high, more than low, whole numbers.
_LAYERS: Mapping[str, tuple[float, float, float, bool, bool]] = MappingProxyType(
    {
        "mat": (0.0, 0.0, 1.0, False, False),
        "canopy": (0.0, 0.0, 1.0, False, False),
        "plantable": (1.0, 0.0, 1.0, False, False),
        "units": (0.0, 0, MOST_UNITS, False, True),
        "access": (1.0, 0.0, 1000.0, True, False),
        "wetness": (0.0, 0.0, 1.0, False, False),
        "sensitive": (0.0, 0, 1, False, True),
    }
)


def checked_layers(check: Check, given: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Give all layers of a site, of those given and the defaults of the others.

    Parameters
    ----------
    check : Check
        Where to note problems; they are raised here if the shape cannot be told.
    given : mapping of str to array or None
        By the names of `Site.from_arrays`.

    Returns
    -------
    dict of str to float64 (y, x)
        A layer that is wrong is as it is, or its default if it is no layer of the shape at all.
    """
    arrays = {name: as_layer(check, name, value) for name, value in given.items() if value is not None}
    shape = shape_of(check, arrays)
    if shape is None:
        check.done()
        raise AssertionError("a site without a shape has been refused")
    layers = {}
    for name, (default, low, high, above, whole) in _LAYERS.items():
        array = arrays.get(name)
        if array is None or array.shape != shape:
            layers[name] = np.full(shape, default)
            continue
        check_bounds(check, name, array, low, high, above)
        if whole:
            check_whole(check, name, array)
        layers[name] = array
    return layers


def as_layer(check: Check, name: str, value: Any) -> np.ndarray | None:
    """Give a layer as float64 (y, x), or note why not."""
    try:
        array = np.asarray(value)
        if array.dtype.kind not in "biuf":
            raise TypeError
        array = array.astype(np.float64)
    except (TypeError, ValueError):
        check.add(name, value, "an array of numbers (y, x)")
        return None
    if array.ndim != 2 or 0 in array.shape or array.size > MOST_CELLS:
        check.add(name, Said(f"shape {array.shape}"), f"two dimensions (y, x), 1 to {MOST_CELLS} cells")
        return None
    return array


def shape_of(check: Check, layers: Mapping[str, np.ndarray | None]) -> tuple[int, int] | None:
    """Give the one shape of all layers; note those that differ from the first."""
    shape: tuple[int, int] | None = None
    first = ""
    for name, array in layers.items():
        if array is None:
            continue
        if shape is None:
            shape, first = (array.shape[0], array.shape[1]), name
        elif array.shape != shape:
            check.add(name, Said(f"shape {array.shape}"), f"shape {shape}, as {first} has")
    if not layers:
        check.add("mat", MISSING, "at least one layer (y, x), such as mat or canopy")
    return shape


def check_bounds(check: Check, name: str, array: np.ndarray, low: float, high: float, above: bool) -> None:
    with np.errstate(invalid="ignore"):
        wrong = ~((array >= low) & (array <= high)) | (above & (array == low))
    if wrong.any():
        row, column = (int(i) for i in np.argwhere(wrong)[0])
        more = int(wrong.sum()) - 1
        allowed = f"{'more than ' if above else ''}{low:g} to {high:g}" + (
            f" ({more} more cells are wrong)" if more else ""
        )
        check.add(f"{name}[{row}, {column}]", float(array[row, column]), allowed)


def check_whole(check: Check, name: str, array: np.ndarray) -> None:
    wrong = np.isfinite(array) & (array != np.floor(array))
    if wrong.any():
        row, column = (int(i) for i in np.argwhere(wrong)[0])
        check.add(f"{name}[{row}, {column}]", float(array[row, column]), "whole numbers")


def names_of_units(check: Check, number: np.ndarray, names: Sequence[str] | None) -> tuple[str, ...]:
    finite = number[np.isfinite(number) & (number <= MOST_UNITS)]
    highest = int(finite.max()) if finite.size else 0
    if names is None:
        return tuple(f"unit {k}" for k in range(1, highest + 1))
    kept = check.words("unit_names", names)
    if len(kept) < highest:
        check.add(
            "unit_names",
            Said(f"{len(kept)} names"),
            f"at least {highest}, since the units go up to {highest}",
        )
    return kept


def as_origin(check: Check, origin: Any) -> tuple[float, float]:
    try:
        x, y = origin
    except (TypeError, ValueError):
        check.add("origin", origin, "two numbers (x, y)")
        return 0.0, 0.0
    return check.number("origin[0]", x, -1e8, 1e8), check.number("origin[1]", y, -1e8, 1e8)
