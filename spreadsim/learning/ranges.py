"""Ranges of parameters before and after a survey, and whether what moved is more than chance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
SURE = 0.99  # a parameter is learned about if shuffled weights move none of them as far in so many shuffles
SHUFFLES = 400


@dataclass(frozen=True, eq=False)
class Ranges:
    """Quantiles of parameters.

    Attributes
    ----------
    before, after : arrays (parameters, levels)
        At `LEVELS`.
    error : array (parameters, levels)
        Standard error of `after`, since worlds are few.
    moved : array (parameters,)
        Largest distance between the distributions before and after, 0 to 1.
    by_chance : float
        What no parameter exceeds in 99 % of shuffles.
    learned : array (parameters,) of bool
        Whether it moved by more.
    """

    before: Any
    after: Any
    error: Any
    moved: Any
    by_chance: float
    learned: Any


def ranges_of(values: Any, even: Any, weights: Any, effective: float, seed: int) -> Ranges:
    """Give ranges of parameters before and after.

    Parameters
    ----------
    values
        (parameters, worlds).
    even, weights
        (worlds,): before and after.
    effective
        How many worlds they are worth.
    seed
        Of the shuffles: weights given to worlds at random move parameters too, and the largest such move over all
        parameters, passed by 1 shuffle in 100, is what a parameter has to exceed to be called learned about.
    """
    count = len(values)
    before = np.array([fair_quantiles(row, even, LEVELS) for row in values]).reshape(count, len(LEVELS))
    after = np.array([fair_quantiles(row, weights, LEVELS) for row in values]).reshape(count, len(LEVELS))
    # Woodruff 1952 (J. Am. Stat. Assoc. 47:635): the error of the share below a quantile, read off as quantiles
    spread = [np.sqrt(level * (1.0 - level) / effective) for level in LEVELS]
    low = np.clip([level - one for level, one in zip(LEVELS, spread, strict=True)], 0.0, 1.0)
    high = np.clip([level + one for level, one in zip(LEVELS, spread, strict=True)], 0.0, 1.0)
    error = np.array([0.5 * (quantiles(row, weights, high) - quantiles(row, weights, low)) for row in values])
    moved, by_chance = _moved(values, even, weights, seed)
    return Ranges(before, after, error.reshape(before.shape), moved, by_chance, moved > by_chance)


def quantiles(values: Any, weights: Any, levels: Any) -> Any:
    """Give quantiles of weighted values: the least value that has at least so much weight up to it."""
    order = np.argsort(values, kind="stable")
    sums = np.cumsum(weights[order])
    places = np.searchsorted(sums, np.asarray(levels) * sums[-1] * (1.0 - 1e-12), side="left")
    return values[order][np.minimum(places, len(values) - 1)]


def fair_quantiles(values: Any, weights: Any, levels: Any) -> Any:
    """Give quantiles below which another value, drawn like these, lies with just that chance, though they are few.

    Of n equal weights the k-th value stands for k / (n + 1) (Weibull's position; Hyndman and Fan 1996, Am. Stat.
    50:361, type 6): the plain share k / n would let 90 % ranges of 20 worlds hold the truth in 86 %. Of unequal
    weights n is how many they are worth; between values it is linear.
    """
    kept = weights > 0.0
    order = np.argsort(values[kept], kind="stable")
    sorted_weights = weights[kept][order] / weights.sum()
    n = 1.0 / np.sum(sorted_weights**2)
    places = ((np.cumsum(sorted_weights) - 0.5 * sorted_weights) * n + 0.5) / (n + 1.0)
    return np.interp(levels, places, values[kept][order])


def _moved(values: Any, even: Any, weights: Any, seed: int) -> tuple[Any, float]:
    """Give how far each parameter moved, and how far the one that moved most does by chance in 99 of 100 shuffles."""
    change = weights - even
    if not len(values) or np.ptp(change) == 0.0:
        return np.zeros(len(values)), 0.0

    def farthest(given: Any) -> Any:
        return np.abs(np.cumsum(given, axis=1)).max(axis=1)

    rng = np.random.Generator(np.random.PCG64([seed, 0]))
    order = np.argsort(values, axis=1, kind="stable")
    chance = [float(farthest(rng.permutation(change)[order]).max()) for _ in range(SHUFFLES)]
    return farthest(change[order]), float(np.quantile(chance, SURE))
