"""A search for a better strategy: looking, choosing among the foremost, judging, each in worlds of its own."""

import dataclasses
import math
from collections.abc import Callable, Sequence
from typing import Any

from spreadsim.analysis.found import Found
from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment, Strategy
from spreadsim.planning.search.judging import NAME, judged_of
from spreadsim.planning.search.optimise import Budget, Record, check_optimiser, improve, plainer, value_of
from spreadsim.planning.search.picks import Picks, picks_of, strategy_of
from spreadsim.planning.search.slots import ORDERED, Slot, slots_in, slots_of
from spreadsim.planning.search.trial import Worlds
from spreadsim.runs.progress import reporter

_LOOKING = 0.7  # share of the tries that go into the best; the rest into those that cost less
_LESS = (0.75, 0.5, 0.25)  # of the hours of the best
_FOREMOST = 5
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

    What may change: which of the given tasks, and of plain handwork that crews may do, in which order; of each its
    share of the hours, seasons, years, order of targets, follow-up visits, new ground a year, what it waits for, and,
    among the crews that it was given, one alone. Everything is run in the same worlds. The foremost of the search are
    run in a second set of worlds, which chooses among them, and the chosen one, the given ones and those that cost less
    in a third, so that no number told was picked for being low.

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
    return judged_of(experiment, goals, worlds, record, chosen, judging, confidence, workers)


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
