"""Money turned into hours of one crew, in place of another."""

import dataclasses
from collections.abc import Mapping, Sequence

import numpy as np

from spreadsim.errors import InputError, show
from spreadsim.inputs import Crew, Experiment, Strategy
from spreadsim.planning.questions.spans import changed_crew

_SPREAD = 3**0.5  # the turnout goes so many standard deviations to either side


def rate_of(experiment: Experiment, crew: Crew, rates: Mapping[str, float]) -> float:
    """Give the money for an hour of a crew: the rate given for it, else its price and its part of a paid leader's.

    Raises
    ------
    InputError
        An hour that costs nothing, or people who never come.
    """
    if crew.name in rates:
        rate = rates[crew.name]
    else:
        rate = crew.price if crew.paid else 0.0
        leader = next((one for one in experiment.crews if one.name == crew.leader), None)
        if leader is not None and leader.paid:
            rate += leader.price / crew.people_per_leader
    if not 0 < rate < np.inf:
        allowed = "above 0: say what an hour of theirs costs (leading, tools, food)"
        raise InputError(f'rate of "{crew.name}": found {show(rate)}, allowed {allowed}')
    if not crew.turnout > 0:
        raise InputError(f'crew "{crew.name}": found a turnout of 0, allowed above 0')
    return rate


def check_able(experiment: Experiment, strategy: Strategy, crews: Mapping[str, Crew], names: tuple[str, str]) -> None:
    """Refuse a crew that may do nothing of the strategy."""
    for name in names:
        able = [
            task.label
            for task in strategy.tasks
            if (not task.crews or name in task.crews) and crews[name].may_do(experiment.treatment(task.treatment))
        ]
        if not able:
            raise InputError(f'crew "{name}": found no task of "{strategy.name}" that it may do, allowed one or more')


def instead_of(experiment: Experiment, name: str, other: str, hours: float) -> Experiment:
    """Give the experiment with one crew for so many hours that come a year, and without the other."""
    by_name = {crew.name: crew for crew in experiment.crews}
    own, away = by_name[name], changed_crew(by_name[other], hours=(0.0, 0.0, 0.0, 0.0))
    factor = hours / own.turnout / sum(own.hours)
    here = changed_crew(own, hours=tuple(one * factor for one in own.hours))
    extra: tuple[Crew, ...] = ()
    funds = experiment.funds
    if own.leader == other:  # comes to lead, and does nothing else
        leading = f"{other}, leading"
        most = (own.turnout + _SPREAD * own.turnout_spread) / own.people_per_leader
        lead = tuple(one * most for one in here.hours)
        changes = {
            "name": leading,
            "hours": lead,
            "may": [],
            "turnout": 1.0,
            "turnout_spread": 0.0,
            "minimum_charge": 0.0,
        }
        extra = (changed_crew(by_name[other], **changes),)
        here = changed_crew(here, leader=leading)
        funds = tuple(dataclasses.replace(fund, crews=_with(fund.crews, other, leading)) for fund in funds)
    changed = {name: here, other: away}
    crews = tuple(changed.get(crew.name, crew) for crew in experiment.crews)
    return dataclasses.replace(experiment, crews=(*crews, *extra), funds=funds)


def _with(names: Sequence[str], known: str, new: str) -> tuple[str, ...]:
    return (*names, new) if known in names else tuple(names)
