"""Invented ground of any size for the benchmarks: the same seed and place always give the same ground.

Nothing here is a real place. The ground is a function of the place and the seed, and hosts are drawn hectare by
hectare, so that a larger site holds the smaller one, unchanged, in its middle: what differs is the landscape around.
"""

from typing import Any

import numpy as np

import spreadsim

Array = np.ndarray
CELL = 2.0  # m
TILE = 100.0  # m: hosts are drawn by the hectare
UNITS = ("north west", "north east", "south west", "south east")
NOTICE = "Invented: this ground, its paths, trees and vine do not exist."
FULL_MAT = 0.95  # cover of closed mat
HOSTS, VINE = 0, 1  # streams of random numbers


def tiles(hectares: int) -> tuple[int, int]:
    """Rows and columns of hectares, as near to square as they go, the longer side from west to east."""
    rows = max(n for n in range(1, int(hectares**0.5) + 1) if hectares % n == 0)
    return rows, hectares // rows


def corner(hectares: int) -> tuple[float, float]:
    """South-west corner (x, y in m) of the site in the coordinates in which all sites share their middle."""
    rows, columns = tiles(hectares)
    return -(columns // 2) * TILE, -(rows // 2) * TILE


def middle_of(site: spreadsim.Site) -> tuple[float, float]:
    """The shared middle (x, y in m) in a drawn site's own coordinates."""
    west, south = corner(round(site.area / 1e4))
    return -west, -south


def centres(hectares: int) -> tuple[Array, Array]:
    """Centres x and y (m; y, x) of the cells in shared coordinates, row 0 at the north."""
    rows, columns = tiles(hectares)
    west, south = corner(hectares)
    x = west + (np.arange(round(columns * TILE / CELL)) + 0.5) * CELL
    y = south + (np.arange(round(rows * TILE / CELL))[::-1] + 0.5) * CELL
    east, north = np.meshgrid(x, y)
    return east, north


def waves(x: Array, y: Array, seed: int, lengths: tuple[float, ...]) -> Array:
    """Smooth ups and downs, mostly between -1 and 1: plane waves of the lengths (m) in directions drawn from the seed."""
    rng = np.random.default_rng(seed)
    total = np.zeros(x.shape)
    for length in lengths:
        angle, phase = 2.0 * np.pi * rng.random(2)
        total += np.sin(2.0 * np.pi * (x * np.cos(angle) + y * np.sin(angle)) / length + phase)
    return np.asarray(total / len(lengths) ** 0.5)


def barriers(x: Array, y: Array) -> Array:
    """Gravel paths 4 m wide, one each 200 m from west to east and each 250 m from south to north, wavering."""
    across = np.abs((y + 12.0 * np.sin(x / 45.0) + 70.0) % 200.0 - 100.0)
    along = np.abs((x + 10.0 * np.sin(y / 35.0) + 20.0) % 250.0 - 125.0)
    return np.asarray((across < 2.0) | (along < 2.0))


def canopy_at(x: Array, y: Array, seed: int) -> Array:
    """Canopy cover: open woodland with gaps and closed stands."""
    return np.clip(0.5 + 0.35 * waves(x, y, seed, (37.0, 61.0, 97.0, 151.0)), 0.0, 1.0)


def draw_mat(x: Array, y: Array, free: Array, cells: int, patches: int, seed: int, extent: tuple[float, ...]) -> Array:
    """Cells with mat, exactly so many (y, x): lobed patches within the extent (west, south, east, north; m)."""
    rng = np.random.default_rng([seed, VINE])
    west, south, east, north = extent
    out = np.full(x.shape, np.inf)
    for _ in range(patches):
        u, v, size, turn = rng.random(4)
        dx, dy = x - (west + u * (east - west)), y - (south + v * (north - south))
        lobes = 1.0 + 0.25 * np.cos(3.0 * np.arctan2(dy, dx) + 2.0 * np.pi * turn)
        np.minimum(out, np.hypot(dx, dy) / (lobes * 4.0**size), out=out)
    inside = (x > west) & (x < east) & (y > south) & (y < north) & free
    chosen = np.argsort(np.where(inside, out, np.inf), axis=None, kind="stable")[:cells]
    mat = np.zeros(x.shape, bool)
    mat.ravel()[chosen] = True
    return mat & free


def draw_hosts(hectares: int, per_hectare: int, seed: int) -> dict[str, Any]:
    """Trees, saplings and logs, drawn hectare by hectare; none on a path."""
    rows, columns = tiles(hectares)
    west, south = corner(hectares)
    places = [(west + column * TILE, south + row * TILE) for row in range(rows) for column in range(columns)]
    parts = []  # eight draws a host: place, kind, size, light, and the luck that let_climb takes
    # from the middle outwards, so that hosts there have the same numbers on a site of any size
    for x0, y0 in sorted(places, key=lambda place: max(abs(place[0] + TILE / 2), abs(place[1] + TILE / 2))):
        tile = [int(x0 / TILE) + 10_000, int(y0 / TILE) + 10_000]
        draws = np.random.default_rng([seed, HOSTS, *tile]).random((2 * per_hectare + 8, 8))
        draws[:, 0] = x0 + draws[:, 0] * TILE
        draws[:, 1] = y0 + draws[:, 1] * TILE
        parts.append(draws[~barriers(draws[:, 0], draws[:, 1])][:per_hectare])
    x, y, kind, size, light, *luck = np.concatenate(parts).T
    kinds = np.select([kind < 0.65, kind < 0.9], ["tree", "sapling"], "log")
    height = np.select([kind < 0.65, kind < 0.9], [10.0 + 16.0 * size, 3.0 + 5.0 * size], 0.5)
    return {
        "x": x,
        "y": y,
        "kind": kinds,
        "girth": np.select([size < 0.4, size < 0.8], ["small", "medium"], "large"),
        "height": height,
        "top_light": np.clip(0.3 + 0.02 * height + 0.3 * light, 0.05, 1.0),
        "luck": luck,
    }


def let_climb(hosts: dict[str, Any], in_mat: Array) -> None:
    """Put states in place of luck: of the hosts in mat a quarter are climbed, a quarter of these fruit."""
    chosen, age, found = hosts.pop("luck")
    climbed = in_mat & (chosen < 0.25)
    fruiting = climbed & (chosen < 0.0625) & (hosts["kind"] == "tree")
    hosts["state"] = np.select([fruiting, climbed], ["fruiting", "climbing"], "bare")
    hosts["years_climbing"] = np.select([fruiting, climbed], [8.0 + 8.0 * age, 1.0 + 6.0 * age], np.nan)
    hosts["known"] = ~climbed | (found > 0.125)


def draw_site(
    hectares: int,
    *,
    share: float | None = None,
    infested: float | None = None,
    hosts_per_hectare: int = 300,
    middle: int | None = None,
    patches: int = 24,
    outside: bool = True,
    seed: int = 7,
) -> spreadsim.Site:
    """Draw an invented site at 2 m.

    Parameters
    ----------
    hectares
        Its area; 40 makes 400 x 250 cells.
    share, infested
        Mat at the start: as a share of the middle (0 to 1), or in m2.
    hosts_per_hectare
        Everywhere alike.
    middle
        Hectares in the middle that hold the mat, the climbed hosts, the units and the work; None: the whole site.
        Seed from outside comes in the same number whatever the size of the site around it.
    patches
        Of mat; where they meet they are one.
    outside
        Whether seed comes from gardens and from farther off.
    seed
        Of the ground.

    Returns
    -------
    spreadsim.Site
    """
    middle = middle or hectares
    x, y = centres(hectares)
    free = ~barriers(x, y)
    west, south = corner(middle)
    rows, columns = tiles(middle)
    extent = (west, south, west + columns * TILE, south + rows * TILE)
    within = (x > extent[0]) & (x < extent[2]) & (y > extent[1]) & (y < extent[3])
    area = share * middle * 1e4 if share is not None else float(infested or 0.0)
    inset = min(columns, rows) * TILE * 0.02
    mat = draw_mat(
        x, y, free, round(area / CELL**2), patches, seed,
        (extent[0] + inset, extent[1] + inset, extent[2] - inset, extent[3] - inset),
    )  # fmt: skip
    x0, y0 = corner(hectares)
    hosts = None
    if hosts_per_hectare:
        hosts = draw_hosts(hectares, hosts_per_hectare, seed)
        hosts["x"], hosts["y"] = hosts["x"] - x0, hosts["y"] - y0
        row = x.shape[0] - 1 - (hosts["y"] / CELL).astype(int)
        let_climb(hosts, mat[row, (hosts["x"] / CELL).astype(int)])
    wet = waves(x, y, seed + 1, (83.0, 131.0))
    sources = {
        "x": np.array([extent[0] - 15.0, extent[2] + 20.0, (extent[0] + extent[2]) / 2]) - x0,
        "y": np.array([south + 0.6 * rows * TILE, south + 0.3 * rows * TILE, extent[3] + 10.0]) - y0,
        "hosts": np.array([1.0, 0.5, 1.0]),
    }
    units = 1 + (x >= (extent[0] + extent[2]) / 2) + 2 * (y < (extent[1] + extent[3]) / 2)
    return spreadsim.Site.from_arrays(
        CELL,
        mat=np.where(mat, FULL_MAT, 0.0),
        canopy=canopy_at(x, y, seed),
        plantable=np.where(free, np.where(waves(x, y, seed + 2, (29.0, 47.0)) > 1.2, 0.7, 1.0), 0.0),
        hosts=hosts,
        units=np.where(within, units, 0),
        unit_names=UNITS,
        access=1.0 + np.clip(0.5 * wet, 0.0, 1.0),
        wetness=np.clip(0.3 + 0.4 * wet, 0.0, 1.0),
        sensitive=wet > 1.1,
        sources=sources if outside else None,
        background_seed=10.0 * middle / hectares if outside else 0.0,
        title=f"An invented wood of {hectares} ha",
        notice=NOTICE,
    )
