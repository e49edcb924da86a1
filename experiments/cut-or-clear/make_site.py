"""Invent the wooded park of this experiment and write it down: `python make_site.py`.

Nothing here is a real place. The park was drawn once and its files are checked in; this script is kept so
that everybody can see where they come from, and can change the park: what it is like is in `plan.py`.
"""

import csv
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr
from drawing import Array, Line, centres, curve, distance, lobed, means, noise, rise, scatter
from plan import (
    CELL,
    CLIMBED,
    CROSS,
    CROWN,
    DRIVE,
    EAST_RILL,
    FINE,
    FLOWERS,
    FRUITING,
    GLADES,
    HEIGHT,
    LIKING,
    MAT_COVER,
    NOTICE,
    PATCHES,
    PAVED,
    RIDGE,
    SEED,
    SOURCES,
    STOCK,
    STREAM,
    UNITS,
    UNKNOWN,
    UNKNOWN_FRUITING,
    WEST_RILL,
    WIDTH,
)

# layer: what it is, and the step in which it is kept in one byte (1: whole numbers)
KEPT = {
    "canopy": ("canopy cover", 0.01),
    "plantable": ("share of the ground that the vine can grow on; 0 is a barrier", 0.01),
    "mat": ("living cover of the mat", 0.01),
    "access": ("factor on hours of work, by slope and by distance from the gate", 0.02),
    "wetness": ("wetness of the ground, 0 dry to 1 wet", 0.01),
    "sensitive": ("1: no spray here", 1.0),
    "unit": (f"number of the unit: 1 {UNITS[0]}, 2 {UNITS[1]}, 3 {UNITS[2]}", 1.0),
}


class Park(NamedTuple):
    """Layers (y, x), row 0 at the north, in steps of KEPT; and the columns of the hosts, as written."""

    layers: dict[str, Array]
    hosts: dict[str, list[str]]


def closed(x: Array, y: Array) -> Array:
    """Where the vine cannot grow: stream, gravel, car park, shelter."""
    ground = (distance(x, y, STREAM) < 2.5) | (distance(x, y, DRIVE) < 1.5) | (distance(x, y, CROSS) < 1.5)
    for west, east, south, north in PAVED:
        ground |= (x > west) & (x < east) & (y > south) & (y < north)
    return ground


def north_of(line: Line, x: Array, y: Array) -> Array:
    """Whether each place is north of a line that runs from west to east."""
    return np.asarray(y > np.interp(x, *curve(line).T))


def unit_of(x: Array, y: Array) -> Array:
    """Give the number of the unit of each place; the cross path and the ridge trail part the units."""
    ridge = curve(RIDGE)[::-1]
    east = x > np.interp(y, ridge[:, 1], ridge[:, 0])
    return np.where(north_of(CROSS, x, y), 1, np.where(east, 3, 2))


def draw_mats(rng: np.random.Generator, free: Array, x: Array, y: Array) -> Array:
    """Give each place of the fine grid the number of its patch, 0 for none.

    Patches are lobed, of the stated areas, on free ground; none reaches over the stream or its unit's border.
    """
    unit, bank = unit_of(x, y), north_of(STREAM, x, y)
    patch = np.zeros(x.shape, dtype=np.uint8)
    for number, (px, py, area, stretch, degrees, _) in enumerate(PATCHES, start=1):
        row, col = int((HEIGHT - py) / FINE), int(px / FINE)
        reach = int(80 / FINE)  # no patch is larger
        near = np.s_[max(row - reach, 0) : row + reach, max(col - reach, 0) : col + reach]
        allowed = free[near] & (patch[near] == 0)
        allowed &= (unit[near] == unit[row, col]) & (bank[near] == bank[row, col])
        out = lobed(rng, x[near] - px, y[near] - py, stretch, degrees)
        out *= 0.85 + 0.3 * noise(rng, x[near], y[near], 9)
        chosen = np.argsort(np.where(allowed, out, np.inf), axis=None, kind="stable")[: round(area / FINE**2)]
        rows, cols = np.unravel_index(chosen, out.shape)
        patch[near][rows, cols] = number
    return patch


def draw_stock(rng: np.random.Generator, plantable: Array, density: Array) -> dict[str, Array]:
    """Place trees, saplings, shrubs, logs, stumps by the density of the wood; a fence on the boundary."""
    tables: list[tuple[Array, ...]] = []
    for kind, wanted, gap, low, high in STOCK:
        weight = 1.0 - 0.65 * density if kind == "shrub" else density  # shrubs stand in the gaps
        places = scatter(rng, wanted, gap, weight * (plantable >= 0.5), CELL)
        size = rng.random(wanted)
        girth = np.where((size > 0.35) & (kind == "tree"), np.where(size > 0.78, "large", "medium"), "small")
        height = np.round(low + (high - low) * (0.8 * size + 0.2 * rng.random(wanted)), 1)
        tables.append((np.full(wanted, kind), places[:, 0], places[:, 1], girth, height))
    posts = np.arange(3.0, WIDTH, 6.0)  # a run of fence each 6 m, none across the gate
    posts = posts[np.abs(posts - 300) > 6]
    fence = ("fence", posts, 397.0, "small", 1.5)
    tables.append(tuple(np.broadcast_to(column, posts.shape) for column in fence))
    columns = (np.concatenate(parts) for parts in zip(*tables, strict=True))
    return dict(zip(("kind", "x", "y", "girth", "height"), columns, strict=True))


def crowns(hosts: dict[str, Array], x: Array, y: Array, above: Array) -> Array:
    """Sum the crowns over each place (crown area index) of trees taller than `above` (m) there."""
    order = np.argsort(y, axis=None, kind="stable")
    px, py, tall = x.ravel()[order], y.ravel()[order], above.ravel()[order]
    index = np.zeros(py.size)
    for n in np.flatnonzero(hosts["kind"] == "tree"):
        radius = CROWN[str(hosts["girth"][n])]
        band = slice(*np.searchsorted(py, hosts["y"][n] + np.array([-1.6, 1.6]) * radius))
        away = np.hypot(px[band] - hosts["x"][n], py[band] - hosts["y"][n])
        index[band] += (1.0 - rise(away, 0.4 * radius, 1.6 * radius)) * (hosts["height"][n] > tall[band])
    placed = np.empty(index.size)
    placed[order] = index
    return placed.reshape(x.shape)


def draw_vine(rng: np.random.Generator, hosts: dict[str, Array], patch: Array, access: Array) -> None:
    """Add to the hosts which are climbed, for how long, which fruit, and which the steward does not know.

    Hosts in a mat or within 2.5 m of it; old mats and tall, sunlit trees are the likeliest; vine is
    overlooked where the ground is hard to walk.
    """
    x, y = centres(WIDTH, HEIGHT, FINE)
    count = hosts["x"].size
    age = np.zeros(count)
    for n in range(count):
        row, col = int((HEIGHT - hosts["y"][n]) / FINE), int(hosts["x"][n] / FINE)
        window = np.s_[max(row - 5, 0) : row + 6, max(col - 5, 0) : col + 6]
        near = np.hypot(x[window] - hosts["x"][n], y[window] - hosts["y"][n]) <= 2.5
        number = int((patch[window] * near).max())
        age[n] = PATCHES[number - 1][5] if number else 0.0

    def pick(weight: Array, wanted: int) -> Array:
        wait = np.where(weight > 0, -np.log(rng.random(count)) / np.maximum(weight, 1e-9), np.inf)
        return np.argsort(wait, kind="stable")[:wanted]  # the likelier, the sooner

    state, known = np.zeros(count, dtype=int), np.ones(count, dtype=bool)
    state[pick(age * np.array([LIKING[str(kind)] for kind in hosts["kind"]]), CLIMBED)] = 1
    light = hosts["top_light"]
    state[pick(((state == 1) & (hosts["height"] >= 9) & (light >= 0.5)) * age * light**2, FRUITING)] = 2
    span = rng.random(count) * age
    rows = len(access) - 1 - (hosts["y"] / CELL).astype(int)
    cols = (hosts["x"] / CELL).astype(int)
    hidden = rise(access[rows, cols], 1.1, 2.2)
    known[pick(hidden * (state == 2), UNKNOWN_FRUITING)] = False
    known[pick(hidden * (state == 1), UNKNOWN - UNKNOWN_FRUITING)] = False
    hosts["state"] = np.array(["bare", "climbing", "fruiting"])[state]
    hosts["years_climbing"] = np.choose(state, [np.nan, 1 + 8 * span, 7 + 11 * span])
    hosts["known"] = np.where(known, "true", "false")


def build() -> Park:
    """Draw the whole park."""
    # a stream for each part, so that a change of one leaves the others as they are
    ground, stock, mats, vine = (np.random.default_rng([SEED, part]) for part in range(4))
    x, y = centres(WIDTH, HEIGHT, CELL)
    fx, fy = centres(WIDTH, HEIGHT, FINE)
    free = ~closed(fx, fy) & (distance(fx, fy, RIDGE) >= 0.6)
    plantable = np.where(closed(x, y), 0.0, means(free, int(CELL / FINE)))
    plantable[plantable < 0.1] = 0.0

    stream, rill = distance(x, y, STREAM), np.minimum(distance(x, y, WEST_RILL), distance(x, y, EAST_RILL))
    slope = (1 - rise(rill + 8 * noise(ground, x, y, 40), 18, 34)) * north_of(STREAM, x, y)
    access = (1 + slope) * (1 + 0.3 * np.hypot(x - 300, y - 400) / 500)
    wetness = np.maximum(np.exp(-np.maximum(stream - 2.5, 0) / 12), 0.8 * np.exp(-rill / 6))
    flowers = ((x - FLOWERS[0]) / FLOWERS[2]) ** 2 + ((y - FLOWERS[1]) / FLOWERS[3]) ** 2 < 1

    density = 0.06 + 0.94 * rise(0.5 * noise(ground, x, y, 60) + 0.5 * noise(ground, x, y, 24), 0.22, 0.5)
    for gx, gy, radius in GLADES:
        density *= np.maximum(rise(np.hypot(x - gx, y - gy), 0.7 * radius, 1.3 * radius), 0.03)
    hosts = draw_stock(stock, plantable, density)
    canopy = 1 - np.exp(-crowns(hosts, x, y, np.zeros(x.shape)))
    shade = crowns(hosts, hosts["x"], hosts["y"], hosts["height"])  # by taller neighbours
    hosts["top_light"] = np.round(np.maximum(np.exp(-shade), 0.05), 2)

    patch = draw_mats(mats, free, fx, fy)
    draw_vine(vine, hosts, patch, access)
    layers = {
        "canopy": canopy,
        "plantable": plantable,
        "mat": MAT_COVER * np.where(plantable > 0, means(patch > 0, int(CELL / FINE)), 0.0),
        "access": access,
        "wetness": wetness,
        "sensitive": (stream < 12.5) | flowers,
        "unit": unit_of(x, y),
    }
    decimals = {"x": 1, "y": 1, "top_light": 2, "height": 1, "years_climbing": 0}
    order = ("x", "y", "state", "kind", "girth", "top_light", "height", "years_climbing", "known")
    texts = {k: [f"{v:.{decimals[k]}f}" if k in decimals else str(v) for v in hosts[k]] for k in order}
    texts["years_climbing"] = [text.replace("nan", "") for text in texts["years_climbing"]]
    return Park({k: np.round(v / KEPT[k][1]).astype(np.uint8) for k, v in layers.items()}, texts)


def write(park: Park, folder: Path) -> None:
    """Write ground.nc, hosts.csv, sources.csv and site.toml into a folder."""
    x, y = centres(WIDTH, HEIGHT, CELL)
    ground = xr.Dataset(coords={"y": y[:, 0], "x": x[0]}, attrs={"Conventions": "CF-1.11", "title": NOTICE})
    encoding: dict[str, dict[str, object]] = {"x": {"_FillValue": None}, "y": {"_FillValue": None}}
    for axis, towards in (("x", "east"), ("y", "north")):
        ground[axis].attrs = {"units": "m", "long_name": f"metres {towards} of the south-west corner"}
    for name, (meaning, step) in KEPT.items():
        about: dict[str, object] = {"units": "1", "long_name": meaning}
        if step != 1.0:
            about["scale_factor"] = step
        ground[name] = (("y", "x"), park.layers[name], about)
        encoding[name] = {"zlib": True, "complevel": 9, "_FillValue": None}
    ground.to_netcdf(folder / "ground.nc", engine="h5netcdf", encoding=encoding)
    tables = {
        "hosts.csv": [tuple(park.hosts), *zip(*park.hosts.values(), strict=True)],
        "sources.csv": [("x", "y", "hosts"), *SOURCES],
    }
    for file, rows in tables.items():
        with (folder / file).open("w", newline="", encoding="utf-8") as out:
            csv.writer(out, lineterminator="\n").writerows(rows)
    names = ", ".join(f'"{name}"' for name in UNITS)
    text = f"""# Written by make_site.py. Take it as the pattern for a site of your own.
title = "An invented wooded park with two ravines"
notice = "{NOTICE}"
cell_size = {CELL}  # m
layers = "ground.nc"  # canopy, plantable, mat, unit, access, wetness and sensitive, on (y, x)
unit_names = [{names}]
hosts = "hosts.csv"
sources = "sources.csv"  # planted vine in gardens over the boundary
background_seed = 10  # seeds a hectare and year from farther off; assumed
"""
    (folder / "site.toml").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write(build(), Path(__file__).parent)
