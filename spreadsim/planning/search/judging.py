"""The last comparison of a search: in worlds that neither looking nor choosing has seen."""

import dataclasses
from collections.abc import Sequence

import numpy as np

from spreadsim.analysis.decision_words import number
from spreadsim.analysis.found import Found, judge, not_beaten, verdict_of
from spreadsim.analysis.goals import Goals
from spreadsim.inputs import Experiment, Strategy
from spreadsim.planning.search.optimise import Record
from spreadsim.planning.search.trial import Tried, Worlds

NAME = "found by search"
_CHEAPER = 6


def judged_of(
    experiment: Experiment,
    goals: Goals,
    worlds: Worlds,
    record: Record,
    chosen: Strategy,
    judging: int,
    confidence: float,
    workers: int | None,
) -> Found:
    """Run the chosen strategy, the given ones and those that cost less in fresh worlds, and compare them.

    Parameters
    ----------
    experiment, goals
        With the given strategies; what they are judged by.
    worlds, record
        Of the search: fresh worlds have numbers beyond twice theirs.
    chosen
        The strategy to be judged.
    judging
        How many fresh worlds.
    confidence, workers
        Of the intervals; threads.
    """
    count = len(worlds.replicates)
    fresh = Worlds(experiment, goals, range(2 * count, 2 * count + judging), workers)
    given = [fresh.run(strategy) for strategy in experiment.strategies]
    names = [strategy.name for strategy in experiment.strategies]
    name = next(name for k in range(len(names) + 1) if (name := NAME if not k else f"{NAME} {k + 1}") not in names)
    found = fresh.run(_told(chosen, name, f"Found by a search of {len(record.tried)} tries, seed {experiment.seed}."))
    same = [one.strategy.name for one in given if np.array_equal(one.score, found.score) and _alike(one, found)]
    cheaper = _named_by_cost([fresh.run(one.strategy) for one in _front(record, found)], experiment.currency)
    every = [*given, found, *cheaper]
    origin = ["given"] * len(given) + ["found"] + ["cheaper"] * len(cheaper)
    judged = judge(
        [one.strategy.name for one in every],
        origin,
        np.array([one.score for one in every]),
        np.array([one.hours for one in every]),
        np.array([one.money for one in every]),
        np.array([one.beyond for one in every]),
        confidence,
        experiment.seed,
    )
    kept = judged["front"].values | (judged["origin"].values != "cheaper")
    judged = judged.isel(strategy=kept)
    weights = ", ".join(f"{weight:g} x {name}" for name, weight in goals.weights.items())
    judged.attrs |= {
        "title": experiment.title,
        "score": weights or goals.order[0],
        "currency": experiment.currency,
        "comment": experiment.notice,
    }
    wider = dataclasses.replace(
        experiment, strategies=tuple(one.strategy for one, keep in zip(every, kept, strict=True) if keep)
    )
    verdict = "not better" if same else verdict_of(judged)
    sets = (count, count, judging)
    tries = len(record.tried)
    return Found(
        wider, found.strategy, same[0] if same else "", judged, verdict, tries, len(worlds), sets, experiment.seed
    )


def _front(record: Record, found: Tried) -> list[Tried]:
    """Give some tries that no other beats in score, hours and money and that cost less than the found one."""
    kept = [tried for tried in record.tried if tried.beyond <= 0 and tried.hours.any()]
    if not kept:
        return []
    points = np.array([[one.mean, one.hours.mean(), one.money.mean()] for one in kept])
    less = (points[:, 1] < found.hours.mean() * 0.97) | (points[:, 2] < found.money.mean() * 0.97)
    _, unlike = np.unique(points, axis=0, return_index=True)
    first = np.isin(np.arange(len(kept)), unlike)
    front = sorted(np.flatnonzero(not_beaten(points) & less & first), key=lambda at: points[at, 1])
    if len(front) > _CHEAPER:  # evenly along the hours
        front = [front[k] for k in np.unique(np.linspace(0, len(front) - 1, _CHEAPER).round().astype(int))]
    return [kept[at] for at in front]


def _named_by_cost(tried: Sequence[Tried], currency: str) -> list[Tried]:
    """Name strategies by what they cost; of equal names the later ones are left out."""
    named: dict[str, Tried] = {}
    for one in tried:
        hours, money = float(one.hours.mean()), float(one.money.mean())
        name = f"found for {number(hours)} h" + (f" and {number(money)} {currency}" if money > 0 else "") + " a year"
        named.setdefault(name, dataclasses.replace(one, strategy=_told(one.strategy, name, "")))
    return list(named.values())


def _alike(one: Tried, other: Tried) -> bool:
    return np.array_equal(one.hours, other.hours) and np.array_equal(one.money, other.money)


def _told(strategy: Strategy, name: str, why: str) -> Strategy:
    return Strategy(name, tasks=strategy.tasks, reserve_follow_up=strategy.reserve_follow_up, why=why)
