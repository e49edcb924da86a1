"""The grid of a site: the size of its cells, and how many."""

from __future__ import annotations

from spreadsim.errors import MISSING, Said
from spreadsim.inputs.site_checks import MOST_CELLS
from spreadsim.inputs.site_context import Context

CELL_SIZE = 2.0  # m, where nothing is said


def grid_of(context: Context) -> tuple[float, tuple[int, int] | None]:
    """Give the size of a cell and the shape (y, x), of the layers or of width and height.

    Returns
    -------
    size : float
        m.
    shape : tuple of two ints or None
        None if it cannot be told; why is noted.
    """
    values = context.values
    size = None if values.cell_size is None else values.cell_size * context.length
    if size is not None and not 0.1 <= size <= 100:
        context.add("cell_size", values.cell_size, "0.1 to 100 m")
        return CELL_SIZE, None
    if values.layers is not None:
        return _of_layers(context, size)
    return _of_sides(context, CELL_SIZE if size is None else size)


def _of_sides(context: Context, size: float) -> tuple[float, tuple[int, int] | None]:
    counts = {"width": 0, "height": 0}
    for key in counts:
        side = getattr(context.values, key)
        if side is None:
            context.add(key, MISSING, "a length, since there is no layers file")
        elif not 0 < side * context.length <= MOST_CELLS * size:
            context.add(key, side, f"more than 0, and at most {MOST_CELLS} cells")
        else:
            counts[key] = max(1, round(side * context.length / size))
            whole = abs(side * context.length - counts[key] * size) <= 1e-6 * size
            if not whole and context.values.units == "metric":  # feet are rounded: they seldom fit
                context.add(key, side, f"a whole number of cells of {size:g} m")
    if 0 in counts.values():
        return size, None
    if counts["width"] * counts["height"] > MOST_CELLS:
        context.add("width", Said(f"{counts['width'] * counts['height']} cells"), f"at most {MOST_CELLS}")
        return size, None
    return size, (counts["height"], counts["width"])


def _of_layers(context: Context, size: float | None) -> tuple[float, tuple[int, int] | None]:
    layers = context.layers
    for key in ("width", "height"):
        if getattr(context.values, key) is not None:
            context.add(key, getattr(context.values, key), "none, since the layers give it")
    if layers is None:
        return CELL_SIZE, None
    if layers.cell_size is None and size is None:
        context.add("cell_size", MISSING, "a length, since the layers have no coordinates")
        return CELL_SIZE, None
    if layers.cell_size is not None and size is not None and abs(size - layers.cell_size) > 1e-6 * size:
        context.add("cell_size", context.values.cell_size, f"{layers.cell_size:g} m, as the layers have")
    rows, columns = next(iter(layers.arrays.values())).shape
    return size or layers.cell_size or CELL_SIZE, (rows, columns)
