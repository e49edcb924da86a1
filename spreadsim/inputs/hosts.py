"""Hosts and outside seed sources: arrays with one entry each, checked and frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.inputs.arrays import Frozen, freeze
from spreadsim.inputs.checks import Check
from spreadsim.inputs.columns import Columns

STATES = ("bare", "climbing", "fruiting")
GIRTHS = ("small", "medium", "large")
# Usual heights by kind, m: assumed, common practice without a source; used where no height is given.
HEIGHTS: Mapping[str, float] = MappingProxyType(
    {"tree": 18.0, "sapling": 6.0, "shrub": 2.0, "stump": 0.5, "log": 0.5, "fence": 1.5, "wall": 3.0}
)
KINDS = tuple(HEIGHTS)


@dataclass(frozen=True, eq=False)
class Hosts(Frozen):
    """What can be climbed on a site; arrays of equal length, read-only.

    Attributes
    ----------
    x, y : float64
        m from the south-west corner of the site.
    cell : int64
        Row x number of columns + column, row 0 in the north.
    state : uint8
        Index in `STATES`.
    kind, girth : tuple of str
        Of `KINDS` and `GIRTHS`.
    top_light : float64
        Share of full sun at its top.
    height : float64
        m.
    years_climbing : float64
        Years since it was first climbed; NaN if bare or unknown.
    known : bool
        Whether the steward knows of the vine on it.
    uncertainty : float64
        m within which it stands of where it is mapped; NaN where nothing is said. It decides no number.
    placed : bool
        Whether it was placed at random, since it is known only as one of a count.
    """

    x: np.ndarray
    y: np.ndarray
    cell: np.ndarray
    state: np.ndarray
    kind: tuple[str, ...]
    girth: tuple[str, ...]
    top_light: np.ndarray
    height: np.ndarray
    years_climbing: np.ndarray
    known: np.ndarray
    uncertainty: np.ndarray
    placed: np.ndarray

    def __len__(self) -> int:
        """Count the hosts."""
        return len(self.x)

    @property
    def can_be_gone_to(self) -> np.ndarray:
        """Tell hosts that stand where they are mapped and bear no vine that the steward doesn't know of."""
        reached: np.ndarray = (self.known | (self.state == 0)) & ~self.placed
        return reached


@dataclass(frozen=True, eq=False)
class Sources(Frozen):
    """Seed sources that are no host of the site; arrays of equal length, read-only.

    Attributes
    ----------
    x, y : float64
        m from the south-west corner of the site; may lie outside it.
    hosts : float64
        How many fruiting hosts each is worth.
    """

    x: np.ndarray
    y: np.ndarray
    hosts: np.ndarray

    def __len__(self) -> int:
        """Count the sources."""
        return len(self.x)


def make_hosts(check: Check, data: Any, canopy: np.ndarray, cell_size: float) -> Hosts:
    """Make hosts of columns, noting everything that is wrong with them.

    Parameters
    ----------
    check : Check
        Where to note problems.
    data : mapping or None
        Columns ``x`` and ``y``, and any of ``state``, ``kind``, ``girth``, ``top_light``, ``height``,
        ``years_climbing``, ``known``, ``uncertainty`` and ``placed``.
    canopy : array (y, x)
        Canopy cover, for the light at the top where none is given: 1 - half of it.
    cell_size : float
        m.
    """
    others = ("state", "kind", "girth", "top_light", "height", "years_climbing", "known", "uncertainty", "placed")
    take = Columns(check, "hosts", data, ("x", "y"), others)
    ny, nx = canopy.shape
    width, height = nx * cell_size, ny * cell_size
    hint = _hint(take.data, width, height)
    x = take.numbers("x", 0.0, 0.0, width, f"0 to {width:g}, on the site{hint}")
    y = take.numbers("y", 0.0, 0.0, height, f"0 to {height:g}, on the site{hint}")
    cell = cells_of(x, y, ny, nx, cell_size)
    kind = tuple(KINDS[k] for k in take.words("kind", "tree", KINDS))
    girth = tuple(GIRTHS[k] for k in take.words("girth", "medium", GIRTHS))
    before = len(check.problems)
    state = take.words("state", "bare", STATES)
    states_are_right = len(check.problems) == before
    light = take.numbers("top_light", np.nan, 0.0, 1.0, "0 to 1", missing=True)
    tall = take.numbers("height", np.nan, 0.0, 150.0, "0 to 150 m", missing=True)
    years = take.numbers("years_climbing", np.nan, 0.0, 500.0, "0 to 500 years", missing=True)
    bare_but_climbed = (state == 0) & (years > 0) & states_are_right
    take.note("years_climbing", years, bare_but_climbed, "none for a bare host")
    usual = np.array([HEIGHTS[k] for k in kind], dtype=np.float64)
    return Hosts(
        x=freeze(x),
        y=freeze(y),
        cell=freeze(cell),
        state=freeze(state),
        kind=kind,
        girth=girth,
        top_light=freeze(np.where(np.isnan(light), 1.0 - canopy.ravel()[cell] / 2.0, light)),
        height=freeze(np.where(np.isnan(tall), usual, tall)),
        years_climbing=freeze(np.where(state == 0, np.nan, years)),
        known=freeze(take.flags("known", True)),
        uncertainty=freeze(take.numbers("uncertainty", np.nan, 0.0, 1e7, "0 to 1e7 m", missing=True)),
        placed=freeze(take.flags("placed", False)),
    )


def _hint(data: Mapping[str, Any], width: float, height: float) -> str:
    """Say what coordinates off the site look like, where one thing would explain all of them."""
    try:
        x, y = (np.asarray(data[axis], dtype=np.float64) for axis in "xy")
    except (KeyError, TypeError, ValueError):
        return ""
    if x.ndim != 1 or x.shape != y.shape or not len(x) or not np.isfinite([x, y]).all():
        return ""
    if np.ptp(x) < 1 and np.ptp(y) < 1 and (np.abs(x) <= 180).all() and (np.abs(y) <= 90).all():
        return " (they look like degrees)"
    on = (x >= 0) & (x <= width) & (y >= 0) & (y <= height)
    swapped = (y >= 0) & (y <= width) & (x >= 0) & (x <= height)
    return " (x and y look swapped)" if swapped.all() and not on.all() else ""


def make_sources(check: Check, data: Any) -> Sources:
    """Make seed sources of columns ``x``, ``y`` and ``hosts`` (1 if not given)."""
    take = Columns(check, "sources", data, ("x", "y"), ("hosts",))
    far = 1e7
    return Sources(
        x=freeze(take.numbers("x", 0.0, -far, far, "a finite number of metres")),
        y=freeze(take.numbers("y", 0.0, -far, far, "a finite number of metres")),
        hosts=freeze(take.numbers("hosts", 1.0, 0.0, 1e6, "0 to 1e6 fruiting hosts")),
    )


def cells_of(x: np.ndarray, y: np.ndarray, ny: int, nx: int, cell_size: float) -> np.ndarray:
    """Give the cell of each point; the outer edges belong to the outermost cells.

    Parameters
    ----------
    x, y : arrays
        m from the south-west corner.
    ny, nx : int
        Rows and columns.
    cell_size : float
        m.

    Returns
    -------
    int64 array
        Row x nx + column, row 0 in the north.
    """
    column = np.clip(np.floor(x / cell_size).astype(np.int64), 0, nx - 1)
    row = ny - 1 - np.clip(np.floor(y / cell_size).astype(np.int64), 0, ny - 1)
    cell: np.ndarray = row * nx + column
    return cell
