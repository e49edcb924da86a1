"""Cells at the edge of a site across whose outer side mat stands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.site_checks import as_layer, check_whole

SIDES = ("north", "south", "east", "west")


def boundary_layer(check: Check, value: Any, shape: tuple[int, int], size: float) -> np.ndarray:
    """Make the layer of what `Site.from_arrays` was given, noting what is wrong.

    Parameters
    ----------
    check : Check
        Where to note problems.
    value : None, array (y, x), or mapping
        0 and 1; or by side: True for all of it, or a list of (from, to) in metres along the side, from the west
        or the south.
    shape : tuple of two ints
        Rows and columns.
    size : float
        Side of a cell, m.

    Returns
    -------
    bool (y, x)
    """
    layer = np.zeros(shape, dtype=bool)
    if value is None:
        return layer
    if not isinstance(value, Mapping):
        return _of_array(check, value, shape)
    for side, given in value.items():
        if side not in SIDES:
            check.add(f"boundary_mat.{side}", given, one_of(SIDES))
        elif isinstance(given, bool | np.bool_):
            if given:
                mark(layer, side, 0.0, math.inf, size)
        elif isinstance(given, str | Mapping) or not isinstance(given, Iterable):
            check.add(f"boundary_mat.{side}", given, "True, or a list of (from, to)")
        else:
            for index, span in enumerate(given):
                _of_span(check, f"boundary_mat.{side}[{index}]", span, layer, side, size)
    return layer


def side_length(shape: tuple[int, int], side: str, size: float) -> float:
    """Give the length of a side, m."""
    return shape[1 if side in ("north", "south") else 0] * size


def check_span(check: Check, place: str, span: tuple[Any, Any], names: tuple[str, str], length: float) -> bool:
    """Note a stretch that is not on a side, or has no length.

    Parameters
    ----------
    check : Check
        Where to note problems.
    place : str
        Where the stretch stands.
    span : tuple of two numbers
        From and to.
    names : tuple of two texts
        What stands behind the place for each.
    length : float
        Of the side, in the same unit.

    Returns
    -------
    bool
        Whether it is right.
    """
    before = len(check.problems)
    end = length * (1 + 1e-9)  # sums of cell sizes are not exact
    first = check.number(place + names[0], span[0], 0, end)
    last = check.number(place + names[1], span[1], 0, end)
    if len(check.problems) == before and last <= first:
        check.add(place + names[1], span[1], f"more than {first:g}, where it begins")
    return len(check.problems) == before


def mark(layer: np.ndarray, side: str, first: float, last: float, size: float) -> None:
    """Set the cells of a side that a stretch touches, from `first` to `last` metres; corners belong to both sides."""
    row = {"north": layer[0], "south": layer[-1], "east": layer[::-1, -1], "west": layer[::-1, 0]}[side]
    rounding = 1e-6  # of a cell, as feet turned into metres have it
    start = math.floor(first / size + rounding)
    stop = row.size if math.isinf(last) else math.ceil(last / size - rounding)
    row[start : max(stop, start + 1)] = True


def _of_array(check: Check, value: Any, shape: tuple[int, int]) -> np.ndarray:
    layer = as_layer(check, "boundary_mat", value)
    if layer is None:
        return np.zeros(shape, dtype=bool)
    if layer.shape != shape:
        check.add("boundary_mat", Said(f"shape {layer.shape}"), f"shape {shape}, as the other layers have")
        return np.zeros(shape, dtype=bool)
    check_whole(check, "boundary_mat", layer)
    wrong = ~((layer == 0) | (layer == 1))
    allowed = "0 or 1"
    if not wrong.any():
        wrong = layer != 0
        wrong[[0, -1]] = wrong[:, [0, -1]] = False
        allowed = "0: only cells at the edge of the site lie at its boundary"
    if wrong.any():
        row, column = (int(k) for k in np.argwhere(wrong)[0])
        check.add(f"boundary_mat[{row}, {column}]", float(layer[row, column]), allowed)
    marked: np.ndarray = layer == 1
    return marked


def _of_span(check: Check, place: str, span: Any, layer: np.ndarray, side: str, size: float) -> None:
    try:
        first, last = span
    except (TypeError, ValueError):
        check.add(place, MISSING if span is None else span, "two numbers (from, to)")
        return
    if check_span(check, place, (first, last), ("[0]", "[1]"), side_length(layer.shape, side, size)):
        mark(layer, side, float(first), float(last), size)
