"""A site as the flat arrays that kernels read."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from spreadsim.inputs import Site
from spreadsim.model.compiled import layout

GIRTH_FACTORS = {"small": 0.5, "medium": 1.0, "large": 2.0}
BLOCK = 10.0  # m: what lies in the same block as work may be found on the way
PERCH_HEIGHT = 2.0  # m
PERCH_REACH = 3.0  # m
# the eight-neighbourhood row by row from the north west, then the knight's moves row by row: (rows, columns)
MOVES = (
    (-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1),
    (-2, -1), (-2, 1), (-1, -2), (-1, 2), (1, -2), (1, 2), (2, -1), (2, 1),
)  # fmt: skip


def pack_site(site: Site) -> Any:
    """Pack a site.

    Parameters
    ----------
    site
        The ground, frozen.

    Returns
    -------
    layout.Ground
        Cells in row order from the north west; hosts in the site's order; lengths in metres.
    """
    n = site.ny * site.nx
    h = site.cell_size
    cells = np.zeros(n, layout.GROUND)
    for name in ("access", "wetness", "sensitive", "unit"):
        cells[name] = getattr(site, name).ravel()
    rows, columns = np.divmod(np.arange(n), site.nx)
    across = int(np.ceil(site.nx * h / BLOCK))
    cells["block"] = (rows * h // BLOCK).astype(int) * across + (columns * h // BLOCK).astype(int)
    cells["perch"] = perches(site).ravel()
    cells["boundary"] = (site.boundary_mat & (site.plantable > 0)).ravel()

    hosts = np.zeros(len(site.hosts), layout.HOST)
    for name in ("x", "y", "height", "top_light", "years_climbing", "cell", "state", "known"):
        hosts[name] = getattr(site.hosts, name)
    hosts["girth"] = [GIRTH_FACTORS[girth] for girth in site.hosts.girth]
    hosts["tree"] = [kind == "tree" for kind in site.hosts.kind]

    by_cell = np.argsort(site.hosts.cell, kind="stable").astype("i8")
    start = np.zeros(n + 1, "i8")
    np.cumsum(np.bincount(site.hosts.cell, minlength=n), out=start[1:])
    cells["first_host"], cells["after_hosts"] = start[:-1], start[1:]
    cells["mapped"] = site.mat.ravel()
    cells["plantable"] = site.plantable.ravel()
    cells["moves"] = open_moves(site.plantable > 0).ravel()
    lists = {
        layout.HOSTS_BY_CELL: by_cell,
        layout.TREES: np.flatnonzero(hosts["tree"]),
        layout.MAPPED: np.flatnonzero(cells["mapped"] > 0),
        layout.FIRST_CLIMBED: np.flatnonzero(hosts["state"] > 0),
        layout.OFFSETS: np.array([row * site.nx + column for row, column in MOVES]),
        layout.BOUNDARY: np.flatnonzero(cells["boundary"]),
    }
    shape = [
        site.ny,
        site.nx,
        *(lists[row].size for row in (layout.TREES, layout.MAPPED, layout.FIRST_CLIMBED, layout.BOUNDARY)),
    ]
    shape.append(int(cells["block"].max()) + 1)
    return layout.Ground(
        cells=cells,
        canopy=site.canopy.ravel().astype("f8"),
        hosts=hosts,
        lists=stack(lists),
        sources=np.column_stack([site.sources.x, site.sources.y, site.sources.hosts]).astype("f8").reshape(-1, 3),
        numbers=_numbers(site, cells),
        shape=np.array(shape, "i8"),
    )


def stack(lists: Mapping[int, Any]) -> Any:
    """Lists of different lengths as rows of one array, by row number; i8."""
    rows = np.zeros((len(lists), max(values.size for values in lists.values())), "i8")
    for row, values in lists.items():
        rows[row, : values.size] = values
    return rows


def _numbers(site: Site, cells: Any) -> Any:
    plantable = site.plantable.ravel()
    perch = cells["perch"] > 0
    numbers = np.zeros(6)
    numbers[layout.SIDE] = site.cell_size
    numbers[layout.PLANTABLE_SUM] = max(plantable.sum(), 1e-12)
    numbers[layout.AWAY_SUM] = plantable[~perch].sum()
    numbers[layout.PERCH_OPEN_SUM] = (plantable * (1.0 - site.canopy.ravel()))[perch].sum()
    numbers[layout.PERCH_FOREST_SUM] = (plantable * site.canopy.ravel())[perch].sum()
    numbers[layout.BACKGROUND] = site.background_seed * cells.size * site.cell_size**2 / 10000.0
    return numbers


def _shifted(ground: Any, row: int, column: int) -> Any:
    """Whether the cell that far away is on the site and open, for every cell."""
    ny, nx = ground.shape
    padded = np.zeros((ny + 4, nx + 4), bool)
    padded[2:-2, 2:-2] = ground
    return padded[2 + row : 2 + row + ny, 2 + column : 2 + column + nx]


def open_moves(ground: Any) -> Any:
    """Moves that the mat can make from each cell, as bits in the order of `MOVES`.

    A diagonal is closed if both cells beside it are barriers, a knight's move if either cell that it crosses is.

    Parameters
    ----------
    ground
        bool (rows, columns): plantable at all.

    Returns
    -------
    numpy.ndarray
        uint32 (rows, columns).
    """
    bits = np.zeros(ground.shape, "u4")
    for k, (row, column) in enumerate(MOVES):
        free = ground & _shifted(ground, row, column)
        if abs(row) == 1 and abs(column) == 1:
            free &= _shifted(ground, row, 0) | _shifted(ground, 0, column)
        elif abs(row) == 2:
            free &= _shifted(ground, row // 2, 0) & _shifted(ground, row // 2, column)
        elif abs(column) == 2:
            free &= _shifted(ground, 0, column // 2) & _shifted(ground, row, column // 2)
        bits |= np.where(free, np.uint32(1 << k), np.uint32(0))
    return bits


def perches(site: Site) -> Any:
    """Cells with a host of at least 2 m in them or within 3 m of their centre; uint8 (rows, columns)."""
    perch = np.zeros((site.ny, site.nx), "u1")
    tall = site.hosts.height >= PERCH_HEIGHT
    x, y, cell = site.hosts.x[tall], site.hosts.y[tall], site.hosts.cell[tall]
    row, column = np.divmod(cell, site.nx)
    perch[row, column] = 1
    reach = int(np.ceil(PERCH_REACH / site.cell_size)) + 1
    for down in range(-reach, reach + 1):
        for right in range(-reach, reach + 1):
            r, q = row + down, column + right
            away = np.hypot((q + 0.5) * site.cell_size - x, (site.ny - r - 0.5) * site.cell_size - y)
            near = (r >= 0) & (r < site.ny) & (q >= 0) & (q < site.nx) & (away <= PERCH_REACH)
            perch[r[near], q[near]] = 1
    return perch
