"""Which strategy did best by one measure, and whether the others can be told from it."""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from spreadsim.analysis.intervals import share_interval
from spreadsim.analysis.outcomes import MEASURES, Measure
from spreadsim.analysis.wording import surety

_BY_NAME = {measure.name: measure for measure in MEASURES}
_SURE_WORDS = ("almost certain", "very likely", "likely", "more likely than not", "not sure")


@dataclass(frozen=True)
class Verdict:
    """What one measure says of the strategies.

    Attributes
    ----------
    measure : Measure
        The measure.
    best : str
        The strategy with the best mean; the first in the dataset where several share it.
    rivals : tuple of str
        Others that cannot be told from the best, in order of their means.
    beaten : tuple of str
        Others that are surely enough worse, in order of their means.
    same : bool
        Whether all strategies are equal in every world.
    """

    measure: Measure
    best: str
    rivals: tuple[str, ...]
    beaten: tuple[str, ...]
    same: bool

    @property
    def clear(self) -> bool:
        """Whether one strategy stands out."""
        return bool(self.beaten) and not self.rivals


def judge(summary: xr.Dataset, name: str) -> Verdict:
    """Find the best strategy by a measure of the summary.

    Another strategy is beaten if the interval of the mean difference lies on one side of zero and,
    among the worlds in which the two differ, the best is better in more than half of them by the
    lower end of Wilson's 90 % interval. All else counts as a rival: it cannot be told apart.

    Parameters
    ----------
    summary
        From `summary.summarise`.
    name
        A measure of it.
    """
    measure = _BY_NAME[name]
    rows = summary.sel(measure=name)
    names = [str(strategy) for strategy in rows["strategy"].values]
    means = rows["mean"].to_numpy()
    order = np.argsort(means if measure.better == "lower" else -means, kind="stable")
    ranked = [names[place] for place in order]
    beaten = tuple(other for other in ranked[1:] if _is_beaten(summary, measure, ranked[0], other))
    rivals = tuple(other for other in ranked[1:] if other not in beaten)
    return Verdict(measure, ranked[0], rivals, beaten, bool((rows["equal"] == 1).all()))


def wins(summary: xr.Dataset, name: str, strategy: str, other: str) -> tuple[int, int, int]:
    """Give the numbers of worlds in which the strategy is better than, equal to and worse than the other."""
    pair = summary.sel(measure=name, strategy=strategy, other=other)
    worlds = int(summary.attrs["worlds"])
    better, equal = (round(float(pair[share]) * worlds) for share in ("better", "equal"))
    return better, equal, worlds - better - equal


def sureness(summary: xr.Dataset, name: str, strategy: str, other: str) -> str:
    """Say in a word how surely the strategy is better than the other, where the two differ."""
    better, _, worse = wins(summary, name, strategy, other)
    return surety(better, better + worse)


def least_sure(words: list[str]) -> str:
    """Give the least confident of some of the words of `surety`."""
    return max(words, key=_SURE_WORDS.index)


def _is_beaten(summary: xr.Dataset, measure: Measure, best: str, other: str) -> bool:
    pair = summary.sel(measure=measure.name, strategy=best, other=other)
    low, high = float(pair["difference_low"]), float(pair["difference_high"])
    apart = high < 0 if measure.better == "lower" else low > 0
    better, _, worse = wins(summary, measure.name, best, other)
    return apart and share_interval(better, better + worse, 0.9)[0] > 0.5
