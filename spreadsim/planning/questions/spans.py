"""Crews with other hours in some years than in others, told by crews that follow one another."""

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from spreadsim.inputs import Crew, Experiment, Fund, Strategy, Task


class Span(NamedTuple):
    """Years, both included, and how many times the planned hours there are in them."""

    first: int
    last: int
    factor: float


def with_spans(experiment: Experiment, spans: Sequence[Span], names: Sequence[str]) -> Experiment:
    """Give the experiment with crews whose hours differ from span to span.

    Each crew becomes as many crews as there are spans, one after the other; the first keeps the name. Whoever leads,
    and whoever tasks and funds name, is the part of the same years. Where turnout varies by chance, parts after the
    first have a luck of their own: compare experiments with the same spans.

    Parameters
    ----------
    experiment
        To change.
    spans
        One after the other without a gap, from year 1 to the last that counts; nobody comes after it.
    names
        Crews whose hours are multiplied; those of others stay.

    Raises
    ------
    InputError
        Hours that are not allowed, or crews by such names already.
    """
    parts = {crew.name: [crew.name, *(_name(crew.name, span) for span in spans[1:])] for crew in experiment.crews}
    crews = [
        _part(crew, parts, k, span, span.factor if crew.name in names else 1.0)
        for crew in experiment.crews
        for k, span in enumerate(spans)
    ]
    return dataclasses.replace(
        experiment,
        crews=tuple(crews),
        funds=tuple(_named_fund(fund, parts) for fund in experiment.funds),
        strategies=tuple(with_crews(strategy, parts) for strategy in experiment.strategies),
    )


def ended(experiment: Experiment, names: Sequence[str], last: int) -> Experiment:
    """Give the experiment with crews that come no more after a year, and funds that end with them if all do."""
    crews = [_until(crew, last) if crew.name in names else crew for crew in experiment.crews]
    funds = experiment.funds
    if len(names) == len(experiment.crews):
        funds = tuple(_shortened(fund, last) for fund in funds)
    return dataclasses.replace(experiment, crews=tuple(crews), funds=funds)


def scaled(experiment: Experiment, names: Sequence[str], factor: float) -> Experiment:
    """Give the experiment with so many times the hours of some crews."""
    crews = [
        changed_crew(crew, hours=tuple(hours * factor for hours in crew.hours)) if crew.name in names else crew
        for crew in experiment.crews
    ]
    return dataclasses.replace(experiment, crews=tuple(crews))


def changed_crew(crew: Crew, **changes: Any) -> Crew:
    """Give a crew with some of its values changed."""
    return Crew.from_dict(crew.to_dict() | changes)


def with_crews(strategy: Strategy, parts: Mapping[str, Sequence[str]]) -> Strategy:
    """Give a strategy whose tasks name all parts of the crews that they name."""
    tasks = [dataclasses.replace(task, crews=_all_parts(task.crews, parts)) for task in strategy.tasks]
    return with_tasks(strategy, tasks)


def with_tasks(strategy: Strategy, tasks: Sequence[Task]) -> Strategy:
    """Give a strategy of the same name with other tasks."""
    return Strategy(strategy.name, tasks=tasks, reserve_follow_up=strategy.reserve_follow_up, why=strategy.why)


def has_luck(experiment: Experiment) -> bool:
    """Whether the turnout of any crew varies by chance."""
    return any(crew.turnout_spread > 0 for crew in experiment.crews)


def _name(name: str, span: Span) -> str:
    return f"{name}, years {span.first} to {span.last}"


def _part(crew: Crew, parts: Mapping[str, Sequence[str]], k: int, span: Span, factor: float) -> Crew:
    first, last = crew.years or (1, None)
    begin, end = max(first, span.first), min(span.last if last is None else last, span.last)
    here = begin <= end
    changes: dict[str, Any] = {
        "name": parts[crew.name][k],
        "leader": None if crew.leader is None else parts[crew.leader][k],
        "years": (begin, end) if here else (span.first, span.last),
        "hours": tuple(hours * factor if here else 0.0 for hours in crew.hours),
    }
    return changed_crew(crew, **changes)


def _until(crew: Crew, last: int) -> Crew:
    first, end = crew.years or (1, None)
    if first > last:
        return changed_crew(crew, hours=(0.0, 0.0, 0.0, 0.0))
    return changed_crew(crew, years=(first, last if end is None else min(end, last)))


def _shortened(fund: Fund, last: int) -> Fund:
    first, end = fund.years or (1, None)
    if first > last:
        return dataclasses.replace(fund, amount=0.0)
    return dataclasses.replace(fund, years=(first, last if end is None else min(end, last)))


def _named_fund(fund: Fund, parts: Mapping[str, Sequence[str]]) -> Fund:
    return dataclasses.replace(fund, crews=_all_parts(fund.crews, parts))


def _all_parts(names: Sequence[str], parts: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    return tuple(part for name in names for part in parts[name])
