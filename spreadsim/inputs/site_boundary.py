"""Where mat stands across the boundary, of what a site file and its layers say."""

from __future__ import annotations

import math

import numpy as np

from spreadsim.errors import one_of
from spreadsim.inputs.boundary import SIDES, check_span, mark, side_length
from spreadsim.inputs.file_models import BoundaryTable
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.taking import take


def boundary_of(context: Context, shape: tuple[int, int], size: float) -> np.ndarray:
    """Give the cells at the boundary that the site table names, and those that the layers mark.

    Parameters
    ----------
    context : Context
        With layers read, and the key ``boundary_mat``: tables with ``side``, and ``from`` and ``to`` along it, from
        the west or the south, in the unit of length of the file.
    shape : tuple of two ints
        Rows and columns.
    size : float
        Side of a cell, m.

    Returns
    -------
    float64 or bool (y, x)
        1 where there is mat; the layer as it was read where the table names nothing, its shape and values unchecked.
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
    read = {} if context.layers is None else context.layers.arrays
    if "boundary_mat" not in read:
        return layer
    # what is wrong with a layer is said when the site is made
    return np.where(layer, 1, read["boundary_mat"]) if read["boundary_mat"].shape == shape else read["boundary_mat"]
