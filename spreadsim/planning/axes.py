"""What a decision grid goes along: one fact of the experiment, with the values that it takes."""

import dataclasses
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import Crew, Experiment, Strategy, Task, site_hash
from spreadsim.inputs.places import find_place
from spreadsim.inputs.varied import varied

ALLOWED, FORBIDDEN = "allowed", "not allowed"
_MOST = 64


@dataclass(frozen=True)
class Axis:
    """One side of a decision grid.

    Attributes
    ----------
    name : str
        As it was asked for: one of `PLAIN`, or a path as in a sweep (``funds.grant.amount``).
    values : tuple
        What it takes, numbers or texts.
    title : str
        For people.
    unit : str
        Of the values; empty for texts.
    """

    name: str
    values: tuple[Any, ...]
    title: str
    unit: str = ""


def _hours(experiment: Experiment, factor: float) -> Experiment:
    crews = [_crew(crew, hours=tuple(hours * factor for hours in crew.hours)) for crew in experiment.crews]
    return dataclasses.replace(experiment, crews=tuple(crews))


def _budget(experiment: Experiment, factor: float) -> Experiment:
    if not experiment.funds:
        raise InputError("budget: found an experiment without [[funds]], allowed one with them; or take hours")
    funds = [dataclasses.replace(fund, amount=fund.amount * factor) for fund in experiment.funds]
    return dataclasses.replace(experiment, funds=tuple(funds))


def _start(experiment: Experiment, year: float) -> Experiment:
    """No crew works before this year."""
    first = round(year)
    crews = []
    for crew in experiment.crews:
        begin, end = crew.years or (1, None)
        if end is not None and end < first:
            raise InputError(f'start: found year {first}, allowed up to {end}, after which crew "{crew.name}" is gone')
        crews.append(_crew(crew, years=(max(begin, first), end)))
    return dataclasses.replace(experiment, crews=tuple(crews))


def _outside(experiment: Experiment, factor: float) -> Experiment:
    """Seed from planted sources and from farther off, so many times what it is."""
    site = experiment.site
    sources = dataclasses.replace(site.sources, hosts=site.sources.hosts * factor)
    changed = dataclasses.replace(site, sources=sources, background_seed=site.background_seed * factor)
    start = experiment.start
    if start is not None:  # the years before had that seed as well
        start = dataclasses.replace(start, site=site_hash(changed))
    return dataclasses.replace(experiment, site=changed, start=start)


def _spray(experiment: Experiment, word: str) -> Experiment:
    """With or without what must wait for weather fit to spray; a task does what it names instead, or is left out."""
    if word == ALLOWED:
        return experiment
    known = experiment.known_treatments()
    sprays = {name for name in known if experiment.treatment(name).needs_fit_weather}
    crews = []
    for crew in experiment.crews:
        may = known if "all" in crew.may else crew.may
        crews.append(_crew(crew, may=tuple(name for name in may if name not in sprays)))
    strategies = []
    for strategy in experiment.strategies:
        tasks = [_unsprayed(task, sprays) for task in strategy.tasks]
        plain = strategy.to_dict() | {"tasks": [task for task in tasks if task is not None]}
        strategies.append(Strategy.from_dict(plain))
    return dataclasses.replace(experiment, crews=tuple(crews), strategies=tuple(strategies))


def _unsprayed(task: Task, sprays: Collection[str]) -> dict[str, Any] | None:
    """Plain data of a task without sprays; None if nothing is left of it."""
    plain = task.to_dict()
    if plain["instead"] in sprays:
        plain["instead"] = None
    if plain["follow_up"] is not None and plain["follow_up"]["treatment"] in sprays:
        plain["follow_up"] = plain["follow_up"] | {"treatment": None}
    if plain["treatment"] in sprays:
        if plain["instead"] is None:
            return None
        plain |= {"name": task.label, "treatment": plain["instead"], "instead": None}
    return plain


def _crew(crew: Crew, **changes: Any) -> Crew:
    return Crew.from_dict(crew.to_dict() | changes)


def _parameter(path: str) -> Callable[[Experiment, float], Experiment]:
    def change(experiment: Experiment, value: float) -> Experiment:
        return varied(experiment, {find_place(experiment, path): value})

    return change


_FRUITING, _SPEED = "climb.share_of_mature_climbers_fruiting", "mat.front_speed"
_CHANGES: Mapping[str, Callable[[Experiment, Any], Experiment]] = MappingProxyType(
    {
        "hours": _hours,
        "budget": _budget,
        "start": _start,
        "outside-seed": _outside,
        "spray": _spray,
        "share-fruiting": _parameter(_FRUITING),
        "front-speed": _parameter(_SPEED),
    }
)
# title, unit, and the values if none are given: from, to
PLAIN: Mapping[str, tuple[str, str, tuple[float, float] | None]] = MappingProxyType(
    {
        "hours": ("hours of all crews, as many times those planned", "times", (0.5, 2.0)),
        "budget": ("money in all funds, as many times what it is", "times", (0.5, 2.0)),
        "start": ("first year of work", "year", (1.0, 8.0)),
        "outside-seed": ("seed from outside, as many times what it is", "times", (0.0, 4.0)),
        "spray": ("treatments that need weather fit to spray", "", None),
        "share-fruiting": ("share of old climbers that fruit", "1", None),
        "front-speed": ("speed of the front", "m/yr", None),
    }
)


def read_axis(experiment: Experiment, text: str, steps: int) -> Axis:
    """Read an axis as it is typed: ``hours``, ``hours=0.5:2``, ``start=1,3,5`` or ``funds.grant.amount=1000:9000``.

    Parameters
    ----------
    experiment : Experiment
        What it is of; a parameter without values goes over its range.
    text : str
        A name of `PLAIN` or a path as in a sweep, then, if wanted, ``=LOW:HIGH`` or ``=`` and a list by commas.
    steps : int
        Values from low to high.

    Raises
    ------
    InputError
        A name that is not there, values that are none or that the experiment does not allow.
    """
    name, _, given = text.partition("=")
    name = name.strip()
    if not 2 <= steps <= _MOST:
        raise InputError(f"steps: found {steps}, allowed 2 to {_MOST}")
    title, unit, span = PLAIN.get(name, ("", "", None))
    if name == "start":
        now = experiment.first_year
        span = now + 1.0, float(min(now + 8, experiment.years))
    path = {"share-fruiting": _FRUITING, "front-speed": _SPEED}.get(name, name)
    if name not in PLAIN or path != name:
        place = find_place(experiment, path)
        title, unit = title or place.path, unit or place.unit
        if place.parameter is not None and place.parameter.low is not None and place.parameter.high is not None:
            span = float(place.parameter.low), float(place.parameter.high)
    values = (ALLOWED, FORBIDDEN) if name == "spray" else _values(name, given.strip(), span, steps)
    if name == "start":
        values = tuple(sorted({round(value) for value in values}))
    if len(values) < 2:
        raise InputError(f"{name}: found one value, allowed two or more")
    axis = Axis(name, values, title, "" if isinstance(values[0], str) else unit)
    for value in values:
        changed(experiment, axis, value)
    return axis


def _values(name: str, given: str, span: tuple[float, float] | None, steps: int) -> tuple[Any, ...]:
    if not given:
        if span is None:
            raise InputError(f"{name}: found no values, allowed {name}=LOW:HIGH or {name}=FIRST,SECOND,...")
        return tuple(float(value) for value in np.linspace(*span, steps))
    try:
        if ":" in given:
            low, high = (float(part) for part in given.split(":"))
            if not (np.isfinite([low, high]).all() and low < high):
                raise ValueError
            return tuple(float(value) for value in np.linspace(low, high, steps))
        numbers = [float(part) for part in given.split(",")]
        if not np.isfinite(numbers).all() or len(set(numbers)) < len(numbers):
            raise ValueError
        return tuple(sorted(numbers))
    except ValueError:
        allowed = "LOW:HIGH, the lower first, or different numbers with commas"
        raise InputError(f"{name}: found {show(given)}, allowed {allowed}") from None


def changed(experiment: Experiment, axis: Axis, value: Any) -> Experiment:
    """Give the experiment with one value of an axis.

    Raises
    ------
    InputError
        The experiment does not allow the value.
    """
    change = _CHANGES.get(axis.name, _parameter(axis.name))
    try:
        return change(experiment, value)
    except InputError as error:
        raise InputError(*(f"{axis.name}={value}: {problem}" for problem in error.problems)) from error


def strategies_of(experiment: Experiment, names: Sequence[str]) -> tuple[Strategy, ...]:
    """Give the strategies named, in the experiment's order; all if none is named.

    Raises
    ------
    InputError
        A name that the experiment does not have, or fewer than two strategies.
    """
    known = [strategy.name for strategy in experiment.strategies]
    for name in names:
        if name not in known:
            raise InputError(f"strategy: found {show(name)}, allowed {one_of(known)}")
    chosen = tuple(strategy for strategy in experiment.strategies if not names or strategy.name in names)
    if len(chosen) < 2:
        raise InputError(f"strategies: found {len(chosen)}, allowed two or more")
    return chosen
