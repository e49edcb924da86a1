"""One strategy of a film, ready for the page: coarse enough to send, with the numbers that its charts need."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.inputs import Experiment
from spreadsim.schema_film import COVER_UNIT, FATES, HOST_LOOKS, MARKS
from spreadsim.views.class_page.changes import changes, marks, numbers

MOST_CELLS = 120_000
# cover from which a cell is drawn as thin, half closed, closed
EDGES = (0.0, 0.2, 0.6)
UNKNOWN, UNKNOWN_HOST = 4, 8  # added to the level of a cell, to what a host looks like
SERIES = ("mat_area", "unknown_area", "climbed", "fruiting", "landed", "rooted", "hours")
_BY_REPLICATE = ("parts", "series", "facts")
_KNOWN, _WORKED, _FOUND = (1 << MARKS.index(name) for name in ("known", "worked", "found"))
_CLIMBING, _FRUITING = HOST_LOOKS.index("climbing"), HOST_LOOKS.index("fruiting")


@dataclass(frozen=True)
class Reel:
    """One strategy in the chosen replicates.

    Attributes
    ----------
    strategy
        Its name.
    replicates
        Their numbers.
    parts
        Bytes for the page, by replicate.
    series
        By replicate: what `SERIES` names, each (steps,), in m2, counts and hours.
    facts
        By replicate: single numbers for the sentences of the steps.
    """

    strategy: str
    replicates: tuple[int, ...]
    parts: tuple[list[bytes], ...]
    series: tuple[dict[str, Any], ...]
    facts: tuple[dict[str, Any], ...]


def coarseness(ny: int, nx: int) -> int:
    """Cells to a side of what is one cell on the page, so that there are at most `MOST_CELLS`."""
    side = 1
    while -(-ny // side) * -(-nx // side) > MOST_CELLS:
        side += 1
    return side


def blocks(layer: Any, side: int, how: Any) -> Any:
    """A layer (..., y, x) of blocks of side x side cells; what is left over at the edges is a block of its own."""
    if side == 1:
        return layer
    rows = how.reduceat(layer, np.arange(0, layer.shape[-2], side), axis=-2)
    return how.reduceat(rows, np.arange(0, layer.shape[-1], side), axis=-1)


def joined(reels: Sequence[Reel]) -> Reel:
    """Reels of one strategy in different replicates as one."""
    return Reel(
        reels[0].strategy,
        *(tuple(one for reel in reels for one in getattr(reel, name)) for name in ("replicates", *_BY_REPLICATE)),
    )


def reel_of(film: xr.Dataset, strategy: str, experiment: Experiment) -> Reel:
    """Make a reel of one strategy of a film (see `spreadsim.film`)."""
    one = film.sel(strategy=strategy)
    found = [_replicate(one.isel(replicate=r), experiment) for r in range(one.sizes["replicate"])]
    parts, series, facts = zip(*found, strict=True)
    return Reel(strategy, tuple(int(n) for n in one["replicate"].values), parts, series, facts)


def _replicate(one: xr.Dataset, experiment: Experiment) -> tuple[list[bytes], dict[str, Any], dict[str, Any]]:
    cover, ground = one["cover"].values, one["ground_marks"].values
    steps, ny, nx = cover.shape
    side = coarseness(ny, nx)
    unknown = (cover > 0) & (ground & _KNOWN == 0)
    looks, host_marks = one["host_state"].values, one["host_marks"].values
    seeds = _seeds(one, nx, side)
    parts = changes(_levels(cover, unknown, side).reshape(steps, -1))
    parts += marks(blocks((ground & _WORKED > 0).astype("u1"), side, np.maximum).reshape(steps, -1))
    hidden = np.isin(looks, (_CLIMBING, _FRUITING)) & (host_marks & _KNOWN == 0)
    parts += changes(looks | np.where(hidden, UNKNOWN_HOST, 0).astype("u1"))
    parts += marks(host_marks & (_WORKED | _FOUND))
    parts += [numbers(seeds[name]) for name in ("waits", "cell", "source", "fate", "takes")]
    series = _series(one, unknown, looks, seeds, experiment)
    return parts, series, _facts(one, seeds)


def _levels(cover: Any, unknown: Any, side: int) -> Any:
    """0 none, 1 thin, 2 half closed, 3 closed; and `UNKNOWN` where most of it is. Step by step: little memory."""
    cells = blocks(np.ones(cover.shape[1:], "f4"), side, np.add)
    edges = np.array(EDGES) / COVER_UNIT
    levels = np.zeros((len(cover), *cells.shape), "u1")
    for level, layer, hidden in zip(levels, cover, unknown, strict=True):
        mean = blocks(layer.astype("f4"), side, np.add) / cells
        level[:] = np.digitize(mean, edges, right=True)
        most = 2 * blocks(hidden.astype("i4"), side, np.add) > blocks((layer > 0).astype("i4"), side, np.add)
        level[most & (level > 0)] |= UNKNOWN
    return levels


def _seeds(one: xr.Dataset, nx: int, side: int) -> dict[str, Any]:
    """Seeds that birds brought, in order of landing; on the page's cells."""
    step = one["landing_step"].values
    chosen = np.flatnonzero((step >= 0) & (one["landing_by_bird"].values == 1))
    chosen = chosen[np.argsort(step[chosen], kind="stable")]
    row, column = np.divmod(one["landing_cell"].values[chosen].astype("i8"), nx)
    fate_step = one["landing_fate_step"].values[chosen]
    return {
        "step": step[chosen],
        "waits": np.diff(step[chosen], prepend=0),
        "cell": row // side * -(-nx // side) + column // side,
        "source": one["landing_from"].values[chosen] + 1,
        "fate": one["landing_fate"].values[chosen],
        "takes": np.where(fate_step >= 0, fate_step - step[chosen], 0),
        "fate_step": fate_step,
    }


def _series(one: xr.Dataset, unknown: Any, looks: Any, seeds: dict[str, Any], experiment: Experiment) -> dict[str, Any]:
    steps = np.arange(one.sizes["step"])
    ground = experiment.site.plantable
    rooted = np.sort(seeds["fate_step"][seeds["fate"] == FATES.index("rooted")])
    return {
        "mat_area": one["mat_area"].values,
        "unknown_area": one["mat_area"].values * _shares(one["cover"].values, unknown, ground),
        "climbed": np.isin(looks, (_CLIMBING, _FRUITING)).sum(axis=1),
        "fruiting": (looks == _FRUITING).sum(axis=1),
        "landed": np.searchsorted(seeds["step"], steps, side="right"),
        "rooted": np.searchsorted(rooted, steps, side="right"),
        "hours": np.nancumsum(one["hours"].values.sum(axis=1, where=~np.isnan(one["hours"].values))),
    }


def _shares(cover: Any, unknown: Any, ground: Any) -> Any:
    return np.array([_share(layer, hidden, ground) for layer, hidden in zip(cover, unknown, strict=True)])


def _share(cover: Any, unknown: Any, ground: Any) -> float:
    """Share of the mat that is unknown: as a share, rounding of cover can't make it more than the whole."""
    whole = float((cover * ground).sum())
    return float((cover * ground)[unknown].sum()) / whole if whole > 0.0 else 0.0


def _facts(one: xr.Dataset, seeds: dict[str, Any]) -> dict[str, Any]:
    return {"outside": int((seeds["source"] == 0).sum()), "landed": int(seeds["source"].size)}
