"""A few plain sentences computed from the runs: what did best, by how much, and how surely."""

import xarray as xr

from spreadsim.analysis.outcomes import Measure, strategy_names
from spreadsim.analysis.summary import NO_ACTION, summarise
from spreadsim.analysis.verdict import Verdict, judge, least_sure, sureness, wins
from spreadsim.analysis.wording import Scale, percent, scale_of, title_of

LIMITS = "It compares strategies under stated assumptions; it does not forecast a place."
_SEED = ("seeds_exported", "fruiting_hosts")
_AREA = "infested_area"
_FEW_WORLDS = 20
_FIRST_TASKS = 3


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
        Which strategy did best on both seed and infested ground, or that none did; one sentence on
        each, with ranges; and what the numbers are worth. Nothing is called better that the runs
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
        told = [_headline(dataset, summary, verdicts)]
        told += [_on_measure(summary, verdict, system) for verdict in verdicts]
    return [sentence for sentence in [*told, _worth(summary)] if sentence]


def _headline(dataset: xr.Dataset, summary: xr.Dataset, verdicts: list[Verdict]) -> str:
    """Say what did best, or that the runs don't tell."""
    if int(summary.attrs["worlds"]) < 2:
        return "One world only: it shows what may happen, not which strategy is better."
    verdicts = [verdict for verdict in verdicts if not verdict.same]
    clear = [verdict for verdict in verdicts if verdict.clear]
    if not clear:
        return "Nothing is sure: no strategy stands out from the others in these runs."
    best = clear[0].best
    first = _first_tasks(dataset, best)
    if len(clear) == len(verdicts) and all(verdict.best == best for verdict in clear):
        words = [sureness(summary, v.measure.name, best, other) for v in clear for other in v.beaten]
        on = " and ".join(verdict.measure.title for verdict in clear)
        return f"{_quote(best)} did best on {on}; how sure: {least_sure(words)}.{first}"
    if len(clear) == 2:
        parts = " and ".join(f"{_quote(verdict.best)} on {verdict.measure.title}" for verdict in clear)
        return f"No strategy did best on both; it was {parts}. Which counts more is yours to say."
    (other,) = [verdict for verdict in verdicts if not verdict.clear]
    about = f"on {other.measure.title} {_list((other.best, *other.rivals))} cannot be told apart"
    return f"{_quote(best)} did best on {clear[0].measure.title}; {about}.{first}"


def _on_measure(summary: xr.Dataset, verdict: Verdict, system: str) -> str:
    """One measure: the best, its range, and its lead over no action and over the next."""
    measure, best = verdict.measure, verdict.best
    scale = scale_of(summary, measure, system)
    title = title_of(measure, int(summary.attrs["year"]))
    if verdict.same:
        return f"{title}: the same under every strategy, {_level(summary, measure, best, scale)}."
    under = "with no action" if best == NO_ACTION else f"under {_quote(best)}"
    text = f"{title}: {_level(summary, measure, best, scale)} {under}"
    others = (*verdict.rivals, *verdict.beaten)
    if best != NO_ACTION and NO_ACTION in others:
        text += f", {_level(summary, measure, NO_ACTION, scale)} with no action"
        text += f": {_gap(summary, measure, best, NO_ACTION, scale, _words(measure)[0])}"
    text += "."
    nearest = next((name for name in others if name != NO_ACTION), None)
    if nearest is not None:
        gap = _gap(summary, measure, best, nearest, scale, _words(measure)[1])
        told = f"{_quote(nearest)} cannot be told from it, with" if nearest in verdict.rivals else ""
        text += f" {told or f'Next is {_quote(nearest)}, with'} {gap}."
    if best == NO_ACTION:
        text += " No strategy did better than no action."
    return text


def _alone(dataset: xr.Dataset, summary: xr.Dataset, verdict: Verdict, system: str) -> str:
    """Say what became of the site under a strategy that has nothing to be compared with."""
    scale = scale_of(summary, verdict.measure, system)
    title = title_of(verdict.measure, int(summary.attrs["year"]))
    (name,) = strategy_names(dataset)
    level = _level(summary, verdict.measure, name, scale)
    return f"{title}, under {_quote(name)}, the only strategy: {level}. There is nothing to compare it with."


def _worth(summary: xr.Dataset) -> str:
    worlds = int(summary.attrs["worlds"])
    count = "one replicate world" if worlds == 1 else f"{worlds:,} replicate worlds"
    few = " So few worlds say little: run some hundred." if worlds < _FEW_WORLDS else ""
    inside = ""
    if worlds > 1:
        share = percent(float(summary.attrs["confidence"]))
        inside = f" In brackets: after a level, where {share} of the worlds lie; after a difference, the {share} "
        inside += "interval of its mean."
    return f"All this comes from {count}.{few}{inside} {LIMITS}"


def _level(summary: xr.Dataset, measure: Measure, strategy: str, scale: Scale) -> str:
    """Mean and range of the worlds: "1.2 ha (0.9 to 1.6)"."""
    row = summary.sel(measure=measure.name, strategy=strategy)
    mean = scale.with_unit(scale.text(float(row["mean"])))
    if int(summary.attrs["worlds"]) < 2:
        return mean
    return f"{mean} ({scale.span(float(row['world_low']), float(row['world_high']))})"


def _gap(summary: xr.Dataset, measure: Measure, best: str, other: str, scale: Scale, word: str) -> str:
    """By how much the best is better, and how surely: "0.4 ha less (0.3 to 0.5), likely (81 % of worlds)"."""
    pair = summary.sel(measure=measure.name, strategy=best, other=other)
    mean, low, high = (float(pair[f"difference{end}"]) for end in ("", "_low", "_high"))
    if measure.better == "lower":
        mean, low, high = -mean, -high, -low
    amount = f"{scale.with_unit(scale.text(mean))} {word}"
    if int(summary.attrs["worlds"]) < 2:
        return amount
    better, equal, worse = wins(summary, measure.name, best, other)
    worlds = better + equal + worse
    if equal == worlds:
        return f"{amount}, the same in every world"
    shares = f"{_share(better, worlds)} worlds"
    if equal:
        shares += f", equal in {percent(equal / worlds) if worlds >= _FEW_WORLDS else equal}"
    return f"{amount} ({scale.span(low, high)}), {sureness(summary, measure.name, best, other)} ({shares})"


def _share(count: int, worlds: int) -> str:
    """Give a share of the worlds; as a count where there are so few that per cent would flatter."""
    return f"{percent(count / worlds)} of" if worlds >= _FEW_WORLDS else f"{count} of {worlds}"


def _words(measure: Measure) -> tuple[str, str]:
    """Say what the better one has of it, and what the worse one has: "less", "more"."""
    if measure.better == "higher":
        return "more", "less"
    return ("fewer" if measure.kind in ("hosts", "patches", "seeds") else "less"), "more"


def _first_tasks(dataset: xr.Dataset, strategy: str) -> str:
    """Say with what the strategy begins: its first tasks that get hours in the first year."""
    if "task_name" not in dataset.coords or strategy == NO_ACTION:
        return ""
    tasks = [str(name) for name in dataset["task_name"].sel(strategy=strategy).values]
    if "hours" in dataset and 1 in dataset["year"].values:
        first = dataset["hours"].sel(strategy=strategy, year=1).sum(["replicate", "season"]).values
        tasks = [name for name, hours in zip(tasks, first, strict=True) if hours > 0]
    begin = ", then ".join([name for name in tasks if name][:_FIRST_TASKS])
    return f" It begins with: {begin}." if begin else ""


def _quote(name: str) -> str:
    return name if name == NO_ACTION else f'"{name}"'


def _list(names: tuple[str, ...]) -> str:
    quoted = [_quote(name) for name in names]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"


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
