"""The lines of a log as hours of tasks in units and seasons, as far as the model can take them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple

from spreadsim.errors import Problems, one_of
from spreadsim.inputs import Experiment, Strategy, Task
from spreadsim.log.entry import Entry, Log
from spreadsim.schema import SEASONS


class Key(NamedTuple):
    """What makes one task of the simulation."""

    label: str
    treatment: str
    unit: str
    like: Task | None
    """The strategy's task behind it."""


class Piece(NamedTuple):
    """Hours of a line, where they belong."""

    key: Key
    crew: str
    season: int
    hours: float
    written: str
    """The one treatment that the line names; empty where it names none or several."""


def pieces_of(experiment: Experiment, log: Log, problems: Problems, remarks: list[str]) -> Iterable[Piece]:
    """Give the hours of each line that can be simulated, by day."""
    lost: dict[str, float] = defaultdict(float)
    strategies = strategies_of(experiment, log)
    lines = [entry for entry in log.counting if entry.worked and entry.date is not None]
    for entry in sorted(lines, key=lambda entry: entry.date or date.min):
        assert entry.date is not None, "lines without a day were left out"
        task = _named_task(experiment, entry, strategies)
        written = entry.treatment if entry.treatment and " or " not in entry.treatment else ""
        if not _is_known(experiment, entry, written, task, problems):
            continue
        own = _own_treatment(task, written)
        season = log.season_of(entry.date)
        if not entry.hours:
            lost["in lines that say no hours"] += 1
        elif season < 0:
            lost["worked before the first winter of the map"] += entry.hours
        elif SEASONS[season % 4] not in experiment.treatment(own).seasons:
            lost[f"of {own} in {SEASONS[season % 4]}, when it is not done by its profile"] += entry.hours
        else:
            like = task if task is not None and own == task.treatment else None
            label = like.label if like is not None else own
            yield Piece(Key(label, own, entry.unit, like), entry.crew, season, entry.hours, written)
    for what, hours in lost.items():
        amount = f"{hours:,.3g} h"
        if what.startswith("in lines"):
            amount = "1 place" if hours == 1 else f"{hours:,.0f} places"
        remarks.append(f"{amount} {what}: not simulated")


def strategies_of(experiment: Experiment, log: Log) -> list[Strategy]:
    """Give strategies as tasks are looked for: those that work lists of the log were made of first."""
    named = {entry.strategy for entry in log.counting if entry.strategy}
    return sorted(experiment.strategies, key=lambda strategy: strategy.name not in named)


def _named_task(experiment: Experiment, entry: Entry, strategies: Sequence[Strategy]) -> Task | None:
    """Find the task that a line names, else one that does its treatment."""
    wanted = [one for one in strategies if one.name == entry.strategy] + list(strategies)
    tasks = [task for strategy in wanted for task in strategy.tasks]
    if entry.task:
        return next((task for task in tasks if task.label == entry.task), None)
    by_own = [task for task in tasks if task.treatment == entry.treatment]
    return next(iter(by_own or [task for task in tasks if entry.treatment in all_of(task)]), None)


def all_of(task: Task) -> tuple[str, ...]:
    following = task.follow_up.treatment if task.follow_up else None
    return tuple(name for name in (task.treatment, following, task.instead) if name)


def _own_treatment(task: Task | None, written: str) -> str:
    """Give the treatment of the task, unless people did one that is none of the task's."""
    return task.treatment if task is not None and (not written or written in all_of(task)) else written


def _is_known(experiment: Experiment, entry: Entry, written: str, task: Task | None, problems: Problems) -> bool:
    """Note what the experiment no longer has; it had it when the line was taken."""
    before, place = len(problems), f"line {entry.line}"
    crews, units = [crew.name for crew in experiment.crews], experiment.site.unit_names
    if entry.crew not in crews:
        problems.add("log", f"{place}, crew", entry.crew, one_of(crews))
    if entry.unit and entry.unit not in units:
        problems.add("log", f"{place}, unit", entry.unit, one_of(units))
    if written and written not in experiment.known_treatments():
        problems.add("log", f"{place}, treatment", written, one_of(experiment.known_treatments()))
    if task is None and not written:
        labels = dict.fromkeys(task.label for strategy in experiment.strategies for task in strategy.tasks)
        problems.add("log", f"{place}, task", entry.task or entry.treatment, one_of(labels))
    return len(problems) == before
