"""Hours shared out over pieces of ground so that most is gained: the optimal allocation of search effort.

What is gained in a piece with x hours is a sum of values that are found by Koopman's random search,
value x (1 - exp(-rate x)), so that it is concave and one multiplier settles all pieces: an hour more gains the same in
each piece that has any, and no more in the others (Koopman 1957, Oper. Res. 5:613-626; for weeds after Hauser and
McCarthy 2009, Ecol. Lett. 12:683-692; both from memory).
"""

from __future__ import annotations

import heapq
from typing import Any, NamedTuple

import numpy as np

_ROUNDS = 200  # Newton's method from the left of a convex falling function needs some ten
_CLOSE = 1e-13
_LEAST = 1e-280  # a multiplier below which nothing is left to gain


class Terms(NamedTuple):
    """What may be found: one row for each thing."""

    piece: Any  # number of the piece, from 0
    value: Any  # gained if it is found, 0 or more
    rate: Any  # of finding it, 1/h, above 0
    pieces: int  # how many there are


def gained(terms: Terms, hours: Any) -> Any:
    """Give what is gained in each piece with so many hours in it, (pieces,)."""
    return _sums(terms, -terms.value * np.expm1(-terms.rate * np.asarray(hours, float)[terms.piece]))


def gain_of_more(terms: Terms, hours: Any) -> Any:
    """Give what an hour more gains in each piece, 1/h, (pieces,)."""
    return _sums(terms, terms.value * terms.rate * np.exp(-terms.rate * np.asarray(hours, float)[terms.piece]))


def hours_until(terms: Terms, worth: float) -> Any:
    """Give the hours in each piece after which one more gains no more than it is worth elsewhere, (pieces,).

    With one thing in a piece: max(0, ln(rate value / worth) / rate).
    """
    first = gain_of_more(terms, np.zeros(terms.pieces))
    open_ = first > worth
    hours = np.zeros(terms.pieces)
    for _ in range(_ROUNDS):
        more = terms.value * terms.rate * np.exp(-terms.rate * hours[terms.piece])
        gain, bend = _sums(terms, more), _sums(terms, more * terms.rate)
        # the logarithm of a sum of exponentials is convex: steps from 0 stay short of the root
        step = np.zeros(terms.pieces)
        step[open_] = np.log(gain[open_] / worth) * gain[open_] / bend[open_]
        hours += np.maximum(step, 0.0)
        if (step <= _CLOSE * (1.0 + hours)).all():
            break
    return hours


def share_out(terms: Terms, hours: float) -> Any:
    """Give the hours in each piece that gain most in all, (pieces,); none where nothing can be gained.

    Parameters
    ----------
    terms
        What may be found.
    hours
        At hand, 0 or more.
    """
    first = gain_of_more(terms, np.zeros(terms.pieces))
    worth = float(first.max(initial=0.0))
    if worth <= 0.0 or hours <= 0.0:
        return np.zeros(terms.pieces)
    while worth > _LEAST:  # down to where hours are too few: from there Newton's method comes from one side
        given = hours_until(terms, worth)
        if given.sum() >= hours:
            break
        worth *= 0.1
    for _ in range(_ROUNDS):
        given = hours_until(terms, worth)
        over = float(given.sum()) - hours
        if over <= _CLOSE * hours:
            break
        more = terms.value * terms.rate * np.exp(-terms.rate * given[terms.piece])
        gain, bend = _sums(terms, more), _sums(terms, more * terms.rate)
        some = given > 0.0
        worth *= float(np.exp(over / (gain[some] / bend[some]).sum()))
    total = float(given.sum())
    return given * (hours / total) if total > 0.0 else given


def visits(terms: Terms, hours: float, step: float) -> Any:
    """Give the hours in each piece in whole visits of a least length that gain most in all, (pieces,).

    Each visit goes where it gains most, one after the other: for concave gains no other way of sharing out whole visits
    gains more (Gross 1956, Fox 1966, Manag. Sci. 13:210-216; from memory). Equal gains go to the first piece.

    Parameters
    ----------
    terms
        What may be found.
    hours
        At hand; what is left of them after whole visits is not used.
    step
        Length of a visit, h.
    """
    order = np.argsort(terms.piece, kind="stable")
    ends = np.searchsorted(terms.piece[order], np.arange(terms.pieces + 1))
    rows = [order[ends[k] : ends[k + 1]] for k in range(terms.pieces)]

    def next_gain(k: int) -> float:
        value, rate = terms.value[rows[k]], terms.rate[rows[k]]
        return float(-(value * np.exp(-rate * counts[k] * step) * np.expm1(-rate * step)).sum())

    counts = np.zeros(terms.pieces)
    heap = [(-next_gain(k), k) for k in range(terms.pieces) if len(rows[k])]
    heapq.heapify(heap)
    for _ in range(int(hours / step + 1e-9)):
        if not heap or heap[0][0] >= -_LEAST:
            break
        _, k = heapq.heappop(heap)
        counts[k] += 1
        heapq.heappush(heap, (-next_gain(k), k))
    return counts * step


def _sums(terms: Terms, values: Any) -> Any:
    return np.bincount(terms.piece, weights=values, minlength=terms.pieces)
