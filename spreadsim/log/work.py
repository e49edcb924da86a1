"""The work that was really done, as tasks and crews of the simulation."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from spreadsim.errors import InputError, Problems
from spreadsim.inputs import Crew, Experiment, FollowUp, Strategy, Task, Weather
from spreadsim.inputs.task import ORDERS, kind_of_work
from spreadsim.log.entry import Log
from spreadsim.log.pieces import Key, Piece, all_of, pieces_of, strategies_of
from spreadsim.schema import SEASONS

NAME = "the work that was logged"
MOST_CREWS = 32  # that the model holds, one bit each
_PEOPLE = 1000.0  # days fit to spray were there, since people sprayed
_FIT_DAYS = (80.0, 80.0, 80.0, 80.0)


class DoneWork(NamedTuple):
    """Work that was done.

    Attributes
    ----------
    strategy : Strategy
        A task for each task and unit of the log, in the order of the experiment's strategy, then of their first days.
    crews : tuple of Crew
        Their hours, season by season, are those of the log.
    remarks : tuple of str
        Hours that could not be taken, and what is only in sums as it was.
    """

    strategy: Strategy
    crews: tuple[Crew, ...]
    remarks: tuple[str, ...]


# Crews of the simulation are told apart by as much of this as the model has room for.
_APART: tuple[tuple[Callable[[Piece], tuple[Any, ...]], str], ...] = (
    (lambda piece: (piece.key, piece.crew), ""),
    (lambda piece: (piece.key.label, piece.key.treatment, piece.crew), "units are worked as the model shares them out"),
    (lambda piece: (piece.crew,), "tasks and units are worked as the model shares the crews' hours out"),
    (lambda piece: (), "only the sum of hours by season is as logged"),
)


def done_work(experiment: Experiment, log: Log) -> DoneWork:
    """Make tasks and crews of the lines of a log.

    Each task in each unit becomes one task, with the targets, order, hauling out and follow-up of the strategy's task
    of that name; so ground that it opened stays open for its later visits. It has crews of its own, whose hours in a
    season are those that were logged for it: visits and new ground together take no more, and less only where
    nothing known is left to work, or too few hours are left for a whole cell or host. Where the log is so varied that
    the model has no room for so many crews, units, and then tasks, share crews; that is said.

    The simulation goes by unit and hours, not by single hosts: a line that host 12 was cut tells it that a crew cut
    for so long in its unit, and in most worlds that order of work comes to host 12 too, but not in all;
    `start_of` then puts host 12 as logged.

    Parameters
    ----------
    experiment
        Whose tasks, crews and treatments the log names.
    log
        From `read_log`.

    Returns
    -------
    DoneWork

    Raises
    ------
    InputError
        Lines whose crew, unit or treatment the experiment no longer has.
    """
    problems, remarks = Problems(), list[str]()
    pieces = list(pieces_of(experiment, log, problems, remarks))
    problems.raise_if_any()
    keys = _in_order(experiment, log, dict.fromkeys(piece.key for piece in pieces))
    apart, told = next(
        (one for one in _APART if len({(*one[0](piece), piece.season // 4) for piece in pieces}) <= MOST_CREWS),
        (None, ""),
    )
    if apart is None:
        raise InputError(f"log: found work in more than {MOST_CREWS} years, allowed as many as the model has room for")
    if told:
        remarks.append(f"the log is too varied for the model, so {told}")
    crews: dict[tuple[Any, ...], list[Piece]] = defaultdict(list)
    for piece in pieces:
        crews[(*apart(piece), piece.season // 4)].append(piece)
    built = [(_crew(experiment, f"crew {k} of the log", own), own) for k, own in enumerate(crews.values(), 1)]
    tasks = []
    for key in keys:
        mine = [piece for piece in pieces if piece.key == key]
        theirs = [crew for crew, own in built if any(piece.key == key for piece in own)]
        tasks.append(_task(experiment, key, mine, theirs))
    if experiment.site.unit_names and any(not key.unit for key in keys):
        remarks.append("hours outside the units are worked anywhere on the site")
    why = "As the log has it." if tasks else "The log has no work."
    first = strategies_of(experiment, log)[0]  # no action, which reserves, where no line names one
    strategy = Strategy(NAME, tasks=tasks, reserve_follow_up=first.reserve_follow_up, why=why)
    return DoneWork(strategy, tuple(crew for crew, _ in built), tuple(remarks))


def as_worked(experiment: Experiment, log: Log) -> tuple[Experiment, tuple[str, ...]]:
    """Give an experiment with the work that was done in place of its strategies, and remarks.

    Days were fit for what was sprayed and money was there for what was done, so neither is a limit.
    """
    work = done_work(experiment, log)
    last = max((crew.years[1] or 1 for crew in work.crews if crew.years), default=1)
    worked = dataclasses.replace(
        experiment,
        crews=work.crews,
        strategies=(work.strategy,),
        funds=(),
        weather=Weather(_FIT_DAYS),
        years=max(experiment.years, last),
    )
    return worked, work.remarks


def _in_order(experiment: Experiment, log: Log, keys: Iterable[Key]) -> list[Key]:
    """Give tasks as the strategies have them, others after them by day.

    Crews work side by side, so days don't say who comes to a host first; a strategy's order does: it puts what goes to
    few hosts, such as those that fruit, before what goes to all.
    """
    places = [task for strategy in strategies_of(experiment, log) for task in strategy.tasks]
    return sorted(keys, key=lambda key: places.index(key.like) if key.like in places else len(places))


def _crew(experiment: Experiment, name: str, pieces: Sequence[Piece]) -> Crew:
    """Give a crew with the hours of a year of the log, at the pace of the crew that worked most of them."""
    by_crew: dict[str, float] = defaultdict(float)
    hours = dict.fromkeys(SEASONS, 0.0)
    for piece in pieces:
        by_crew[piece.crew] += piece.hours
        hours[SEASONS[piece.season % 4]] += piece.hours
    most = max(by_crew, key=by_crew.__getitem__)
    like = next(crew for crew in experiment.crews if crew.name == most)
    used = {piece.key.treatment for piece in pieces} | {piece.written for piece in pieces if piece.written}
    for task in {piece.key.like for piece in pieces if piece.key.like is not None}:
        used |= {one for one in all_of(task) if like.may_do(experiment.treatment(one))}
    year = pieces[0].season // 4 + 1
    # hours of leaders and of setting up are in the log where people wrote them down
    return Crew(
        name,
        hours,
        sorted(used),
        volunteers=like.volunteers,
        pace=like.pace,
        paid=False,
        people=_PEOPLE,
        session_hours=like.session_hours,
        setup_hours=like.setup_hours,
        walking_minutes=like.walking_minutes,
        years=(year, year),
    )


def _task(experiment: Experiment, key: Key, pieces: Sequence[Piece], crews: Sequence[Crew]) -> Task:
    """Give a task with all its years; what held the plan back (caps, shares, conditions, permits) is no limit."""
    like = key.like
    may = {name for crew in crews for name in crew.may}
    by_season: dict[int, float] = defaultdict(float)
    for piece in pieces:
        by_season[piece.season] += piece.hours
    follow_up, instead, order, targets, haul_out = None, None, None, "all", False
    if like is not None:
        follow_up, instead = like.follow_up, like.instead if like.instead in may else None
        order, targets, haul_out = like.order, like.targets, like.haul_out
        if follow_up is not None and follow_up.treatment not in (*may, None):
            follow_up = FollowUp(follow_up.every, follow_up.clean)
    where = key.unit or ("outside the units" if experiment.site.unit_names else "")
    kinds = ORDERS[kind_of_work(experiment.treatment(key.treatment))]
    return Task(
        key.treatment,
        name=f"{key.label}, {where}" if where else key.label,
        targets=targets,
        order=order if order in kinds else None,
        units=(key.unit,) if key.unit else (),
        seasons=tuple(season for k, season in enumerate(SEASONS) if any(one % 4 == k for one in by_season)),
        years=(min(by_season) // 4 + 1, max(by_season) // 4 + 1),
        cap=max(by_season.values()),
        follow_up=follow_up,
        instead=instead,
        crews=tuple(crew.name for crew in crews),
        haul_out=haul_out,
    )
