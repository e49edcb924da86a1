"""Turning the numbers of a strategy by optuna, with what is known already told to it."""

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from spreadsim.errors import InputError
from spreadsim.planning.search.picks import Picks, names_of, strategy_of
from spreadsim.planning.search.slots import ORDERED, Slot
from spreadsim.planning.search.trial import Tried, Worlds

_OUT = 1e30  # from here on strategies that break a limit lie, the worse the farther
_STARTED = 10  # tries before the optimiser has a model of what is good


@dataclass
class Budget:
    """How much may be tried: so many tries, or until so many seconds are over."""

    tries: int
    seconds: float | None = None
    done: int = 0
    _began: float = field(default_factory=time.monotonic)

    def spent(self) -> float:
        """Give the share that is used up, from 0 to 1 and more."""
        if self.seconds is None:
            return self.done / self.tries
        return (time.monotonic() - self._began) / self.seconds


@dataclass
class Record:
    """All tries so far: the numbers and what came of them."""

    picks: list[Picks] = field(default_factory=list)
    tried: list[Tried] = field(default_factory=list)

    def best(self, value: Callable[[Tried], float]) -> int:
        """Give the place of the try with the lowest value, the first of several."""
        return min(range(len(self.tried)), key=lambda at: value(self.tried[at]))


def value_of(tried: Tried, hours: float = math.inf, money: float = math.inf) -> float:
    """Give what is to be made small: the mean score; beyond all scores where a limit, hours or money are exceeded.

    Limits go in as how far they are exceeded, so that the search finds its way back.
    """
    over = tried.beyond
    for spent, most in ((float(tried.hours.mean()), hours), (float(tried.money.mean()), money)):
        over += max(0.0, spent - most) / max(most, 1.0) if math.isfinite(most) else 0.0
    return tried.mean if over <= 1e-9 else _OUT * (1.0 + over)


def check_optimiser() -> Any:
    """Give optuna, or say how to get it."""
    try:
        import optuna
    except ImportError as error:
        raise InputError(
            "search: found no package optuna, which looks for the strategies; install it with: "
            "python -m pip install 'spreadsim[search]'"
        ) from error
    optuna.logging.set_verbosity(optuna.logging.WARNING)
    return optuna


def improve(
    worlds: Worlds,
    slots: Sequence[Slot],
    record: Record,
    value: Callable[[Tried], float],
    budget: Budget,
    until: float,
    seed: int,
    first: Sequence[Picks] = (),
    progress: Callable[[], Any] = lambda: None,
) -> None:
    """Try strategies that promise a low value until a share of the budget is spent, and record them.

    By tree-structured Parzen estimators (Bergstra et al. 2011, from memory) of optuna, which starts from all that is
    recorded, then from `first`.
    """
    optuna = check_optimiser()
    sampler = optuna.samplers.TPESampler(seed=seed, n_startup_trials=_STARTED)
    study = optuna.create_study(direction="minimize", sampler=sampler)
    distributions = _distributions(optuna, slots)
    for picks, tried in zip(record.picks, record.tried, strict=True):
        study.add_trial(optuna.trial.create_trial(params=picks, distributions=distributions, value=value(tried)))
    for picks in first:
        study.enqueue_trial(picks)
    while budget.spent() < until:
        trial = study.ask(distributions)
        tried = worlds.run(strategy_of(slots, trial.params, "tried"))
        study.tell(trial, value(tried))
        record.picks.append(dict(trial.params))
        record.tried.append(tried)
        budget.done += 1
        progress()


def _distributions(optuna: Any, slots: Sequence[Slot]) -> dict[str, Any]:
    kinds: dict[str, Any] = {}
    for name, choices in names_of(slots).items():
        if not choices:
            kinds[name] = optuna.distributions.FloatDistribution(0.0, 1.0)
        elif name.partition(".")[2] in ORDERED:
            kinds[name] = optuna.distributions.IntDistribution(0, choices - 1)
        else:
            kinds[name] = optuna.distributions.CategoricalDistribution(tuple(range(choices)))
    return kinds


def plainer(
    worlds: Worlds, slots: Sequence[Slot], picks: Picks, value: Callable[[Tried], float]
) -> tuple[Picks, Tried]:
    """Leave out what makes a strategy no better: tasks, then what is unusual in those that stay.

    Returns
    -------
    tuple of Picks and Tried
        Never worse in these worlds than what was given.
    """
    tried = worlds.run(strategy_of(slots, picks, "tried"))
    for at, slot in enumerate(slots):
        for name, plain in ((f"{at}.used", 0), *_plain(slot, at)):
            if name in picks and picks[name] != plain and (picks[f"{at}.used"] or name.endswith(".used")):
                other = picks | {name: plain}
                result = worlds.run(strategy_of(slots, other, "tried"))
                if value(result) <= value(tried):
                    picks, tried = other, result
    return picks, tried


def _plain(slot: Slot, at: int) -> list[tuple[str, int]]:
    """Give the choices that need no words."""
    usual = {"seasons": (), "share": 1.0, "new_ground": None, "not_until": None, "years": None, "cap": None}
    return [
        (f"{at}.{field}", slot.choices[field].index(value))
        for field, value in usual.items()
        if value in slot.choices[field]
    ]
