"""Weights of worlds by how likely each makes what was found, and whether enough of them count."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

WANTED = 100.0  # worlds that should count: 5 % of them are then known to within some 2 %
RELIABLE = 0.7  # Pareto k above which weights from more worlds would still change much (Vehtari et al. 2024)


@dataclass(frozen=True, eq=False)
class Weights:
    """Weights of worlds.

    Attributes
    ----------
    values : array
        By world; they sum to 1.
    before : array
        The same with no survey: worlds that were drawn near others count for less where those are many.
    effective : float
        How many equally weighted worlds they are worth: 1 / sum of squares (Kong 1992, from memory).
    full_effective : float
        The same with the survey taken in full.
    power : float
        What the likelihood was raised to: 1 where the survey is taken in full, less where too few worlds would have
        counted.
    pareto_k : float
        Shape of the tail of the weights with the survey in full; not a number where all are equal or worlds are few.
    """

    values: Any
    before: Any
    effective: float
    full_effective: float
    power: float
    pareto_k: float

    @property
    def tempered(self) -> bool:
        """Whether the survey could not be taken in full."""
        return self.power < 1.0


def weigh(log_likelihood: Any, wanted: float = WANTED, log_prior: Any = 0.0) -> Weights:
    """Weigh worlds by the likelihood of what was found.

    With worlds drawn from the prior these are the weights of importance sampling, or of one step of a particle
    filter; their average of anything tends to its mean given the survey, without any tolerance. Where fewer than
    `wanted` worlds would count (or a quarter of them all), the likelihood is raised to the greatest power below 1 that
    leaves so many, as the first step of tempering (Del Moral, Doucet and Jasra 2012, Stat. Comput. 22:1009): what is
    learned is then less than the survey says, never more.

    Parameters
    ----------
    log_likelihood
        By world, finite.
    wanted
        How many should count.
    log_prior
        By world: logarithm of the prior's density over that which the world was drawn from; 0 for worlds drawn from
        the prior.

    Returns
    -------
    Weights
    """
    from scipy.optimize import brentq

    values = np.asarray(log_likelihood, dtype=float)
    n = len(values)
    start = np.broadcast_to(np.asarray(log_prior, dtype=float), n)
    before = normal(start)
    if np.ptp(values) == 0.0:
        return Weights(before, before, effective(before), effective(before), 1.0, float("nan"))
    full = effective(normal(start + values))
    target = min(wanted, 0.25 * n, 0.5 * effective(before))
    power = 1.0
    if full < target:
        # at power 0 enough worlds count, at 1 too few; the number falls in between (it is a log-convex family)
        power = float(brentq(lambda one: effective(normal(start + one * values)) - target, 0.0, 1.0, xtol=1e-6))
    weights = normal(start + power * values)
    return Weights(weights, before, effective(weights), full, power, pareto_k(start + values))


def normal(log_weights: Any) -> Any:
    """Give weights that sum to 1."""
    weights = np.exp(log_weights - log_weights.max())
    return weights / weights.sum()


def effective(weights: Any) -> float:
    """Give how many equally weighted worlds some weights are worth."""
    return float(1.0 / np.sum(weights**2))


def pareto_k(log_weights: Any) -> float:
    """Give the shape of the Pareto tail of weights, by Pareto-smoothed importance sampling; nan for few worlds."""
    from arviz_stats.base.array import BaseArray

    if len(log_weights) < 50 or len(np.unique(log_weights)) < 20:
        return float("nan")
    with np.errstate(all="ignore"), suppress(ValueError):  # a tail of equal weights has no shape
        # it takes minus the log weights, as leave-one-out checks hand them on
        return float(BaseArray().psislw(log_weights.max() - log_weights)[1])  # type: ignore[no-untyped-call]
    return float("nan")
