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
class Seen:
    """What a look saw of one outcome.

    Attributes
    ----------
    outcome : str
        Its name.
    wanted : float
        Half-width to reach, in the outcome's unit.
    widest : float
        The half-width of the least known difference between two strategies: the further end of its interval.
    least_known : tuple of str
        These two.
    best : str
        The strategy with the best mean.
    beaten, close : tuple of str
        Others that are surely worse than the best, and others that are surely within the half-width of it.
    open : tuple of str
        Others that are neither.
    """

    outcome: str
    wanted: float
    widest: float
    least_known: tuple[str, str]
    best: str
    beaten: tuple[str, ...]
    close: tuple[str, ...]
    open: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether all differences are known to the half-width."""
        return self.widest <= self.wanted

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
    order = np.argsort(-means if outcome in _HIGHER_IS_BETTER else means, kind="stable")
    best = int(order[0])
    if not pairs:
        return Seen(outcome, wanted, 0.0, (names[0], names[0]), names[best], (), (), ())
    first, second = (np.array(side) for side in zip(*pairs, strict=True))
    differences = values[:, first] - values[:, second]
    # a difference that no world has shown yet is taken to be no larger than the range of all that was seen
    low, high = sure_intervals(differences, error, float(np.ptp(values)))
    middle = differences.mean(axis=0)
    reach = np.maximum(high - middle, middle - low)
    widest = int(np.argmax(reach))
    told: dict[str, list[str]] = {"beaten": [], "close": [], "open": []}
    for other in order[1:]:
        a, b = sorted((best, int(other)))
        k = pairs.index((a, b))
        # by how much the other lies above the best
        ends = (low[k], high[k]) if int(other) == a else (-high[k], -low[k])
        worse = ends[1] < 0 if outcome in _HIGHER_IS_BETTER else ends[0] > 0
        within = -wanted <= ends[0] and ends[1] <= wanted
        told["beaten" if worse else "close" if within else "open"].append(names[int(other)])
    return Seen(
        outcome,
        wanted,
        float(reach[widest]),
        (names[first[widest]], names[second[widest]]),
        names[best],
        *(tuple(told[key]) for key in ("beaten", "close", "open")),
    )
