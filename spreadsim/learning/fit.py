"""How well any world explains what was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.learning.ranges import LEVELS, quantiles

SURPRISING = 0.01  # chance below which a finding is called unexplained, shared over all that is looked at


@dataclass(frozen=True, eq=False)
class Fit:
    """Findings against what worlds predict.

    Attributes
    ----------
    before, after : arrays (statistics, levels)
        Quantiles of what the survey would have found, at `LEVELS`, before and after learning.
    chance_before, chance_after : arrays (statistics,)
        Chance of a finding as far out as the one made, on either side, before and after learning.
    overall : float
        Share of invented surveys of the weighted worlds that are as unlikely in their own world as the real one is.
    unexplained : array (statistics,) of bool
        Findings that not even the worlds that count most explain.
    surprising : array (statistics,) of bool
        Findings that were hardly expected before.
    """

    before: Any
    after: Any
    chance_before: Any
    chance_after: Any
    overall: float
    unexplained: Any
    surprising: Any


def fit_of(below: Any, drawn: Any, drawn_log_likelihood: Any, log_likelihood: Any, even: Any, weights: Any) -> Fit:
    """Check predictions against findings (Gelman, Meng and Stern 1996, Stat. Sinica 6:733; Box 1980 for before).

    Parameters
    ----------
    below
        (statistics, worlds): chance of less than what was found, half of just as much counted in.
    drawn
        (statistics, worlds): what one invented survey of each world finds.
    drawn_log_likelihood, log_likelihood
        (statistics, worlds): of the invented and the real findings in each world.
    even, weights
        (worlds,): before and after learning.
    """
    count = len(below)
    limit = SURPRISING / max(count, 1)

    def two_sided(given: Any) -> Any:
        share = below @ given
        return np.minimum(1.0, 2.0 * np.minimum(share, 1.0 - share))

    chance_before, chance_after = two_sided(even), two_sided(weights)
    as_far = drawn_log_likelihood.sum(axis=0) <= log_likelihood.sum(axis=0)
    shape = (count, len(LEVELS))
    return Fit(
        np.array([quantiles(row, even, LEVELS) for row in drawn]).reshape(shape),
        np.array([quantiles(row, weights, LEVELS) for row in drawn]).reshape(shape),
        chance_before,
        chance_after,
        float(as_far @ weights),
        chance_after < limit,
        chance_before < limit,
    )
