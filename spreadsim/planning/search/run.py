"""A search for a better strategy: looking, choosing among the foremost, judging, each in worlds of its own."""

import dataclasses
import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from spreadsim.analysis.found import Found, judge, not_beaten, verdict_of
from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment, Strategy
from spreadsim.planning.search.optimise import Budget, Record, check_optimiser, improve, plainer, value_of
from spreadsim.planning.search.picks import Picks, picks_of, strategy_of
from spreadsim.planning.search.slots import ORDERED, Slot, slots_in, slots_of
from spreadsim.planning.search.trial import Tried, Worlds
from spreadsim.runs.progress import reporter

NAME = "found by search"
_LOOKING = 0.7  # share of the tries that go into the best; the rest into those that cost less
_LESS = (0.75, 0.5, 0.25)  # of the hours of the best
_FOREMOST = 5
_CHEAPER = 6
Progress = Callable[[int, int], Any]


def search(
    experiment: Experiment,
    *,
    goals: Goals | None = None,
    tries: int = 150,
    seconds: float | None = None,
    replicates: int = 40,
    judging: int = 200,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    progress: bool | Progress = False,
) -> Found:
    """Look for a better strategy than those given, with the same crews, hours, money and rules.

    What may change: which of the given tasks, and of plain handwork that crews may do, in which order; of each its share
    of the hours, seasons, years, order of targets, follow-up visits, new ground a year, what it waits for, and, among the
    crews that it was given, one alone. Everything is run in the same worlds. The foremost five of the search are run in a
    second set of worlds, which chooses among them, and the chosen one, the given ones and those that cost less in a third,
    so that no number told was picked for being low.

    Parameters
    ----------
    experiment
        With the strategies to beat.
    goals
        Weights, or an order of which the first counts, and limits; None: as little seed leaving the site as possible.
    tries
        Strategies to try.
    seconds
        Instead of tries: for how long. Results then depend on the machine.
    replicates
        Worlds of each try.
    judging
        Fresh worlds of the final comparison.
    seed
        Of worlds and optimiser; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    confidence
        Of the intervals.
    progress
        True: a bar on standard error. Or a function that is told how many tries of how many are done.

    Raises
    ------
    InputError
        Arguments that can't be used, nothing that a crew may do, or no optuna.
    """
    check_optimiser()
    goals = DEFAULT if goals is None else goals
    goals = goals if goals.weights or goals.order else dataclasses.replace(goals, order=DEFAULT.order)
    _check(tries, seconds, replicates, judging)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    unwanted = [limit for limit in goals.limits if limit.no]
    slots = slots_of(experiment, unwanted)
    worlds = Worlds(experiment, goals, range(replicates), workers)
    budget, record = Budget(tries, seconds), Record()
    first = [
        picks_of(slots, slots_in(experiment, given, slots, unwanted), given.reserve_follow_up)
        for given in experiment.strategies
    ]
    with reporter(progress) as report:
        tell = _teller(report, budget)
        improve(worlds, slots, record, value_of, budget, _LOOKING, experiment.seed, first, tell)
        _cheaper(worlds, slots, record, budget, experiment.seed, tell)
    chosen = _choose(experiment, goals, slots, worlds, record, workers)
    return _judged(experiment, goals, worlds, record, chosen, judging, confidence, workers)


def _cheaper(
    worlds: Worlds, slots: Sequence[Slot], record: Record, budget: Budget, seed: int, tell: Callable[[], Any]
) -> None:
    """Look for the best with fewer hours, and with less money: one bound after the other (epsilon-constraint)."""
    at = record.best(value_of)
    best, picks = record.tried[at], record.picks[at]
    hours, money = float(best.hours.mean()), float(best.money.mean())
    bounds = [(hours * share, math.inf) for share in _LESS]
    bounds += [(math.inf, money * share) for share in (0.5, 0.0) if money > 0]
    for k, (most_hours, most_money) in enumerate(bounds, start=1):
        until = _LOOKING + (1.0 - _LOOKING) * k / len(bounds)
        share = most_hours / hours if hours > 0 and math.isfinite(most_hours) else 1.0
        first = [_thriftier(slots, picks, share)]
        improve(
            worlds,
            slots,
            record,
            lambda tried, h=most_hours, m=most_money: value_of(tried, h, m),  # type: ignore[misc]
            budget,
            until,
            seed + k,
            first,
            tell,
        )


def _thriftier(slots: Sequence[Slot], picks: Picks, share: float) -> Picks:
    """Give the same strategy with the largest shares that together are at most a share of the hours."""
    used = [at for at in range(len(slots)) if picks[f"{at}.used"]]
    changed = dict(picks)
    for at in used:
        values = slots[at].choices[ORDERED[0]]
        fit = [k for k, value in enumerate(values) if value <= share / len(used)]
        changed[f"{at}.{ORDERED[0]}"] = min(fit[-1] if fit else 0, picks[f"{at}.{ORDERED[0]}"])
    return changed


def _choose(
    experiment: Experiment,
    goals: Goals,
    slots: Sequence[Slot],
    worlds: Worlds,
    record: Record,
    workers: int | None,
) -> Strategy:
    """Give the best of the foremost in worlds that the search has not seen, made plain."""
    order = sorted(range(len(record.tried)), key=lambda at: value_of(record.tried[at]))
    foremost: dict[float, int] = {}
    for at in order:  # equal scores in all worlds: the same work
        foremost.setdefault(value_of(record.tried[at]), at)
    count = len(worlds.replicates)
    others = Worlds(experiment, goals, range(count, 2 * count), workers)
    picks, _ = plainer(worlds, slots, record.picks[order[0]], value_of)
    candidates = [strategy_of(slots, picks, NAME)]
    candidates += [strategy_of(slots, record.picks[at], NAME) for at in list(foremost.values())[:_FOREMOST]]
    return min(candidates, key=lambda one: value_of(others.run(one)))


def _judged(
    experiment: Experiment,
    goals: Goals,
    worlds: Worlds,
    record: Record,
    chosen: Strategy,
    judging: int,
    confidence: float,
    workers: int | None,
) -> Found:
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
    kept = [tried for tried in record.tried if tried.beyond <= 0 and tried.strategy.tasks]
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
        name = f"found for {hours:,.0f} h" + (f" and {money:,.0f} {currency}" if money > 0 else "") + " a year"
        named.setdefault(name, dataclasses.replace(one, strategy=_told(one.strategy, name, "")))
    return list(named.values())


def _alike(one: Tried, other: Tried) -> bool:
    return np.array_equal(one.hours, other.hours) and np.array_equal(one.money, other.money)


def _told(strategy: Strategy, name: str, why: str) -> Strategy:
    return Strategy(name, tasks=strategy.tasks, reserve_follow_up=strategy.reserve_follow_up, why=why)


def _teller(report: Progress, budget: Budget) -> Callable[[], Any]:
    def tell() -> None:
        if budget.seconds is None:
            report(min(budget.done, budget.tries), budget.tries)
        else:
            report(min(int(100 * budget.spent()), 100), 100)

    return tell


def _check(tries: int, seconds: float | None, replicates: int, judging: int) -> None:
    problems = [
        f"{name}: found {show(value)}, allowed {least} or more"
        for name, value, least in (("tries", tries, 1), ("replicates", replicates, 2), ("judging", judging, 2))
        if value < least
    ]
    if seconds is not None and not 0 < seconds < math.inf:
        problems.append(f"seconds: found {show(seconds)}, allowed above 0")
    if problems:
        raise InputError(*problems)
