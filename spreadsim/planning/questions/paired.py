"""Differences of two cases world by world, shares of a gain, and their words."""

from dataclasses import dataclass

import numpy as np

from spreadsim.analysis.intervals import mean_interval, share_interval
from spreadsim.analysis.wording import Scale, percent, surety
from spreadsim.planning.questions.cases import Floats


@dataclass(frozen=True)
class Paired:
    """Difference of two cases, first less second, over the same worlds; less is better."""

    mean: float
    low: float
    high: float
    better: int
    worse: int
    worlds: int

    @property
    def told(self) -> bool:
        """Whether the two can be told apart, as in `verdict.judge`: by the mean and by most worlds that differ."""
        wins = self.worse if self.low > 0 else self.better if self.high < 0 else 0
        return wins > 0 and share_interval(wins, self.better + self.worse, 0.9)[0] > 0.5

    @property
    def flipped(self) -> "Paired":
        """The same of the numbers with the other sign."""
        return Paired(-self.mean, -self.high, -self.low, self.worse, self.better, self.worlds)

    @property
    def same(self) -> bool:
        """Whether they are the same in every world."""
        return self.better + self.worse == 0


def paired(first: Floats, second: Floats, confidence: float, seed: int) -> Paired:
    """Compare two cases, (replicate,) each."""
    difference = first - second
    low, high = mean_interval(difference, confidence, seed)
    better, worse = int((difference < 0).sum()), int((difference > 0).sum())
    return Paired(float(difference.mean()), float(low[0]), float(high[0]), better, worse, difference.size)


def ratio(part: Floats, whole: Floats, confidence: float, seed: int) -> tuple[float, float, float]:
    """Give the ratio of two means with its interval; missing where the whole is not above 0 beyond chance.

    The interval is that of the mean of (part - ratio x whole) / mean whole, the ratio's value in each world to first
    order (the delta method; Cochran 1977, Sampling Techniques, chapter 6, from memory).
    """
    if not mean_interval(whole, confidence, seed)[0][0] > 0:
        return np.nan, np.nan, np.nan
    middle = float(part.mean() / whole.mean())
    low, high = mean_interval((part - middle * whole) / whole.mean(), confidence, seed)
    return middle, middle + float(low[0]), middle + float(high[0])


def more_words(difference: Paired, scale: Scale, confidence: float, than: str = "", less: str = "less") -> str:
    """Say how much more or less and how surely: "0.4 ha more (0.3 to 0.5), very likely: more in 92 % of worlds"."""
    if difference.same:
        return f"the same in every world{' as' if than else ''}{than.removeprefix(' than')}"
    more = difference.mean > 0
    ends = (difference.low, difference.high) if more else (-difference.high, -difference.low)
    wins = difference.worse if more else difference.better
    word = "more" if more else less
    amount = f"{scale.with_unit(scale.text(abs(difference.mean)))} {word}"
    share = f"{word} in {percent(wins / difference.worlds)} of worlds"
    if difference.told:
        return f"{amount}{than} ({scale.span(*ends)}), {surety(wins, difference.better + difference.worse)}: {share}"
    if difference.low > 0 or difference.high < 0:
        only = percent(wins / difference.worlds)
        return (
            f"{amount} on average{than} ({scale.span(*ends)}), but {word} in {only} of worlds only: few make the mean"
        )
    text = f"{amount} on average{than} ({scale.span(*ends)}), which at {percent(confidence)} can't be told from none"
    return f"{text}: {share}"


def areas(values: Floats | list[float], system: str) -> Scale:
    """Give the scale for areas."""
    return Scale(np.ravel(values), "area", system, levels=np.ravel(values))


def hosts(values: Floats | list[float]) -> Scale:
    """Give the scale for means of numbers of hosts, without a unit."""
    return Scale(np.ravel(values), "count")


def headed(title: str, scale: Scale) -> str:
    """Give the heading of a column: its title, and the unit where the title doesn't say it."""
    unit = scale.unit.removesuffix("seeds").removesuffix("hosts").removesuffix("patches").strip()
    return f"{title}, {unit}" if unit else title
