"""How many things a search finds: the model's own chance of finding, and what it makes of many things."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

FOUND_AGAIN = 0.95  # chance that what the steward knows is met again and noted right where people look; assumed
MISTAKEN = 0.02  # things on average, of any kind and place, that are none, or are counted twice; assumed
OUTLINE_ERROR = 0.25  # relative standard error of a mat's area as people outline it; assumed, no source
FEW = 2.0  # things: numbers below are no surer, so that with a model error of 0.2 one count in five is 1 off; assumed
MODEL_ERROR = 0.2  # how far a world's number of things stands for that of the ground, as a share of it; assumed
LEAST = 1e-300  # no chance is less, so that its logarithm is a number
_TERMS = 60  # of a Poisson number beyond 12 standard deviations above its mean


class Effort(NamedTuple):
    """Minutes a hectare that were looked, by cell: with leaves on other plants, and in winter without."""

    leaf_on: Any
    leaf_off: Any

    @property
    def looked(self) -> Any:
        """Cells where somebody looked."""
        return self.leaf_on + self.leaf_off > 0

    def of(self, scouting: Any, cells: Any) -> Any:
        """Give what the effort in cells is worth in a world, where a winter's minute counts for more."""
        return self.leaf_on[cells] + float(scouting["leaf_off_boost"]) * self.leaf_off[cells]


def chance_mat(scouting: Any, effort: Any, share: Any) -> Any:
    """Give the chance that mat is found by a search, as scouting in the model does (ODD 7.9).

    Parameters
    ----------
    scouting
        Numbers of the treatment scout.
    effort
        From `Effort.of`.
    share
        Cover as a share of the greatest.
    """
    return _detected(effort * np.sqrt(share), scouting, "search_time_constant_mat")


def chance_host(scouting: Any, effort: Any) -> Any:
    """Give the chance that vine on a host is found by a search."""
    return _detected(effort, scouting, "search_time_constant_climbing")


def _detected(effort: Any, scouting: Any, constant: str) -> Any:
    worth = effort * float(scouting["clumping_factor"]) / float(scouting[constant])
    return (1.0 - float(scouting["cryptic_share"])) * -np.expm1(-worth)


def again(chance: Any, known: Any) -> Any:
    """Give the chance that a thing is noted: what is known is met again, or found anew."""
    return np.where(known, np.maximum(chance, FOUND_AGAIN), chance)


def counts_found(chances: Any, scouting: Any, more: float = 0.0, error: float = 0.0) -> Any:
    """Give the chances that 0, 1, 2... things are noted.

    Each thing is found on its own with its own chance (a Poisson-binomial number); look-alikes and double counts come
    on top, a Poisson number of them, so that no number is impossible. Only sums of positive terms: small chances are
    as exact as large ones, which a Fourier transform does not give.

    Parameters
    ----------
    chances
        Of each thing that is there.
    scouting
        Numbers of the treatment scout: of what is noted, the share `misidentified` is something else.
    more
        Average of a Poisson number of things that are noted besides.
    error
        Standard error, as a share of the average noted and of `FEW` (the root of both squares), with which a world's
        number stands for that of the ground: a normal number of this spread, rounded, is added; what comes below 0
        is 0. Without `FEW` a world with no fruiting host could not stand for ground with one, and luck in such small
        numbers would decide which worlds count.

    Returns
    -------
    array
        By number; what is beyond its end has no chance worth a number.
    """
    from scipy.special import gammaln, xlogy

    besides = more + MISTAKEN + float(scouting["misidentified"]) * (float(np.sum(chances)) + more)
    k = np.arange(int(besides + 12.0 * math.sqrt(besides)) + _TERMS)
    found = np.exp(xlogy(k, besides) - besides - gammaln(k + 1))
    values, counts = np.unique(chances, return_counts=True)
    for p, n in zip(values.tolist(), counts.tolist(), strict=True):
        k = np.arange(n + 1)
        ways = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
        found = np.convolve(found, np.exp(ways + xlogy(k, p) + xlogy(n - k, 1.0 - p)))
    found = _blurred(found, error * math.hypot(float(np.sum(chances)) + besides, FEW))
    longest = int(np.flatnonzero(found > LEAST)[-1]) + 1
    return found[:longest]


def _blurred(found: Any, spread: float) -> Any:
    """Add a rounded normal number to a count."""
    from scipy.special import ndtr

    if spread <= 0.0:
        return found
    reach = int(12.0 * spread) + 1
    steps = np.arange(-reach, reach + 1)
    # the lesser tail on both sides, so that differences keep their digits
    half = ndtr((-np.abs(steps) + 0.5) / spread) - ndtr((-np.abs(steps) - 0.5) / spread)
    blurred = np.convolve(found, half)
    kept = blurred[reach:].copy()
    kept[0] += blurred[:reach].sum()
    return kept
