"""Where to draw more worlds: near those that explain the survey, in the few parameters that it speaks of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

DEFENSIVE = 0.2  # of the worlds of a proposal come from the prior, so that no weight grows without bound
MOST = 8  # parameters that are moved
CLEAR = 3.0  # standard errors by which a score has moved, or its variance shrunk: 1 in 400 by chance
WIDER = 1.2  # times the variance of the worlds that explain the survey: a tail too light costs more than one too heavy
LEAST_VARIANCE = 0.02  # of a score


@dataclass(frozen=True, eq=False)
class Proposal:
    """A distribution of some scores: with a share the prior, else a normal one; all other scores as under the prior.

    Attributes
    ----------
    names : tuple of str
        Parameters that are moved; none: the prior itself.
    mean, spread : arrays (names,), (names, names)
        Of the normal part; `spread` is the lower Cholesky factor of its covariance.
    """

    names: tuple[str, ...]
    mean: Any
    spread: Any

    def draw(self, seed: int, numbers: Sequence[int]) -> dict[str, Any]:
        """Give scores for worlds by name, (worlds,); the luck of each is that of its number."""
        drawn = np.zeros((len(numbers), len(self.names)))
        for row, number in zip(drawn, numbers, strict=True):
            rng = np.random.Generator(np.random.PCG64([seed, number, 2]))
            plain = rng.standard_normal(len(self.names))
            row[:] = plain if rng.random() < DEFENSIVE else self.mean + self.spread @ plain
        return dict(zip(self.names, drawn.T, strict=True))

    def density(self, scores: Mapping[str, Any]) -> Any:
        """Give the density of worlds as against that of the prior, (worlds,)."""
        if not self.names:
            return np.ones(len(next(iter(scores.values()))) if scores else 1)
        here = np.array([scores[name] for name in self.names])
        apart = np.linalg.solve(self.spread, here - self.mean[:, None])
        log_ratio = 0.5 * ((here**2).sum(axis=0) - (apart**2).sum(axis=0)) - np.log(np.diag(self.spread)).sum()
        return DEFENSIVE + (1.0 - DEFENSIVE) * np.exp(log_ratio)


def near(scores: Mapping[str, Any], weights: Any) -> Proposal:
    """Give a proposal near worlds that count, by their weighted mean and covariance.

    Only scores that moved clearly are moved, the clearest first: moving one that the survey does not speak of spreads
    the weights for nothing. No direction is made wider than the prior.

    Parameters
    ----------
    scores
        By name, (worlds,).
    weights
        (worlds,), summing to 1; so many should count that means are known.
    """
    names = list(scores)
    if not names or np.ptp(weights) == 0.0:
        return Proposal((), np.zeros(0), np.zeros((0, 0)))
    table = np.array([scores[name] for name in names])
    mean = table @ weights
    apart = (table - mean[:, None]) ** 2
    variance = apart @ weights
    error = np.sqrt(np.sum(weights**2))  # of the mean of a standard normal number
    clear = np.maximum(np.abs(mean), (1.0 - variance) / np.sqrt(2.0)) / error
    chosen = [k for k in np.argsort(-clear, kind="stable").tolist() if clear[k] > CLEAR][:MOST]
    here = table[chosen] - mean[chosen, None]
    covariance = WIDER * (weights * here) @ here.T + LEAST_VARIANCE * np.eye(len(chosen))
    values, directions = np.linalg.eigh(covariance)
    covariance = (directions * np.minimum(values, 1.0)) @ directions.T
    return Proposal(tuple(names[k] for k in chosen), mean[chosen], np.linalg.cholesky(covariance))
