"""What stands in a world at the start that nobody knows of, and in which piece a search would come upon it."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.next_look.ground import Pieces
from spreadsim.model.compiled import layout, put_back
from spreadsim.model.kernels.film import FILM_STEPS, KNOWN, LOOKS_FRUITING
from spreadsim.model.memory import new_film, new_tally
from spreadsim.runs.engine import Engine


class Unknown(NamedTuple):
    """Unknown vine in one world."""

    cells: Any  # with mat that nobody knows of
    cell_piece: Any  # of the patch that a cell belongs to
    patch_piece: Any  # by patch: the piece with most of it
    patch_area: Any  # m2 of ground
    patch_share: Any  # largest cover in it, as a share of the greatest: what a search comes upon
    hosts: Any  # climbed, and nobody knows
    host_piece: Any
    fruiting: Any  # whether each bears
    scouting: Any  # numbers of the treatment scout


def unknown_in(
    engine: Engine, pieces: Pieces, state: Any, number: int, vine: Any, rows: Any, scout: int
) -> tuple[Unknown, Any]:
    """Run a world to the start and see what of it nobody knows.

    A patch is all mat of one origin, since the model finds it as a whole; it counts to the piece that holds most of it.

    Returns
    -------
    tuple
        What is unknown, and the working memory, put back.
    """
    first, area = engine.world.first_year, engine.world.site.plantable.ravel() * engine.world.site.cell_size**2
    plan = engine.plans[0]
    switches = plan.switches.copy()
    switches[layout.END_YEAR] = first
    plan, nothing = plan._replace(switches=switches), np.zeros((0, 0), "i8")

    def empty(state: Any) -> Any:
        years = engine.world.years
        return new_tally(plan, years, 0, engine.map_slot, nothing, False, new_film(state, first))

    tally, state, plan = engine.play(state, number, 0, vine, rows, empty, plan)
    film, step = tally.film, 4 * first
    cells = np.flatnonzero((film.cover[step] > 0) & (film.ground[step] & KNOWN == 0))
    origin = state.pasts["origin"][state.cells["slot"][cells]]
    put_back(engine.ground, plan, state)
    _, patch = np.unique(origin, return_inverse=True)
    patch = patch.ravel()
    count = int(patch.max()) + 1 if len(patch) else 0
    share = np.zeros(count)
    np.maximum.at(share, patch, film.cover[step][cells] / FILM_STEPS / float(vine[0]["max_cover"]))
    piece = _most(patch, pieces.of_cell[cells], area[cells], count, len(pieces.names))
    seen = film.hosts[step]
    climbed = ((seen == layout.CLIMBING) | (seen == LOOKS_FRUITING)) & (film.marks[step] & KNOWN == 0)
    hosts = np.flatnonzero(climbed & (pieces.of_host >= 0))
    found = Unknown(
        cells=cells,
        cell_piece=piece[patch],
        patch_piece=piece,
        patch_area=np.bincount(patch, weights=area[cells], minlength=count),
        patch_share=np.minimum(share, 1.0),
        hosts=hosts,
        host_piece=pieces.of_host[hosts],
        fruiting=seen[hosts] == LOOKS_FRUITING,
        scouting=rows[scout],
    )
    return found, state


def _most(patch: Any, piece: Any, area: Any, count: int, pieces: int) -> Any:
    """Give the piece that holds most of each patch; the first of them where some hold as much."""
    pairs, at = np.unique(patch * pieces + piece, return_inverse=True)
    sums = np.bincount(at.ravel(), weights=area, minlength=len(pairs))
    best = np.zeros(count, "i8")
    order = np.lexsort((-np.arange(len(pairs)), sums))  # the last one written stays
    best[pairs[order] // max(pieces, 1)] = pairs[order] % max(pieces, 1)
    return best
