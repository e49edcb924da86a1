"""How a score is told: as the outcome that it is, of which more may be better."""

import numpy as np

from spreadsim.analysis.goals import NET_PRESENT_COST, Goals
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import Scale
from spreadsim.planning.questions.cases import Floats
from spreadsim.planning.questions.paired import Paired, headed, more_words

_BY_NAME = {measure.name: measure for measure in MEASURES}


class Judged:
    """Words and numbers of scores.

    Parameters
    ----------
    goals
        What the scores are made of: weights, or an order of which the first counts.
    values
        All scores that are told together.
    system, currency
        Units, "metric" or "us"; name of the money.

    Attributes
    ----------
    title : str
        Of the outcome.
    best, avoided : str
        "the least" and "avoided", or where more is better "the most" and "gained".
    scale : Scale
        Of the numbers.
    """

    def __init__(self, goals: Goals, values: Floats, system: str, currency: str) -> None:
        measure = None if goals.weights else _BY_NAME.get(goals.order[0])
        self.title = score_title(goals)
        higher = measure is not None and measure.better == "higher"
        self._sign = -1.0 if higher else 1.0
        self.best, self.avoided = ("the most", "gained") if higher else ("the least", "avoided")
        kind = "points" if measure is None else measure.kind
        levels = np.ravel(values) if kind in ("area", "share") else ()
        self.scale = Scale(np.ravel(values), kind, system, currency, levels)

    @property
    def heading(self) -> str:
        """Of a column."""
        return headed(self.title, self.scale)

    def text(self, score: float, *, sign: bool = False) -> str:
        """Give a score, or a difference of two, as a number of the outcome."""
        return self.scale.text(self._sign * score, sign=sign)

    def more(self, difference: Paired, confidence: float, than: str = "") -> str:
        """Say how much more or less and how surely."""
        return more_words(difference if self._sign > 0 else difference.flipped, self.scale, confidence, than)

    def amount(self, difference: Paired) -> str:
        """Say how much more or less alone."""
        mean = self._sign * difference.mean
        return f"{self.scale.with_unit(self.scale.text(abs(mean)))} {'more' if mean > 0 else 'less'}"


def score_title(goals: Goals) -> str:
    """Name what a score is made of."""
    if goals.weights:
        return "weighted score"
    name = goals.order[0]
    return "net present cost" if name == NET_PRESENT_COST else _BY_NAME[name].title
