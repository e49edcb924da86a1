"""Whether the strategies are known well enough, at a look at the worlds run so far."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.sequential import error_of_look, sure_intervals

NO_ACTION = "no action"
GOALS = MappingProxyType(
    {
        "either": "the differences are known, or the best is settled",
        "width": "the differences are known",
        "best": "the best is settled",
    }
)
_HIGHER_IS_BETTER = frozenset(measure.outcome for measure in MEASURES if measure.better == "higher")


@dataclass(frozen=True)
class Width:
    """A half-width to reach: a number in the outcome's unit, or a share of the mean with no action."""

    size: float
    share: bool = False


@dataclass(frozen=True)
class Difference:
    """Mean paired difference of two strategies, first less second, with the interval that holds at every look."""

    first: str
    second: str
    mean: float
    low: float
    high: float

    @property
    def reach(self) -> float:
        """How far the further end lies from the mean."""
        return max(self.high - self.mean, self.mean - self.low)


@dataclass(frozen=True)
class Seen:
    """What a look saw of one outcome.

    Attributes
    ----------
    outcome : str
        Its name.
    wanted : float
        Half-width to reach, in the outcome's unit.
    differences : tuple of Difference
        Of every pair of strategies, in the outcome's unit.
    best : str
        The strategy with the best mean.
    beaten, close : tuple of str
        Others that are surely worse than the best, and others that are surely within the half-width of it.
    open : tuple of str
        Others that are neither.
    """

    outcome: str
    wanted: float
    differences: tuple[Difference, ...]
    best: str
    beaten: tuple[str, ...]
    close: tuple[str, ...]
    open: tuple[str, ...]

    @property
    def least_known(self) -> Difference:
        """The difference whose interval reaches furthest."""
        return max(self.differences, key=lambda one: one.reach)

    @property
    def known(self) -> bool:
        """Whether all differences are known to the half-width."""
        return all(one.reach <= self.wanted for one in self.differences)

    @property
    def settled(self) -> bool:
        """Whether each other strategy is surely worse than the best or surely within the half-width of it."""
        return not self.open

    def reached(self, goal: str) -> bool:
        """Whether one of `GOALS` is reached."""
        return (goal != "best" and self.known) or (goal != "width" and self.settled)


@dataclass(frozen=True)
class Look:
    """One look: its number from 1, the replicates, and what was seen of each outcome."""

    number: int
    replicates: int
    seen: tuple[Seen, ...]

    def reached(self, goal: str) -> bool:
        """Whether the goal is reached by every outcome."""
        return all(one.reached(goal) for one in self.seen)


def look_at(
    number: int,
    names: Sequence[str],
    values: Mapping[str, NDArray[np.float64]],
    widths: Mapping[str, Width],
    confidence: float,
) -> Look:
    """Look at the worlds run so far.

    The error 1 - `confidence` is spread over all looks that there may be, and evenly over all pairs of strategies of
    all outcomes, so that everything that any look says holds together with that confidence (see `sequential`).

    Parameters
    ----------
    number
        Of the look, from 1.
    names
        Of the strategies.
    values
        By outcome, (replicate, strategy), finite.
    widths
        By outcome, what to reach.
    confidence
        Between 0 and 1.
    """
    pairs = list(combinations(range(len(names)), 2))
    error = error_of_look(number, 1 - confidence) / max(1, len(pairs) * len(values))
    seen = tuple(_see(outcome, names, column, widths[outcome], error, pairs) for outcome, column in values.items())
    return Look(number, len(next(iter(values.values()))), seen)


def _see(
    outcome: str,
    names: Sequence[str],
    values: NDArray[np.float64],
    width: Width,
    error: float,
    pairs: Sequence[tuple[int, int]],
) -> Seen:
    means = values.mean(axis=0)
    wanted = width.size
    if width.share:
        wanted *= abs(float(means[list(names).index(NO_ACTION)]))
    order = np.argsort(-means if outcome in _HIGHER_IS_BETTER else means, kind="stable").tolist()
    best = order[0]
    differences = _differences(names, values, error, pairs)
    told: dict[str, list[str]] = {"beaten": [], "close": [], "open": []}
    for other in order[1:]:
        one = differences[pairs.index((min(best, other), max(best, other)))]
        # by how much the other lies above the best
        low, high = (-one.high, -one.low) if one.first == names[best] else (one.low, one.high)
        worse = high < 0 if outcome in _HIGHER_IS_BETTER else low > 0
        within = -wanted <= low and high <= wanted
        told["beaten" if worse else "close" if within else "open"].append(names[other])
    beaten, close, unsettled = (tuple(told[key]) for key in ("beaten", "close", "open"))
    return Seen(outcome, wanted, differences, names[best], beaten, close, unsettled)


def _differences(
    names: Sequence[str], values: NDArray[np.float64], error: float, pairs: Sequence[tuple[int, int]]
) -> tuple[Difference, ...]:
    if not pairs:
        return ()
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    columns = values[:, first] - values[:, second]
    # a difference that no world has shown yet is taken to be no larger than the range of all that was seen
    low, high = sure_intervals(columns, error, float(np.ptp(values)))
    rows = zip(pairs, columns.mean(axis=0), low, high, strict=True)
    return tuple(Difference(names[a], names[b], float(m), float(lo), float(hi)) for (a, b), m, lo, hi in rows)
