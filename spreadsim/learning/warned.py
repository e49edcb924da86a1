"""Warnings that go with what was learned: worlds that explain nothing, and too few worlds that count."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from spreadsim.learning.findings import Statistic
from spreadsim.learning.fit import SURPRISING, Fit
from spreadsim.learning.weights import RELIABLE, Weights


def warnings_of(statistics: Sequence[Statistic], weights: Weights, fit: Fit) -> Iterator[str]:
    """Give what must be said before anything that was learned is believed."""
    if not statistics:
        yield "The survey says nothing that can be weighed, so nothing was learned."
        return
    unexplained = [one for one, lost in zip(statistics, fit.unexplained, strict=True) if lost]
    for one in unexplained:
        yield (
            f"The worlds do not explain what was found of {one.name} ({one.observed:,.0f}), not even those that fit "
            "best. The model, the map or the survey is wrong there; what was learned is not to be relied on."
        )
    for one, hardly, lost in zip(statistics, fit.surprising, fit.unexplained, strict=True):
        if hardly and not lost:
            yield (
                f"Before the survey hardly any world led to expect what was found of {one.name} "
                f"({one.observed:,.0f}): the ranges that it was drawn from may be wrong."
            )
    if fit.overall < SURPRISING and not unexplained:
        yield (
            "The worlds explain each finding alone, but not all together: of surveys invented in them "
            f"{_share(fit.overall)} are as unlikely as the real one. What was learned is not to be relied on."
        )
    yield from _on_weights(weights)


def _on_weights(weights: Weights) -> Iterator[str]:
    n = len(weights.values)
    if weights.tempered:
        more = n * weights.effective / max(weights.full_effective, 1.0)
        yield (
            f"Few worlds fit the survey: taken in full, it would leave {weights.full_effective:,.1f} of {n:,} that "
            f"count. It is taken at {weights.power:.2g} of its weight, so that {weights.effective:,.0f} count: ranges "
            f"are wider than the survey allows, not narrower. Some {_rounded(more)} worlds would do without."
        )
    elif weights.pareto_k > RELIABLE:
        yield (
            f"A few worlds hold much of the weight (Pareto k {weights.pareto_k:.2f}, reliable up to {RELIABLE:g}): "
            "ranges may change with more worlds."
        )


def _rounded(value: float) -> str:
    digits = max(len(str(int(value))) - 2, 0)
    return f"{int(-(-value // 10**digits) * 10**digits):,}"


def _share(value: float) -> str:
    return "none" if value == 0 else f"{value:.1%}".replace("%", " %")
