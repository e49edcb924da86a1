"""Where mat stands across the boundary, of what a site file says."""

from __future__ import annotations

import math

import numpy as np

from spreadsim.errors import one_of
from spreadsim.inputs.boundary import SIDES, check_span, mark, side_length
from spreadsim.inputs.file_models import BoundaryTable
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.taking import take


def boundary_of(context: Context, shape: tuple[int, int], size: float) -> np.ndarray:
    """Give the cells at the boundary that the site table names.

    Parameters
    ----------
    context : Context
        With the key ``boundary_mat``: tables with ``side``, and ``from`` and ``to`` along it, from the west or
        the south, in the unit of length of the file.
    shape : tuple of two ints
        Rows and columns.
    size : float
        Side of a cell, m.

    Returns
    -------
    bool (y, x)
    """
    layer = np.zeros(shape, dtype=bool)
    for index, table in enumerate(context.values.boundary_mat):
        place = context.at(f"boundary_mat[{index}]")
        values, whole = take(BoundaryTable, table, context.check, place)
        side = values.get("side")
        if side is not None and side not in SIDES:
            context.check.add(f"{place}.side", side, one_of(SIDES))
        if not whole or side not in SIDES:
            continue
        # A side that feet don't divide into cells is up to half a cell longer than the cells are.
        beyond = size / 2 if context.values.units == "us" else 0.0
        length = (side_length(shape, side, size) + beyond) / context.length
        span = (values["from"], length if values["to"] is None else values["to"])
        if check_span(context.check, place, span, (".from", ".to"), length):
            last = math.inf if values["to"] is None else span[1] * context.length
            mark(layer, side, span[0] * context.length, last, size)
    return layer
