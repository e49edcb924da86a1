"""Checks between the parts of an experiment: names that are not known, work that nobody may do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spreadsim.errors import Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.event import Event
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.strategy import NO_ACTION
from spreadsim.inputs.task import CLEAN, CONDITIONS, ORDERS, Task, kind_of_work
from spreadsim.inputs.times import Years
from spreadsim.inputs.treatment import Treatment


@dataclass(frozen=True)
class Parts:
    """What is checked against each other; a part that is wrong in itself is None and checked no further.

    Attributes
    ----------
    crews : sequence of Crew or None
        In the order of the experiment.
    tasks : sequence of (str, sequence of Task or None)
        The name and the tasks of each strategy.
    treatments : mapping of str to Treatment or None
        All that a task may use.
    unit_names : tuple of str or None
        Of the site, if that is known.
    years : int
        Length of the experiment.
    funds, events : sequences of Fund or None, and of Event or None
        In the order of the experiment.
    extent : tuple of two floats, or None
        Of the site from west to east and from south to north, m, if that is known.
    """

    crews: Sequence[Crew | None]
    tasks: Sequence[tuple[str, Sequence[Task | None]]]
    treatments: Mapping[str, Treatment | None]
    unit_names: tuple[str, ...] | None
    years: int
    funds: Sequence[Fund | None] = ()
    events: Sequence[Event | None] = ()
    extent: tuple[float, float] | None = None


def check_names(check: Check, place: str, parts: Sequence[Any]) -> None:
    """Note names that more than one part has."""
    seen: set[str] = set()
    for index, part in enumerate(parts):
        if part is None:
            continue
        if part.name in seen:
            check.add(f"{place}[{index}].name", part.name, "each name only once")
        seen.add(part.name)


def check_raw_names(check: Check, place: str, table: object, treatments: Mapping[str, Treatment | None]) -> None:
    """Note treatments that are not known in a crew or task that is wrong in other ways, so that all is said at once."""
    if not isinstance(table, Mapping):
        return
    follow_up = table.get("follow_up")
    named = {key: table.get(key) for key in ("treatment", "instead")}
    named["follow_up.treatment"] = follow_up.get("treatment") if isinstance(follow_up, Mapping) else None
    may = table.get("may")
    named |= {f"may[{k}]": name for k, name in enumerate(may if isinstance(may, list) else ())}
    for key, name in named.items():
        if isinstance(name, str) and name and name not in treatments and not (key.startswith("may") and name == "all"):
            check.add(f"{place}.{key}", name, one_of(treatments))


def check_parts(check: Check, parts: Parts) -> None:
    """Note what crews, tasks, funds and events name that does not exist or does not fit."""
    for index, crew in enumerate(parts.crews):
        if crew is not None:
            _check_crew(check, f"crews[{index}]", crew, parts)
    for index, fund in enumerate(parts.funds):
        if fund is not None:
            _check_crew_names(check, f"funds[{index}].crews", fund.crews, parts)
            _check_first_year(check, f"funds[{index}].years[0]", fund.years, parts)
    for index, event in enumerate(parts.events):
        if event is not None and event.year is not None:
            _check_planned(check, f"events[{index}]", event, parts)
    for index, (strategy, tasks) in enumerate(parts.tasks):
        if strategy == NO_ACTION and tasks:
            found = Said(f"{len(tasks)} task{'s' * (len(tasks) > 1)}")
            check.add(f"strategies[{index}].tasks", found, f'none in "{NO_ACTION}"')
        for position, task in enumerate(tasks):
            if task is not None:
                _check_task(check, f"strategies[{index}].tasks[{position}]", task, parts)


def _check_task(check: Check, place: str, task: Task, parts: Parts) -> None:
    for index, name in enumerate(task.units if parts.unit_names is not None else ()):
        names = parts.unit_names or ()
        if name not in names:
            check.add(f"{place}.units[{index}]", name, one_of(names) if names else "none: the site has no units")
    named: dict[str, str | None] = {"treatment": task.treatment, "instead": task.instead}
    named["follow_up.treatment"] = task.follow_up.treatment if task.follow_up else None
    for key, treatment in named.items():
        if treatment is not None and treatment not in parts.treatments:
            check.add(f"{place}.{key}", treatment, one_of(parts.treatments))
    _check_crews(check, place, task, named, parts)
    main = parts.treatments.get(task.treatment)
    if main is not None:
        _check_fit(check, place, task, main)
    _check_first_year(check, f"{place}.years[0]", task.years, parts)


def _check_first_year(check: Check, place: str, years: Years, parts: Parts) -> None:
    if years is not None and years[0] > parts.years:
        check.add(place, years[0], f"1 to {parts.years}, the years of the experiment")


def _check_crew(check: Check, place: str, crew: Crew, parts: Parts) -> None:
    for position, name in enumerate(crew.may):
        if name not in parts.treatments and name != "all":
            check.add(f"{place}.may[{position}]", name, one_of(["all", *parts.treatments]))
    _check_first_year(check, f"{place}.years[0]", crew.years, parts)
    if crew.leader is None:
        return
    _check_crew_names(check, f"{place}.leader", (crew.leader,), parts)
    for leader in parts.crews:
        if leader is not None and leader.name == crew.leader and leader.leader is not None:
            check.add(f"{place}.leader", crew.leader, "a crew that has no leader itself")


def _check_crew_names(check: Check, place: str, names: Sequence[str], parts: Parts) -> None:
    known = [crew.name for crew in parts.crews if crew is not None]
    if len(known) < len(parts.crews):  # one is wrong in itself, so that a name that is not known may be its
        return
    for index, name in enumerate(names):
        if name not in known:
            at = place if place.endswith("leader") else f"{place}[{index}]"
            check.add(at, name, one_of(known) if known else "none: there are no crews")


def _check_planned(check: Check, place: str, event: Event, parts: Parts) -> None:
    if event.year is not None and event.year > parts.years:
        check.add(f"{place}.year", event.year, f"1 to {parts.years}, the years of the experiment")
    for axis, side in zip("xy", parts.extent or (), strict=False):
        where = getattr(event, axis)
        if where is not None and not 0 <= where <= side:
            check.add(f"{place}.{axis}", where, f"0 to {side:g} m, on the site")


def _check_crews(check: Check, place: str, task: Task, named: Mapping[str, str | None], parts: Parts) -> None:
    """Note crews that do not exist, and treatments that none of the task's crews may do."""
    crews = {crew.name: crew for crew in parts.crews if crew is not None}
    if len(crews) < len(parts.crews):  # a crew is wrong in itself: what it may do is not known
        return
    _check_crew_names(check, f"{place}.crews", task.crews, parts)
    workers = [crew for name, crew in crews.items() if not task.crews or name in task.crews]
    for key, chosen in named.items():
        treatment = None if chosen is None else parts.treatments.get(chosen)
        if treatment is not None and not any(crew.may_do(treatment) for crew in workers):
            allowed = _what_they_may(workers, parts.treatments) if crews else "no task, since there are no crews"
            check.add(f"{place}.{key}", chosen, allowed)


def _what_they_may(workers: Sequence[Crew], treatments: Mapping[str, Treatment | None]) -> str:
    known = {name: treatment for name, treatment in treatments.items() if treatment is not None}
    names = [name for name, treatment in known.items() if any(crew.may_do(treatment) for crew in workers)]
    return f"what a crew of the task may do: {one_of(names)}" if names else "no task, since no crew may do any"


def _check_fit(check: Check, place: str, task: Task, treatment: Treatment) -> None:
    """Note targets, order and seasons that the treatment cannot have."""
    kind = kind_of_work(treatment)
    if task.targets != "all" and kind != "stems":
        check.add(f"{place}.targets", task.targets, f'"all" for {treatment.name}, which does not act on stems')
    if task.order is not None and task.order not in ORDERS[kind]:
        check.add(f"{place}.order", task.order, f"{one_of(ORDERS[kind])} for {treatment.name}")
    if task.not_until == CLEAN and kind != "natives":
        check.add(
            f"{place}.not_until", task.not_until, f"{one_of(CONDITIONS[:2])} for {treatment.name}: it plants nothing"
        )
    for index, season in enumerate(task.seasons):
        if season not in treatment.seasons:
            check.add(f"{place}.seasons[{index}]", season, f"{one_of(treatment.seasons)} for {treatment.name}")
