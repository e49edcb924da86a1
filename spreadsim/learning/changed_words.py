"""What changed against last year's plan, in sentences; nothing that chance may have made is called a change."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import xarray as xr

from spreadsim.analysis.headline import first_tasks, lower, quote
from spreadsim.analysis.sentences import sentences
from spreadsim.analysis.summary import summarise
from spreadsim.analysis.verdict import Verdict, judge
from spreadsim.analysis.wording import Scale
from spreadsim.learning.words import moved_rows

_TITLES = {
    "infested_area": ("infested area", "area", "end of year {year}"),
    "fruiting_hosts": ("fruiting hosts", "hosts", "end of year {year}"),
    "seeds_exported": ("seed leaving the site", "seeds", "years {first} to {year}"),
}
_CAUSES = {
    "work": "the work that was done in place of all of {strategy}",
    "worlds": "what the survey says of the vine and of how much there is",
    "places": "where it was found and where not",
}
_FIRST = ("seeds_exported", "infested_area")
_MOST_MOVED = 4


def plan_sentences(before: xr.Dataset, outcomes: xr.Dataset) -> Iterator[str]:
    """Say what last year's comparison began with, and whether this year's begins otherwise.

    Parameters
    ----------
    before, outcomes
        Last year's comparison and this year's, of which the first sentence is told by `analysis.sentences`.
    """
    old, verdict = verdict_of(before).best, verdict_of(outcomes)
    new = verdict.best
    if old in verdict.rivals:
        yield (
            f"In last year's worlds {quote(old)} came out best on average, in this year's {quote(new)} does; but this "
            f"year's can't tell the two apart on {verdict.measure.title}, so that it is no reason to change."
        )
    elif old != new:
        yield (
            f"The answer has changed: in last year's worlds {quote(old)} came out best on average, in this year's "
            f"{quote(new)} does."
        )
    elif first_tasks(before, old) != first_tasks(outcomes, new):
        tasks = first_tasks(outcomes, new) or "none of its tasks"
        yield (
            f"The strategy that comes out best on average is that of last year, {quote(old)}, but it goes on with "
            f"{tasks}, where it began with {first_tasks(before, old) or 'none of its tasks'}."
        )
    else:
        yield (
            f"The strategy that comes out best on average is that of last year, {quote(old)}, and its first tasks are "
            "the same."
        )
    yield f"Last year's answer was: {lower(sentences(before)[0])}"


def verdict_of(outcomes: xr.Dataset) -> Verdict:
    """Give what least seed leaving the site says, or least infested ground where all strategies are alike in that."""
    summary = summarise(outcomes)
    verdicts = [judge(summary, name) for name in _FIRST if name in summary["measure"].to_numpy()]
    return next((verdict for verdict in verdicts if not verdict.same), verdicts[-1])


def changed_sentences(found: xr.Dataset, learned: xr.Dataset, *, system: str = "metric") -> Iterator[str]:
    """Say what is expected now and was last year, and what of the change comes from where.

    Parameters
    ----------
    found
        From `changed`.
    learned
        From `learn`: parameters that moved.
    system
        Units to show, "metric" or "us".
    """
    told = [_measure(found.sel(measure=name), found.attrs, system) for name in found["measure"].to_numpy().tolist()]
    for whole in (True, False):
        yield from (text for text, changes in told if changes is whole)
    if any(changes for _, changes in told):
        yield (
            "Parts of a change are averages over which of work and survey is put first; the places come last, since "
            "they are known of the worlds that explain the survey alone. In brackets: after a level, where 90 % of the "
            "worlds lie; after a difference, the 90 % interval of its mean."
        )
    moved = moved_rows(learned)[:_MOST_MOVED]
    if moved:
        some = "; ".join(f"{name} {before} before, {after} now" for name, before, after in moved)
        yield f"What the survey moved most, 90 % ranges: {some}."


def _measure(row: xr.Dataset, about: Any, system: str) -> tuple[str, bool]:
    """Give the sentence of one measure, and whether it says that something changed."""
    title, kind, when = _TITLES[str(row["measure"].item())]
    names = ("then", "then_low", "then_high", "now", "now_low", "now_high")
    levels = [float(row[name]) for name in names]
    scale = Scale([*levels, float(row["change"])], kind, system, levels=levels[::3] if kind == "area" else ())
    span = when.format(year=about["year"], first=about["years"] + 1)
    head = (
        f"{title[0].upper()}{title[1:]}, {span}, under {quote(about['strategy'])}: "
        f"{_level(scale, levels[3:])} expected now, {_level(scale, levels[:3])} last year"
    )
    change = [float(row[f"change{end}"]) for end in ("", "_low", "_high")]
    if not _told(change):
        low, high = (scale.text(value, sign=True) for value in change[1:])
        return f"{head}: no change that can be told from none ({low} to {scale.with_unit(high)}).", False
    parts = {name: [float(row[f"part{end}"].sel(cause=name)) for end in ("", "_low", "_high")] for name in _CAUSES}
    known = [
        f"{_signed(scale, value)} comes from {_CAUSES[name].format(strategy=quote(about['strategy']))}"
        for name, value in parts.items()
        if _told(value)
    ]
    text = f"{head}: {_signed(scale, change)}."
    if known:
        text += f" Of this, {_listed(known)}."
    rest = [
        _CAUSES[name].format(strategy=quote(about["strategy"]))
        for name, value in parts.items()
        if any(value) and not _told(value)
    ]
    if rest:
        text += f" {'What comes' if known else 'What of it comes'} from {_listed(rest)} can't be told from none."
    return text, True


def _told(value: list[float]) -> bool:
    return value[1] > 0.0 or value[2] < 0.0


def _level(scale: Scale, values: list[float]) -> str:
    return f"{scale.with_unit(scale.text(values[0]))} ({scale.span(values[1], values[2])})"


def _signed(scale: Scale, value: list[float]) -> str:
    """Give an amount that is more or less: "0.4 ha more (0.3 to 0.5)"."""
    ends = (value[1], value[2]) if value[0] > 0 else (-value[2], -value[1])
    return f"{scale.with_unit(scale.text(abs(value[0])))} {'more' if value[0] > 0 else 'less'} ({scale.span(*ends)})"


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def changed_rows(found: xr.Dataset) -> list[tuple[Any, ...]]:
    """Give a table, headings first: a row for each measure and part of its change, in m2, hosts and seeds."""
    rows: list[tuple[Any, ...]] = [("measure", "unit", "strategy", "what", "mean", "low", "high")]
    for name, unit in zip(found["measure"].to_numpy().tolist(), found["unit"].to_numpy().tolist(), strict=True):
        one, head = found.sel(measure=name), [name, unit, found.attrs["strategy"]]
        for what in ("then", "now", "change"):
            rows.append((*head, what, *(float(one[f"{what}{end}"]) for end in ("", "_low", "_high"))))
        for cause in found["cause"].to_numpy().tolist():
            ends = (float(one[f"part{end}"].sel(cause=cause)) for end in ("", "_low", "_high"))
            rows.append((*head, f"of the change, by {cause}", *ends))
    return rows
