"""Inventing a site of a few numbers: ground, trees, mats about old climbed trees and edges, hosts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.hosts import cells_of
from spreadsim.starting.ground import Ground, lay_ground
from spreadsim.starting.noise import scatter, smooth_noise, with_mean
from spreadsim.starting.numbers import Numbers
from spreadsim.starting.outline import Outline

PATCH_AREA = 400.0  # m2 of a patch, on average; assumed
MOST_PATCHES = 14
AT_EDGE = 0.4  # share of patches that began at the edge of the site; assumed
OLD, YOUNG = (8.0, 20.0), (1.0, 8.0)  # years that fruiting and other climbed trees have been climbed; assumed


@dataclass(frozen=True, eq=False)
class Invented:
    """A site as it was invented.

    Attributes
    ----------
    ground : Ground
        Barriers, no-spray ground, units, access.
    canopy, mat : float64 (y, x)
        Cover, 0-1; mat is closed where there is any.
    hosts : dict of str to array
        ``x``, ``y`` (m from the south-west corner), ``state``, ``girth``, ``height``, ``top_light`` and
        ``years_climbing`` (NaN where bare).
    sources : float64 (n, 3)
        x, y and how many fruiting hosts each is worth.
    """

    ground: Ground
    canopy: np.ndarray
    mat: np.ndarray
    hosts: dict[str, np.ndarray]
    sources: np.ndarray


def invent(numbers: Numbers, outline: Outline, seed: int) -> Invented:
    """Invent a site that has the numbers asked: area, canopy, trees, share under mat, climbed, fruiting.

    Parameters
    ----------
    numbers : Numbers
        What was asked.
    outline : Outline
        Where.
    seed : int
        The same seed gives the same site; another one gives another that has the same numbers.

    Returns
    -------
    Invented

    Raises
    ------
    InputError
        More mat than there is ground that the vine can grow on.
    """
    draw = np.random.Generator(np.random.PCG64(seed))
    ground = lay_ground(draw, numbers, outline)
    cell = outline.cell
    shape = (outline.inside.shape[0], outline.inside.shape[1])
    wanted = numbers.mat * outline.inside.sum()
    if wanted > ground.free.sum():
        check = Check("")
        most = ground.free.sum() / outline.inside.sum()
        check.add("--mat", Said(f"{numbers.mat:.1%} of the ground"), f"at most {most:.1%}: the rest is water")
        check.done()
    coarse = smooth_noise(draw, shape, 45 / cell) - 0.5
    fine = smooth_noise(draw, shape, 15 / cell) - 0.5
    canopy = with_mean(0.9 * coarse + 0.5 * fine, numbers.canopy, outline.inside)
    x, y = scatter(draw, numbers.tree_count, np.where(ground.free, 0.15 + canopy, 0.0), cell)
    at = cells_of(x, y, shape[0], shape[1], cell)
    far = _distance_in_patches(draw, numbers, ground, (x, y))
    mat = _closest(far, ground.free, float(wanted))
    hosts = _hosts(draw, numbers, (x, y), far.ravel()[at], canopy.ravel()[at])
    return Invented(ground, np.where(outline.inside, canopy, 0.0), mat, hosts, _sources(numbers, outline))


def _distance_in_patches(
    draw: np.random.Generator, numbers: Numbers, ground: Ground, trees: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    """Tell how far out of the nearest patch each cell lies, large patches reaching farther, with lobed outlines.

    Patches are about trees where there are some; a share of them at trees near the edge, where gardens lie.
    """
    cell, (ny, nx) = ground.outline.cell, ground.free.shape
    area = numbers.mat * ground.outline.area
    patches = int(np.clip(round(area / PATCH_AREA), 2, MOST_PATCHES))
    x, y = trees if len(trees[0]) >= 2 * patches else _free_places(draw, ground, 4 * patches)
    edge = ground.edge_distance.ravel()[cells_of(x, y, ny, nx, cell)]
    chosen: list[int] = []
    for order in range(patches):
        luck = draw.random(len(x))
        if order < AT_EDGE * patches:
            luck = luck + edge / (edge.max() + 1)
        for k in chosen:  # apart from each other
            luck = luck + np.exp(-(((x - x[k]) ** 2 + (y - y[k]) ** 2) / (0.2 * ground.outline.area)))
        chosen.append(int(np.argmin(np.where(np.isin(np.arange(len(x)), chosen), np.inf, luck))))
    weight = (0.25 + draw.random(patches)) * np.linspace(1.0, 0.25, patches)[draw.random(patches).argsort()]
    north, east = np.mgrid[0:ny, 0:nx].astype(np.float64)
    east, north = (east + 0.5) * cell, (ny - north - 0.5) * cell
    far = np.full((ny, nx), np.inf)
    for k, reach in zip(chosen, weight, strict=True):
        far = np.minimum(far, np.hypot(east - x[k], north - y[k]) / reach)
    lobes = smooth_noise(draw, (ny, nx), 12 / cell)
    lobed: np.ndarray = (far + cell / 2) * (0.6 + 0.8 * lobes)
    return lobed


def _free_places(draw: np.random.Generator, ground: Ground, count: int) -> tuple[np.ndarray, np.ndarray]:
    return scatter(draw, count, ground.free.astype(np.float64), ground.outline.cell)


def _closest(far: np.ndarray, free: np.ndarray, wanted: float) -> np.ndarray:
    """Give the mat: closed on the nearest free cells, and part of one more, so that the sum is exactly as wanted."""
    order = np.argsort(np.where(free, far, np.inf), axis=None, kind="stable")
    mat = np.zeros(far.size)
    whole = int(wanted)
    mat[order[:whole]] = 1.0
    if wanted > whole:
        mat[order[whole]] = wanted - whole
    return mat.reshape(far.shape)


def _hosts(
    draw: np.random.Generator,
    numbers: Numbers,
    places: tuple[np.ndarray, np.ndarray],
    far: np.ndarray,
    canopy: np.ndarray,
) -> dict[str, np.ndarray]:
    """Give the trees: those climbed are in the mats or near them, those of them in the best light fruit."""
    count = len(far)
    luck = draw.random((5, count))
    size = luck[0]
    girth = np.array(["small", "medium", "large"], dtype=object)[np.digitize(size, [0.4, 0.8])]
    light = np.round(np.clip(0.35 + 0.4 * size + 0.25 * (1 - canopy) + 0.15 * (luck[1] - 0.5), 0.05, 1.0), 2)
    climbed = np.argsort(far * (0.4 + luck[2]) * (1.3 - 0.6 * size), kind="stable")[: numbers.climbed]
    fruiting = climbed[np.argsort(-light[climbed], kind="stable")][: numbers.fruiting]
    state, years = np.full(count, "bare", dtype=object), np.full(count, np.nan)
    state[climbed], state[fruiting] = "climbing", "fruiting"
    for which, (least, most) in ((climbed, YOUNG), (fruiting, OLD)):
        years[which] = np.round(least + (most - least) * luck[3, which])
    return {
        "x": np.round(places[0], 2),
        "y": np.round(places[1], 2),
        "state": state,
        "girth": girth,
        "height": np.round(9 + 15 * (0.8 * size + 0.2 * luck[4]), 1),
        "top_light": light,
        "years_climbing": years,
    }


def _sources(numbers: Numbers, outline: Outline) -> np.ndarray:
    """Put three gardens with planted vine 15 m beyond the north edge, worth a fruiting host each; assumed."""
    if numbers.beyond not in ("gardens", "both"):
        return np.zeros((0, 3))
    ny, nx = outline.inside.shape
    places = []
    for part in (0.2, 0.5, 0.8):
        column = int(part * nx)
        rows = np.flatnonzero(outline.inside[:, column])
        north = ny - (rows[0] if len(rows) else 0)
        places.append(((column + 0.5) * outline.cell, north * outline.cell + 15.0, 1.0))
    return np.round(np.array(places), 1)
