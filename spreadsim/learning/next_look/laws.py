"""What may be found in each piece, what finding it avoids, and how fast a search comes upon it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.analysis.goals import Goals
from spreadsim.learning.next_look.ground import Pieces
from spreadsim.learning.next_look.paired import MEASURED, Harm
from spreadsim.learning.next_look.sharing import Terms
from spreadsim.learning.next_look.unknown import Unknown


class Things(NamedTuple):
    """All unknown things of all worlds, a row for each; patches in the order of worlds, then hosts."""

    world: Any
    piece: Any
    is_host: Any
    rate: Any  # of finding it, 1/h of looking in its piece
    seen: Any  # chance that it can be told from litter at all
    harm: Any  # (things, measures): what it leads to, see `paired.Harm`
    worlds: int
    pieces: int


def things_of(unknown: Sequence[Unknown], harms: Sequence[Harm], pieces: Pieces, winter: bool) -> Things:
    """Put worlds together; the harm of a piece's mat is shared by area of patches, that of its hosts alike.

    Rates are the model's own (ODD 7.9): minutes a hectare by clumping, times the boost without leaves, over the time
    constant; a patch shows by the root of its cover.
    """
    by_place = {(harm.world, harm.piece): harm for harm in harms}
    none = np.zeros(len(MEASURED))
    parts: list[tuple[Any, ...]] = []
    for w, one in enumerate(unknown):
        scout = one.scouting
        worth = float(scout["clumping_factor"]) * (float(scout["leaf_off_boost"]) if winter else 1.0)
        seen = 1.0 - float(scout["cryptic_share"])
        ground = np.bincount(one.patch_piece, weights=one.patch_area, minlength=len(pieces.names))
        climbed = np.bincount(one.host_piece, minlength=len(pieces.names))
        for k, area, share in zip(one.patch_piece.tolist(), one.patch_area, one.patch_share, strict=True):
            rate = pieces.per_hour[k] * worth * np.sqrt(share) / float(scout["search_time_constant_mat"])
            harm = by_place[w, k].mat * (area / ground[k]) if ground[k] > 0 else none
            parts.append((w, k, False, rate, seen, harm))
        for k in one.host_piece.tolist():
            rate = pieces.per_hour[k] * worth / float(scout["search_time_constant_climbing"])
            parts.append((w, k, True, rate, seen, by_place[w, k].hosts / climbed[k]))
    columns = list(zip(*parts, strict=True)) or [()] * 6
    return Things(
        world=np.array(columns[0], "i8"),
        piece=np.array(columns[1], "i8"),
        is_host=np.array(columns[2], bool),
        rate=np.array(columns[3], float),
        seen=np.array(columns[4], float),
        harm=np.array(columns[5], float).reshape(-1, len(MEASURED)),
        worlds=len(unknown),
        pieces=len(pieces.names),
    )


def weights_of(goals: Goals) -> list[tuple[Mapping[str, float], Any]]:
    """Give what is weighed, as names with weights and as one number by measure, the most important first.

    What is not measured here (hours and cost, which are nil where nobody works) is left out.
    """
    names = [measure.name for measure in MEASURED]
    signs = np.array([-1.0 if measure.better == "higher" else 1.0 for measure in MEASURED])
    tables: list[Mapping[str, float]] = [goals.weights] if goals.weights else [{name: 1.0} for name in goals.order]
    given: list[tuple[Mapping[str, float], Any]] = []
    for table in tables:
        kept = {name: weight for name, weight in table.items() if name in names and weight}
        if kept:
            given.append((kept, signs * [kept.get(name, 0.0) for name in names]))
    return given


def terms_of(things: Things, by_measure: Any) -> Terms:
    """Give what finding each thing avoids, on average over the worlds.

    By luck alone a world may fare better with the vine than without. Over the worlds this comes out, but not in the
    one: so the sum over the worlds of each piece and kind is kept, at least 0, and shared out by what is above 0.
    """
    harm = things.harm @ by_measure / max(things.worlds, 1)
    kind = 2 * things.piece + things.is_host
    above = np.maximum(harm, 0.0)
    sums, tops = (np.bincount(kind, weights=one, minlength=2 * things.pieces) for one in (harm, above))
    scale = np.divide(np.maximum(sums, 0.0), tops, out=np.zeros(len(tops)), where=tops > 0)
    return Terms(things.piece, above * scale[kind] * things.seen, things.rate, things.pieces)


def presence_terms(things: Things) -> Terms:
    """Give the same where all that counts is the chance that anything is there: its quickest found thing, worth 1."""
    key = things.world * things.pieces + things.piece
    order = np.lexsort((things.rate, key))
    last = order[np.append(key[order][1:] != key[order][:-1], True)] if len(order) else order
    value = things.seen[last] / max(things.worlds, 1)
    return Terms(things.piece[last], value, things.rate[last], things.pieces)


def chances(things: Things, hours: Any) -> tuple[Any, Any]:
    """Give by piece the chance that anything unknown is there, and that so many hours find some of it if it is.

    Mat in one piece and world is found or missed together, hosts each on their own.
    """
    missed = 1.0 - things.seen * -np.expm1(-things.rate * hours[things.piece])
    shape = (things.worlds, things.pieces)
    mat, hosts, there = np.ones(shape), np.zeros(shape), np.zeros(shape, bool)
    place = (things.world, things.piece)
    there[place] = True
    ground, climbed = (tuple(axis[some] for axis in place) for some in (~things.is_host, things.is_host))
    np.minimum.at(mat, ground, missed[~things.is_host])
    np.add.at(hosts, climbed, np.log(np.maximum(missed[things.is_host], 1e-300)))
    found = (there * (1.0 - mat * np.exp(hosts))).sum(axis=0)
    count = there.sum(axis=0)
    return count / max(things.worlds, 1), np.divide(found, count, out=np.full(things.pieces, np.nan), where=count > 0)
