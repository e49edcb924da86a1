"""A few plain sentences computed from the runs: what did best, by how much, and how surely."""

import xarray as xr

from spreadsim.analysis.headline import FEW_WORLDS, headline, quote, shares_of
from spreadsim.analysis.outcomes import Measure, strategy_names
from spreadsim.analysis.summary import NO_ACTION, summarise
from spreadsim.analysis.verdict import Verdict, judge, sureness, wins
from spreadsim.analysis.wording import Scale, percent, scale_of, title_in

LIMITS = "It compares strategies under stated assumptions; it does not forecast a place."
_SEED = ("seeds_exported", "fruiting_hosts")
_AREA = "infested_area"


def sentences(dataset: xr.Dataset, *, summary: xr.Dataset | None = None, system: str = "metric") -> list[str]:
    """Say what a comparison found, for people who want the answer before the tables.

    Parameters
    ----------
    dataset
        What `compare` returned.
    summary
        From `summarise`; made of the dataset at its last year if not given.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    list of str
        What to start with, why and how sure that is, or that nothing is sure; one sentence on seed and one on
        infested ground, with ranges; and what the numbers are worth. Nothing is called better that the runs
        do not show.
    """
    summary = summarise(dataset) if summary is None else summary
    present = [str(name) for name in summary["measure"].values]
    seed = next((name for name in _SEED if name in present), None)
    names = [name for name in (seed, _AREA) if name in present and name is not None]
    verdicts = [judge(summary, name) for name in names]
    if len(strategy_names(dataset)) < 2:
        told = [_alone(dataset, summary, verdict, system) for verdict in verdicts]
    else:
        told = [headline(dataset, summary, verdicts)]
        told += [_on_measure(summary, verdict, system) for verdict in verdicts]
    return [sentence for sentence in [*told, _worth(summary)] if sentence]


def _on_measure(summary: xr.Dataset, verdict: Verdict, system: str) -> str:
    """One measure: the best, its range, and its lead over no action and over the next."""
    measure, best = verdict.measure, verdict.best
    scale = scale_of(summary, measure, system)
    title = title_in(summary, measure)
    if verdict.same:
        return f"{title}: the same under every strategy, {level(summary, measure, best, scale)}."
    under = "with no action" if best == NO_ACTION else f"under {quote(best)}"
    text = f"{title}: {level(summary, measure, best, scale)} {under}"
    others = (*verdict.rivals, *verdict.beaten)
    if best != NO_ACTION and NO_ACTION in others:
        text += f", {level(summary, measure, NO_ACTION, scale)} with no action"
        text += f": {_gap(summary, measure, best, NO_ACTION, scale, _words(measure)[0])}"
    text += "."
    nearest = next((name for name in others if name != NO_ACTION), None)
    if nearest is not None:
        lead = _gap(summary, measure, best, nearest, scale, _words(measure)[1])
        told = f"{quote(nearest)} cannot be told from it, with" if nearest in verdict.rivals else ""
        text += f" {told or f'Next is {quote(nearest)}, with'} {lead}."
    if best == NO_ACTION:
        text += " No strategy did better than no action."
    return text


def _alone(dataset: xr.Dataset, summary: xr.Dataset, verdict: Verdict, system: str) -> str:
    """Say what became of the site under a strategy that has nothing to be compared with."""
    scale = scale_of(summary, verdict.measure, system)
    title = title_in(summary, verdict.measure)
    (name,) = strategy_names(dataset)
    ended = level(summary, verdict.measure, name, scale)
    return f"{title}, under {quote(name)}, the only strategy: {ended}. There is nothing to compare it with."


def _worth(summary: xr.Dataset) -> str:
    worlds = int(summary.attrs["worlds"])
    count = "one replicate world" if worlds == 1 else f"{worlds:,} replicate worlds"
    few = " So few worlds say little: run some hundred." if worlds < FEW_WORLDS else ""
    inside = ""
    if worlds > 1:
        share = percent(float(summary.attrs["confidence"]))
        inside = f" In brackets: after a level, where {share} of the worlds lie; after a difference, the {share} "
        inside += "interval of its mean."
    begin = int(summary.attrs.get("first", 0))
    years = "one year" if begin == 1 else f"{begin} years"
    later = f" They begin from a learned state, {years} after the site was mapped." if begin else ""
    return f"All this comes from {count}.{later}{few}{inside} {LIMITS}"


def level(summary: xr.Dataset, measure: Measure, strategy: str, scale: Scale) -> str:
    """Mean and range of the worlds: "1.2 ha (0.9 to 1.6)"."""
    row = summary.sel(measure=measure.name, strategy=strategy)
    mean = scale.with_unit(scale.text(float(row["mean"])))
    if int(summary.attrs["worlds"]) < 2:
        return mean
    return f"{mean} ({scale.span(float(row['world_low']), float(row['world_high']))})"


def _gap(summary: xr.Dataset, measure: Measure, best: str, other: str, scale: Scale, word: str) -> str:
    """By how much the best is better, and how surely: "0.4 ha less (0.3 to 0.5), likely: better in 81 %..."."""
    pair = summary.sel(measure=measure.name, strategy=best, other=other)
    mean, low, high = (float(pair[f"difference{end}"]) for end in ("", "_low", "_high"))
    if measure.better == "lower":
        mean, low, high = -mean, -high, -low
    amount = f"{scale.with_unit(scale.text(mean))} {word}"
    if int(summary.attrs["worlds"]) < 2:
        return amount
    better, equal, worse = wins(summary, measure.name, best, other)
    if better + worse == 0:
        return f"{amount}, the same in every world"
    word = sureness(summary, measure.name, best, other)
    return f"{amount} ({scale.span(low, high)}), {word}: {shares_of(better, equal, worse)}"


def _words(measure: Measure) -> tuple[str, str]:
    """Say what the better one has of it, and what the worse one has: "less", "more"."""
    if measure.better == "higher":
        return "more", "less"
    return ("fewer" if measure.kind in ("hosts", "patches", "seeds") else "less"), "more"


def trust(dataset: xr.Dataset) -> str:
    """Say on what the drawn parameters rest; empty if the dataset holds none.

    A parameter counts as resting on assumption where its `confidence` is A (assumed), M (from
    memory) or P (taken from another species or place).
    """
    marks = [str(variable.attrs.get("confidence", "")) for variable in dataset.data_vars.values()]
    drawn = [mark for mark in marks if mark]
    if not drawn:
        return ""
    weak = sum(mark in "AMP" for mark in drawn)
    return f"{weak} of {len(drawn)} drawn parameters are assumed, from memory or from other species or places."
