"""The first sentence: what to start with, because of what, and how sure."""

import xarray as xr

from spreadsim.analysis.outcomes import Measure, first_year
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.verdict import Verdict, least_sure, sureness, wins
from spreadsim.analysis.wording import percent

FEW_WORLDS = 20  # below, shares are given as counts
_FIRST_TASKS = 3


def headline(dataset: xr.Dataset, summary: xr.Dataset, verdicts: list[Verdict]) -> str:
    """Say what to start with, why and how sure that is, or that the runs don't tell.

    Parameters
    ----------
    dataset
        What `compare` returned: gives the tasks that a strategy begins with.
    summary
        From `summarise`.
    verdicts
        On seed and on infested area.
    """
    if int(summary.attrs["worlds"]) < 2:
        return "One world only: it shows what may happen, not which strategy is better."
    verdicts = [verdict for verdict in verdicts if not verdict.same]
    clear = [verdict for verdict in verdicts if verdict.clear]
    if not clear:
        return _all_but_nothing(summary, verdicts)
    best = clear[0].best
    on = _left(clear[:1])
    if len(clear) == len(verdicts) and all(verdict.best == best for verdict in clear):
        return f"{_start(dataset, best)}, because that left {_left(clear)}; how sure: {_sure(summary, clear, best)}."
    if len(clear) == 2:
        first, second = clear
        tasks = first_tasks(dataset, best)
        if tasks and tasks == first_tasks(dataset, second.best):
            bests = " and ".join(
                f"{quote(one.best)} on {one.measure.title} ({_sure(summary, [one], one.best)})" for one in clear
            )
            return f"Start with {tasks}, because the strategies that did best begin so; how sure: {bests}."
        other = lower(_start(dataset, second.best))
        return (
            f"{_start(dataset, best)}, if {first.measure.title} counts most (how sure: "
            f"{_sure(summary, [first], best)}); {other}, if {second.measure.title} does ("
            f"{_sure(summary, [second], second.best)}): no strategy did best on both; which counts more is yours."
        )
    (unclear,) = [verdict for verdict in verdicts if not verdict.clear]
    about = f"On {unclear.measure.title} {listed((unclear.best, *unclear.rivals))} cannot be told apart."
    return f"{_start(dataset, best)}, because that left {on}; how sure: {_sure(summary, clear, best)}. {about}"


def _all_but_nothing(summary: xr.Dataset, verdicts: list[Verdict]) -> str:
    """Say which strategies surely did better than no action, where none of them stands out."""
    found = [name for name in _ranked(verdicts[:1]) if all(name in (v.best, *v.rivals) for v in verdicts)]
    if not found or not all(NO_ACTION in verdict.beaten for verdict in verdicts):
        return "Nothing is sure: no strategy stands out from the others in these runs."
    words = [sureness(summary, v.measure.name, name, NO_ACTION) for v in verdicts for name in found]
    on = " and ".join(verdict.measure.title for verdict in verdicts)
    if len(found) == 1:
        return (
            f"Start with {quote(found[0])}, or another that came close: what is sure ({least_sure(words)}) is that "
            f"it did better on {on} than no action; among the others no strategy stands out."
        )
    return (
        f"Start with {' or '.join(quote(name) for name in found)}, because each did better on {on} than no action; how "
        f"sure: {least_sure(words)}. Which of them is best is not sure: these runs cannot tell them apart."
    )


def _ranked(verdicts: list[Verdict]) -> list[str]:
    return [name for verdict in verdicts for name in (verdict.best, *verdict.rivals) if name != NO_ACTION]


def _left(clear: list[Verdict]) -> str:
    return " and ".join(f"the {_least(verdict.measure)} {verdict.measure.title}" for verdict in clear)


def _start(dataset: xr.Dataset, strategy: str) -> str:
    """Say what to start with: the strategy, and the tasks that it begins with."""
    if strategy == NO_ACTION:
        return "Leave it alone rather than do any of this"
    tasks = first_tasks(dataset, strategy)
    return f"Start with {tasks}, as in {quote(strategy)}" if tasks else f"Start with {quote(strategy)}"


def lower(text: str) -> str:
    """Give a sentence as it goes on within another."""
    return text[0].lower() + text[1:]


def _least(measure: Measure) -> str:
    """What the best one has of it: "least", "fewest" or "most"."""
    if measure.better == "higher":
        return "most"
    return "fewest" if measure.kind in ("hosts", "patches") else "least"


def _sure(summary: xr.Dataset, clear: list[Verdict], best: str) -> str:
    """Say how sure a best is: by the other strategy and the measure of which it is least sure."""
    pairs = [(verdict.measure.name, other) for verdict in clear for other in verdict.beaten]
    words = [sureness(summary, name, best, other) for name, other in pairs]
    word = least_sure(words)
    name, nearest = min(
        (pair for pair, its in zip(pairs, words, strict=True) if its == word),
        key=lambda pair: wins(summary, pair[0], best, pair[1])[0],
    )
    better, equal, worse = wins(summary, name, best, nearest)
    title = next(verdict.measure.title for verdict in clear if verdict.measure.name == name)
    against = f"against {quote(nearest)}, which came nearest," if len(pairs) > 1 else f"against {quote(nearest)}"
    on = f" on {title}" if len(clear) > 1 else ""
    return f"{word}, as {against} it did {shares_of(better, equal, worse)}{on}"


def shares_of(better: int, equal: int, worse: int) -> str:
    """Say in which share of the worlds one did better, as well and worse; counts where per cent would flatter."""
    worlds = better + equal + worse

    def share(count: int) -> str:
        return percent(count / worlds) if worlds >= FEW_WORLDS else f"{count} of {worlds}"

    if better == worlds:
        return f"better in all {worlds:,} worlds"
    rest = [f"{word} in {share(count)}" for word, count in (("as well", equal), ("worse", worse)) if count]
    if worse == 0:
        rest.append("worse in none")
    told = " and ".join(rest)
    return f"better in {share(better)} of the worlds{',' if len(rest) > 1 else ' and'} {told}"


def first_tasks(dataset: xr.Dataset, strategy: str) -> str:
    """Say with what the strategy begins: its first tasks, in quotes, that get hours in year 1."""
    if "task_name" not in dataset.coords or strategy == NO_ACTION:
        return ""
    tasks = [str(name) for name in dataset["task_name"].sel(strategy=strategy).values]
    year = first_year(dataset) + 1
    if "hours" in dataset and year in dataset["year"].values:
        first = dataset["hours"].sel(strategy=strategy, year=year).sum(["replicate", "season"]).values
        tasks = [name for name, hours in zip(tasks, first, strict=True) if hours > 0]
    first_ones = [f'"{name}"' for name in tasks if name][:_FIRST_TASKS]
    word = "task" if len(first_ones) == 1 else "tasks"
    return f"the {word} {', then '.join(first_ones)}" if first_ones else ""


def quote(name: str) -> str:
    """Put a name in quotes; no action needs none."""
    return name if name == NO_ACTION else f'"{name}"'


def listed(names: tuple[str, ...]) -> str:
    """Give names as a list in a sentence."""
    quoted = [quote(name) for name in names]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}"
