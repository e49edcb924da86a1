"""What a search may change: the tasks that may be in a strategy, and the choices that each leaves."""

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.analysis.goals import Limit
from spreadsim.analysis.scoring import is_meant
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, FollowUp, Strategy, Task
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work

# Handwork that is offered even where no given strategy has it; herbicide comes in by the steward's own tasks only.
HAND = ("scout", "cut", "clear-ring", "pull")
_SHARES = (0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0)
_PARTS_OF_MAT = (0.02, 0.05, 0.1, 0.2, 0.5)  # of the mat at the start, newly opened in a year
_VISITS = (FollowUp(2, 2), FollowUp(4, 1), FollowUp(4, 2), FollowUp(4, 3), FollowUp(8, 2))
_STARTS = ((3, None), (6, None), (11, None))
_HALVES = (("winter", "autumn"), ("spring", "summer"))
_GROUND = ("mat", "natives")
ORDERED = ("share", "new_ground")  # whose choices go from little to much


@dataclass(frozen=True)
class Slot:
    """A task that may be in a strategy.

    Attributes
    ----------
    task : Task
        As it was first given: what is done, to what, where, by whom and after which permit stay so.
    choices : mapping of str to tuple
        By field of the task that may change, the values that it may take.
    """

    task: Task
    choices: Mapping[str, tuple[Any, ...]]


def slots_of(experiment: Experiment, unwanted: Sequence[Limit] = ()) -> tuple[Slot, ...]:
    """Gather the tasks of all given strategies, and handwork that some crew may do, each once.

    Parameters
    ----------
    experiment
        Its strategies, crews and treatments.
    unwanted
        Limits on treatments; tasks are cut down to what they leave.

    Raises
    ------
    InputError
        Nothing is left that a crew may do.
    """
    alike: dict[tuple[Any, ...], list[Task]] = {}
    for strategy in experiment.strategies:
        for key, task in _keyed(experiment, strategy, unwanted):
            alike.setdefault(key, []).append(task)
    there = {task.treatment for tasks in alike.values() for task in tasks}
    plain = [Task(name) for name in HAND if name not in there and _crews_for(experiment, Task(name))]
    for key, task in _keyed(experiment, Strategy("handwork", tasks=plain), unwanted):
        if not experiment.treatment(task.treatment).herbicide:  # a steward's own treatment may have the name
            alike.setdefault(key, []).append(task)
    if not alike:
        raise InputError("search: found no work that a crew may do, allowed an experiment with crews and work for them")
    return tuple(Slot(tasks[0], _choices(experiment, tasks)) for tasks in alike.values())


def slots_in(
    experiment: Experiment, strategy: Strategy, slots: Sequence[Slot], unwanted: Sequence[Limit] = ()
) -> list[tuple[int, Task]]:
    """Give the tasks of a given strategy, in their order, with the places of their slots."""
    places = {}
    seen: dict[tuple[Any, ...], int] = {}
    for at, slot in enumerate(slots):
        same = _sameness(slot.task)
        places[same, seen.get(same, 0)] = at
        seen[same] = seen.get(same, 0) + 1
    return [(places[key], task) for key, task in _keyed(experiment, strategy, unwanted)]


def _keyed(
    experiment: Experiment, strategy: Strategy, unwanted: Sequence[Limit]
) -> Iterator[tuple[tuple[Any, ...], Task]]:
    """Give the tasks that are allowed, each with what it is and the how-manieth of this kind it is."""
    seen: dict[tuple[Any, ...], int] = {}
    for given in strategy.tasks:
        task = _allowed(experiment, given, unwanted)
        if task is not None:
            task = dataclasses.replace(task, order=task.order_for(experiment.treatment(task.treatment)))
            same = _sameness(task)
            yield (same, seen.get(same, 0)), task
            seen[same] = seen.get(same, 0) + 1


def _sameness(task: Task) -> tuple[Any, ...]:
    """What makes two tasks the same work, however it is timed, shared out or ordered."""
    visits = task.follow_up.treatment if task.follow_up else None
    return (
        task.treatment,
        task.targets,
        task.units,
        task.crews,
        task.instead,
        visits,
        task.haul_out,
        task.permit_seasons,
    )


def _allowed(experiment: Experiment, task: Task, unwanted: Sequence[Limit]) -> Task | None:
    """Cut a task down to where its treatments are wanted; None if that is nowhere."""
    visits = task.follow_up.treatment if task.follow_up else None
    for limit in unwanted:
        if not any(is_meant(name, limit.no) for name in (task.treatment, task.instead, visits)):
            continue
        left = tuple(unit for unit in task.units or experiment.site.unit_names if limit.unit and unit != limit.unit)
        if not left:
            return None
        task = dataclasses.replace(task, units=left)
    return task


def _crews_for(experiment: Experiment, task: Task) -> list[str]:
    """Crews of a task that may do all that it names."""
    visits = task.follow_up.treatment if task.follow_up else None
    named = [experiment.treatment(name) for name in (task.treatment, task.instead, visits) if name]
    crews = [crew for crew in experiment.crews if not task.crews or crew.name in task.crews]
    return [crew.name for crew in crews if all(crew.may_do(one) for one in named)]


def _choices(experiment: Experiment, tasks: Sequence[Task]) -> dict[str, tuple[Any, ...]]:
    """Give what may be chosen: all that was given for this work, and the usual steps between little and much."""
    treatment = experiment.treatment(tasks[0].treatment)
    kind = kind_of_work(treatment)
    halves = [tuple(season for season in half if season in treatment.seasons) for half in _HALVES]
    single = [(season,) for season in treatment.seasons]
    mat = float(np.sum(experiment.site.mat * experiment.site.plantable)) * experiment.site.cell_size**2
    grounds = [float(f"{part * mat:.1g}") for part in _PARTS_OF_MAT] if kind in _GROUND and mat > 0 else []
    visits = tasks[0].follow_up.treatment if tasks[0].follow_up else None
    again = [dataclasses.replace(one, treatment=visits) for one in _VISITS] if kind in ("stems", "mat") else []
    crews = [(name,) for name in _crews_for(experiment, tasks[0])]
    offered: dict[str, list[Any]] = {
        "order": list(ORDERS[kind]),
        "seasons": [(), *single, *(half for half in halves if half)],
        "share": list(_SHARES),
        "new_ground": [*grounds, None],
        "follow_up": [*([None] if visits is None else []), *again],
        "not_until": [None, *CONDITIONS[:2]] if kind == "mat" else [],
        "years": [None, *(start for start in _STARTS if start[0] <= experiment.years)],
        "cap": [],
        "crews": crews if len(crews) > 1 else [],
    }
    choices = {}
    for name, values in offered.items():
        every = list(dict.fromkeys([*(getattr(task, name) for task in tasks), *values]))
        if name in ORDERED:  # from little to much, so that neighbours are alike
            every.sort(key=lambda value: float("inf") if value is None else value)
        choices[name] = tuple(every)
    return choices
