"""Strategies as plain numbers, which an optimiser can turn, and back."""

import dataclasses
from collections.abc import Mapping, Sequence

from spreadsim.inputs import Strategy, Task
from spreadsim.planning.search.slots import Slot

RESERVE = "reserve"
Picks = dict[str, int | float]


def names_of(slots: Sequence[Slot]) -> dict[str, int]:
    """Give every number that is to be chosen, with how many choices it has; ranks, which are from 0 to 1, have none."""
    names = {RESERVE: 2}
    for at, slot in enumerate(slots):
        names |= {f"{at}.used": 2, f"{at}.rank": 0}
        names |= {f"{at}.{field}": len(values) for field, values in slot.choices.items() if len(values) > 1}
    return names


def strategy_of(slots: Sequence[Slot], picks: Mapping[str, int | float], name: str) -> Strategy:
    """Make the strategy that the numbers say; of tasks of the same rank the first goes first."""
    used = [at for at in range(len(slots)) if picks[f"{at}.used"]]
    used.sort(key=lambda at: float(picks[f"{at}.rank"]))
    tasks = [
        _task(slots[at], {key.partition(".")[2]: int(value) for key, value in picks.items() if _of(key, at)})
        for at in used
    ]
    return Strategy(name, tasks=tasks, reserve_follow_up=bool(picks[RESERVE]))


def picks_of(slots: Sequence[Slot], tasks: Sequence[tuple[int, Task]], reserve: bool) -> Picks:
    """Give the numbers of a strategy: its tasks with the places of their slots."""
    picks: Picks = {name: 0 if choices else 0.5 for name, choices in names_of(slots).items()}
    for at, slot in enumerate(slots):  # what is not used stands as it was given, should it come in
        picks |= _chosen(slot, slot.task, at)
    for rank, (at, task) in enumerate(tasks):
        picks |= _chosen(slots[at], task, at) | {f"{at}.used": 1, f"{at}.rank": (rank + 0.5) / len(tasks)}
    return picks | {RESERVE: int(reserve)}


def _of(key: str, at: int) -> bool:
    place, _, field = key.partition(".")
    return place == str(at) and field not in ("used", "rank")


def _task(slot: Slot, chosen: Mapping[str, int]) -> Task:
    task = dataclasses.replace(slot.task, **{field: slot.choices[field][at] for field, at in chosen.items()})
    # a name such as "fruiting hosts, before the fruit is ripe" may be wrong of a task in other seasons
    return task if task == slot.task else dataclasses.replace(task, name=None)


def _chosen(slot: Slot, task: Task, at: int) -> Picks:
    picks: Picks = {}
    for field, values in slot.choices.items():
        if len(values) > 1:
            picks[f"{at}.{field}"] = values.index(getattr(task, field))
    return picks
