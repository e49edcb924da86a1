"""The answer for a board: what to do first, why, and how sure; each sentence only where the runs bear it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spreadsim.analysis.headline import first_tasks, quote, shares_of
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.sentences import LIMITS, level, trust
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.verdict import judge, wins
from spreadsim.analysis.wording import percent, scale_of, surety, title_in
from spreadsim.views.brief.facts import FEW_WORLDS, Amounts, Facts, shorten

_TOLD = ("seeds_exported", "fruiting_hosts", "infested_area")
_MOST_NAMED = 3
_FIRST_TASKS = 3
_LONGEST = 50  # letters of a name on page one


@dataclass(frozen=True)
class Answer:
    """What page one says first.

    Attributes
    ----------
    first : str
        What to do first, or that the runs don't tell.
    begin : list of str
        The first tasks of what is recommended, with their hours in the first year.
    why : list of str
        What that left, against no action.
    sure : list of str
        How sure that is, and what it rests on.
    """

    first: str
    begin: list[str]
    why: list[str]
    sure: list[str]


def answer(facts: Facts) -> Answer:
    """Say what to do first, why, and how sure; nothing is recommended that the runs don't show."""
    limits = LIMITS.replace("It compares", "The simulation compares", 1)
    resting = [f"{limits} {trust(facts.dataset)}".strip()]
    if facts.worlds < FEW_WORLDS:
        resting.insert(0, f"Only {facts.worlds} replicate world{'s' * (facts.worlds > 1)}: run some hundred.")
    if len(facts.names) < 2:
        told = f"Only {quote(facts.names[0])} was run: there is nothing to compare it with, so nothing to recommend."
        return Answer(told, [], _levels(facts), resting)
    if facts.worlds < 2:
        told = "One world only: it shows what may happen, not which strategy is better."
        return Answer(told, [], _levels(facts), resting)
    return Answer(_first(facts), _begin(facts), _why(facts), [*_sure(facts), *resting])


def _first(facts: Facts) -> str:
    choice, undecided = facts.decision.choice, facts.undecided
    start = "Leave it alone rather than do any of this" if choice == NO_ACTION else f"Start with {_name(choice)}"
    if facts.decision.reason == "breaks limits least":
        return f"No option keeps the limits; the one that breaks its worst limit least often is {_name(choice)}."
    if facts.nothing_sure:
        others = _named([name for name in (choice, *undecided) if name != NO_ACTION])
        return (
            "Nothing is sure: by what decides, no option stands out from leaving it alone in these runs "
            f"({others} cannot be told from it)."
        )
    if not undecided:
        return f"{start}."
    same = first_tasks(facts.dataset, choice)
    if same and all(first_tasks(facts.dataset, name) == same for name in undecided):
        return f"{start}, or {_named(undecided)}: they begin alike, and these runs cannot tell which is better."
    return f"{start}, or {_named(undecided)}: these runs cannot tell which of them is better."


def _begin(facts: Facts) -> list[str]:
    """The first tasks of what is recommended that get hours in the first year; none where nothing is sure."""
    if facts.chosen is None or "hours" not in facts.dataset:
        return []
    year = facts.first + 1
    if year not in facts.dataset["year"].values:
        return []
    hours = facts.dataset["hours"].sel(strategy=facts.chosen.name, year=year).sum("season")
    table = np.nan_to_num(hours.transpose("task", "replicate").to_numpy())
    told: list[str] = []
    working = int((table.sum(axis=1) > 0).sum())
    for task, row in zip(facts.chosen.tasks, table, strict=False):
        if row.sum() > 0 and len(told) < _FIRST_TASKS:
            title = facts.experiment.treatment(task.treatment).title
            how = "" if task.label.lower() == title.lower() else f": {title[0].lower()}{title[1:]}"
            low, high = np.quantile(row, [0.05, 0.95])
            told.append(
                f"{shorten(task.label)}{how}; {row.mean():.0f} h on average ({low:.0f} to {high:.0f}) in year {year}"
            )
    if working > len(told):
        told[-1] += f". With all {working} tasks, year {year} takes {table.sum(axis=0).mean():.0f} h"
    return told


def _why(facts: Facts) -> list[str]:
    choice = facts.decision.choice
    if facts.nothing_sure:
        return _levels(facts)
    amounts = Amounts(facts)
    told: list[str] = []
    reason = facts.decision.reason
    if reason == "only one within the limits":
        told.append(f"Because it alone keeps the limits: {_limits(facts)}.")
    elif reason in ("best", "best within the limits"):
        most = "most" if amounts.better_higher else "least"
        among = "of the options that keep the limits " if reason == "best within the limits" else ""
        of = ""
        if facts.decision.goals.weights:
            by_name = {measure.name: measure.title for measure in MEASURES}
            titles = [by_name.get(name, name.replace("_", " ")) for name in facts.decision.goals.weights]
            of = f" (of {_and(titles)}, weighed by the goals given)"
        told.append(f"Because {among}it has the {most} {amounts.title}{of}, on average over {facts.worlds:,} worlds.")
    if choice == NO_ACTION or NO_ACTION not in facts.names:
        return told + _levels(facts)
    return told + [_against_nothing(facts, name) for name in _TOLD if facts.names_of(name)]


def _against_nothing(facts: Facts, name: str) -> str:
    """One outcome under the choice and with no action, and how surely they differ."""
    summary, choice = facts.summary, facts.decision.choice
    measure = next(one for one in MEASURES if one.name == name)
    scale = scale_of(summary, measure, facts.system)
    text = f"{title_in(summary, measure)}: {level(summary, measure, choice, scale)}; "
    text += f"with no action {level(summary, measure, NO_ACTION, scale)}"
    better, equal, worse = wins(summary, name, choice, NO_ACTION)
    if not better and not worse:
        return f"{text}. The same in every world."
    word = surety(better, better + worse)
    if better <= worse or word == "not sure":
        return f"{text}. Not surely better than leaving it alone: {shares_of(better, equal, worse)}."
    return f"{text}. {word[0].upper()}{word[1:]}: {shares_of(better, equal, worse)}."


def _levels(facts: Facts) -> list[str]:
    """What was left under each of the foremost, where nothing is recommended."""
    told = []
    for name in _TOLD:
        if not facts.names_of(name):
            continue
        measure = next(one for one in MEASURES if one.name == name)
        scale = scale_of(facts.summary, measure, facts.system)
        shown = facts.ranked[:2] + [one for one in facts.ranked[2:] if one == NO_ACTION]
        levels = [f"{level(facts.summary, measure, one, scale)} under {_name(one)}" for one in shown]
        told.append(f"{title_in(facts.summary, measure)}: {'; '.join(levels)}.")
    return told


def _sure(facts: Facts) -> list[str]:
    """How surely the choice is better than the next, and what else would be chosen."""
    decision, amounts = facts.decision, Amounts(facts)
    if decision.reason in ("only one within the limits", "breaks limits least"):
        return [f"How often limits are broken decides: {_limits(facts)}. Next is {_name(decision.next)}."]
    score = decision.scored["score"]
    mine, other = score.sel(strategy=decision.choice).to_numpy(), score.sel(strategy=decision.next).to_numpy()
    wins, losses = int((mine < other).sum()), int((mine > other).sum())
    if wins + losses == 0:
        return [f"{_name(decision.next)} did the same in every world: choose by what is not counted here."]
    row = decision.options.sel(strategy=decision.next)
    word = surety(wins, wins + losses)
    told = (
        f"{'Not sure' if decision.next in facts.undecided else word[0].upper() + word[1:]}: against "
        f"{_name(decision.next)}, the next best on {amounts.title}, it did "
        f"{shares_of(wins, facts.worlds - wins - losses, losses)}, by "
        f"{amounts.text(float(row['ahead']))} on average "
        f"({percent(float(decision.options.attrs['confidence']))} interval "
        f"{amounts.span(float(row['ahead_low']), float(row['ahead_high']))})."
    )
    if decision.next in facts.undecided:
        told += " An interval that reaches 0 means that the two cannot be told apart: run more worlds, or choose by "
        told += "what is not counted here."
    return [told, _best(facts), *_other_yardsticks(facts)]


def _best(facts: Facts) -> str:
    """In how many worlds the choice was the best of all that it was chosen among."""
    row = facts.decision.options.sel(strategy=facts.decision.choice)
    low, high = 100 * float(row["best_low"]), 100 * float(row["best_high"])
    return f"It was the best of all in {percent(float(row['best']))} of worlds ({low:.0f} to {high:.0f} %)."


def _other_yardsticks(facts: Facts) -> list[str]:
    """Say whether another strategy stands out once something else counts."""
    choice = facts.decision.choice
    agree: list[str] = []
    others: dict[str, list[str]] = {}
    for name in (*_TOLD, "native_cover"):
        if not facts.names_of(name):
            continue
        verdict = judge(facts.summary, name)
        if verdict.best == choice and verdict.clear:
            agree.append(verdict.measure.title)
        elif verdict.best != choice and choice in verdict.beaten and not verdict.same:
            others.setdefault(verdict.best, []).append(verdict.measure.title)
    told = [f"It stands out from all others on {_and(agree)}."] if agree else []
    told += [f"Where {' or '.join(titles)} counts most, {_name(best)} did better." for best, titles in others.items()]
    return told


def _limits(facts: Facts) -> str:
    """How often the choice breaks each limit."""
    rows = facts.decision.broken.sel(strategy=facts.decision.choice)
    return "; ".join(
        f"{words}, broken in {percent(float(share))} of worlds"
        for words, share in zip(rows["limit"].values, np.atleast_1d(rows["share"].values), strict=True)
    )


def _name(name: str) -> str:
    return quote(shorten(name, _LONGEST))


def _named(names: tuple[str, ...] | list[str]) -> str:
    shown = [_name(name) for name in names[:_MOST_NAMED]]
    if len(names) > _MOST_NAMED:
        shown.append(f"{len(names) - _MOST_NAMED} more")
    return _and(shown)


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
