"""How sure the order of the pieces is: worlds drawn again and again from those that were run."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.next_look.laws import Things

RESAMPLES = 2000
_LUCK = 5  # what luck is for, beside that of other parts of learning


class Sure(NamedTuple):
    """What holds in so many of the resamples."""

    first: Any  # (pieces,), share in which a piece is worth most an hour
    among: Any  # (pieces,), share in which it is among the first `many`
    many: int
    avoided: tuple[float, float]  # 90 % of the worlds: harm that the hours avoid
    at_all: tuple[float, float]  # 90 % of the worlds: harm of all that is unknown


def how_sure(things: Things, by_measure: Any, hours: Any, step: float, many: int, groups: Any, seed: int) -> Sure:
    """Resample worlds and put the pieces in order again, the hours in each held.

    Parameters
    ----------
    things
        What is unknown.
    by_measure
        Weights.
    hours
        In each piece; a piece without any is judged by its first visit.
    step
        Length of a visit, h.
    many
        How many pieces count as the first.
    groups
        (worlds,), worlds of one number are drawn together: they are the same one, put right differently.
    seed
        Same seed, same resamples.
    """
    worlds, pieces = things.worlds, things.pieces
    judged = np.maximum(hours, step)
    harm = things.harm @ by_measure
    found = harm * things.seen * -np.expm1(-things.rate * judged[things.piece])
    by_world = np.zeros((worlds, pieces))
    np.add.at(by_world, (things.world, things.piece), found / judged[things.piece])
    _, group = np.unique(groups, return_inverse=True)
    count = int(group.max()) + 1
    by_group = np.zeros((count, pieces))
    np.add.at(by_group, group.ravel(), by_world)
    luck = np.random.Generator(np.random.PCG64([seed, _LUCK]))
    often = luck.multinomial(count, np.full(count, 1.0 / count), size=RESAMPLES)
    rates = often @ by_group
    order = np.argsort(-rates, axis=1, kind="stable")[:, :many]
    some = np.take_along_axis(rates, order, axis=1) > 0
    among = np.bincount(order[some], minlength=pieces) / RESAMPLES
    first = np.bincount(order[:, 0][some[:, 0]], minlength=pieces) / RESAMPLES if many else among
    spent = by_world[:, hours > 0] @ hours[hours > 0]
    total = np.bincount(things.world, weights=harm, minlength=worlds)
    return Sure(first, among, many, _range(spent), _range(total))


def _range(values: Any) -> tuple[float, float]:
    low, high = np.quantile(values, [0.05, 0.95])
    return float(low), float(high)
