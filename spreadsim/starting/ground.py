"""The ground of a site that is invented: water, what is protected, units of workable size, access."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spreadsim.starting.noise import smooth_noise
from spreadsim.starting.numbers import Numbers
from spreadsim.starting.outline import Outline

UNIT_AREA = 25_000.0  # m2: what a crew can take in hand and finish; assumed
MOST_UNITS = 9
STREAM_WIDTH = 3.0  # m; assumed
KEEP_OFF = 10.0  # m from water in which nothing is sprayed; assumed: labels and local rules count
RARE_SHARE = 0.02  # share of the site that is a bank of rare plants; assumed
HOURS_BY_WAY = 0.3 / 500  # more hours for each metre from the entrance; assumed


@dataclass(frozen=True, eq=False)
class Ground:
    """What the ground is like; arrays (y, x), row 0 in the north.

    Attributes
    ----------
    outline : Outline
        The grid and what lies inside.
    free : bool
        Ground that the vine can grow on.
    sensitive : bool
        No herbicide.
    unit : int
        Number of the unit, 0 outside.
    unit_names : tuple of str
        By where they lie.
    access : float64
        Factor on hours, by the way from the entrance.
    edge_distance : float64
        m to the edge of the site, roughly: by rows and columns.
    """

    outline: Outline
    free: np.ndarray
    sensitive: np.ndarray
    unit: np.ndarray
    unit_names: tuple[str, ...]
    access: np.ndarray
    edge_distance: np.ndarray


def lay_ground(draw: np.random.Generator, numbers: Numbers, outline: Outline) -> Ground:
    """Lay out the ground.

    Parameters
    ----------
    draw : Generator
        Source of uniform numbers.
    numbers : Numbers
        What must be protected.
    outline : Outline
        Where.

    Returns
    -------
    Ground
    """
    inside, cell = outline.inside, outline.cell
    ny, nx = inside.shape
    row, column = np.mgrid[0:ny, 0:nx]
    free, sensitive = inside.copy(), np.zeros((ny, nx), dtype=bool)
    bend, spot = draw.random(3), draw.random(2)
    if numbers.protect in ("water", "both"):
        along = column / nx
        middle = ny * (0.4 + 0.2 * bend[0]) + 0.08 * ny * np.sin(2 * np.pi * (along * (1 + bend[1]) + bend[2]))
        away = np.abs(row + 0.5 - middle) * cell
        free &= away > max(STREAM_WIDTH, cell) / 2
        sensitive |= inside & (away <= STREAM_WIDTH / 2 + KEEP_OFF)
    if numbers.protect in ("rare plants", "both"):
        wobble = smooth_noise(draw, (ny, nx), 10 / cell)
        centre = ny * (0.25 + 0.5 * spot[0]), nx * (0.25 + 0.5 * spot[1])
        out = np.hypot((row - centre[0]) * 1.6, column - centre[1]) * (0.7 + 0.6 * wobble)
        cells = max(1, round(RARE_SHARE * inside.sum()))
        bank = np.argsort(np.where(free, out, np.inf), axis=None, kind="stable")[:cells]
        sensitive.ravel()[bank] = True
    unit, names = _units(inside, outline.area)
    return Ground(outline, free, sensitive, unit, names, _access(inside, cell), _edge_distance(inside) * cell)


def _units(inside: np.ndarray, area: float) -> tuple[np.ndarray, tuple[str, ...]]:
    """Halve the site again and again along its longer side, into pieces of equal area."""
    count = int(np.clip(round(area / UNIT_AREA), 1, MOST_UNITS))
    pieces: list[tuple[np.ndarray, int]] = [(np.argwhere(inside), count)]
    done: list[np.ndarray] = []
    while pieces:
        cells, parts = pieces.pop()
        if parts == 1 or len(cells) < parts:
            done.append(cells)
            continue
        axis = int(np.ptp(cells[:, 1]) > np.ptp(cells[:, 0]))
        order = np.argsort(cells[:, axis], kind="stable")
        first = parts // 2
        cut = round(len(cells) * first / parts)
        pieces += [(cells[order[cut:]], parts - first), (cells[order[:cut]], first)]
    unit = np.zeros(inside.shape, dtype=np.int16)
    names: list[str] = []
    middle = np.argwhere(inside).mean(axis=0)
    spread = np.ptp(np.argwhere(inside), axis=0) + 1
    for number, cells in enumerate(done, start=1):
        unit[cells[:, 0], cells[:, 1]] = number
        names.append(_compass(*((cells.mean(axis=0) - middle) / spread)) if len(done) > 1 else "the whole site")
    twice = {name for name in names if names.count(name) > 1}
    for k, name in enumerate(names):
        if name in twice:
            names[k] = f"{name} {1 + sum(other.startswith(f'{name} ') for other in names[:k])}"
    return unit, tuple(names)


def _compass(down: float, right: float) -> str:
    """Say where a piece lies, by its middle in shares of the site's extent."""
    near = 0.1
    upright = "north" if down < -near else "south" if down > near else ""
    across = "west" if right < -near else "east" if right > near else ""
    return f"{upright}-{across}".strip("-") or "middle"


def _access(inside: np.ndarray, cell: float) -> np.ndarray:
    """Give the factor on hours by the way, as the crow flies, from an entrance at the middle of the south edge."""
    ny, nx = inside.shape
    columns = np.flatnonzero(inside.any(axis=0))
    column = int(columns[len(columns) // 2])
    entrance = int(np.flatnonzero(inside[:, column])[-1])
    row, across = np.mgrid[0:ny, 0:nx]
    factor: np.ndarray = 1 + HOURS_BY_WAY * cell * np.hypot(row - entrance, across - column)
    return factor


def _edge_distance(inside: np.ndarray) -> np.ndarray:
    """Count cells to the nearest cell outside along row and column."""
    best = np.full(inside.shape, float(sum(inside.shape)))
    for turned, view in ((0, inside), (1, inside[::-1]), (2, inside.T), (3, inside.T[::-1])):
        run = np.zeros(view.shape)
        level = np.zeros(view.shape[1])
        for k in range(view.shape[0]):
            level = np.where(view[k], level + 1, 0)
            run[k] = level
        back = (run, run[::-1], run.T, run[::-1].T)[turned]
        best = np.minimum(best, back)
    return best
