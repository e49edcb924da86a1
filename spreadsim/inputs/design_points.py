"""The points of a design on an experiment: what each factor is there, and the experiment that it makes."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from spreadsim.errors import InputError, Problems
from spreadsim.inputs.checks import is_number
from spreadsim.inputs.design import Design
from spreadsim.inputs.design_factor import Factor
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.places import Place, find_place
from spreadsim.inputs.varied import NONE, varied

_MOST_TOLD = 50  # problems of points; the rest would be more of the same


@dataclass(frozen=True)
class DesignPoints:
    """A design bound to an experiment.

    Attributes
    ----------
    experiment : Experiment
        What is varied.
    design : Design
        How.
    places : tuple of Place
        Of the factors, in their order.
    rows : tuple of tuple
        By point, the value of each factor.
    """

    experiment: Experiment
    design: Design
    places: tuple[Place, ...]
    rows: tuple[tuple[Any, ...], ...]

    def __len__(self) -> int:
        """Count the points."""
        return len(self.rows)

    def experiment_at(self, point: int) -> Experiment:
        """Give the experiment of one point."""
        free = [factor.name for factor in self.design.factors if factor.beyond_range]
        return varied(self.experiment, dict(zip(self.places, self.rows[point], strict=True)), free)

    def factors(self, points: Sequence[int]) -> dict[str, tuple[Any, dict[str, str]]]:
        """Give the values at some points, by factor, with attributes, for the dataset."""
        known: dict[str, tuple[Any, dict[str, str]]] = {}
        for place, labels in zip(self.places, self._all_labels, strict=True):
            attrs = {"units": place.unit, "long_name": f"swept: {place.long_name}"}
            known[place.path] = (labels[list(points)], attrs)
        return known

    @cached_property
    def _all_labels(self) -> list[np.ndarray]:
        return [_labels([row[k] for row in self.rows]) for k in range(len(self.places))]


def bind(experiment: Experiment, design: Design) -> DesignPoints:
    """Find the places of all factors and check every point.

    Raises
    ------
    InputError
        Everything that is wrong: places that there are not, values that are not allowed (of each factor alone first,
        then together, with the number of the first such point).
    """
    problems = Problems()
    places: list[Place | None] = []
    for factor in design.factors:
        try:
            place = find_place(experiment, factor.name)
            _check_range(factor, place)
            for value in _tried(factor, place):
                varied(experiment, {place: value}, [factor.name] if factor.beyond_range else [])
            places.append(place)
        except InputError as error:
            problems.absorb(error)
            places.append(None)
    problems.raise_if_any()
    kept = tuple(place for place in places if place is not None)
    fractions = design.fractions()
    columns = [
        [_value(factor, place, float(u), design.kind == "grid") for u in fractions[:, k]]
        for k, (factor, place) in enumerate(zip(design.factors, kept, strict=True))
    ]
    bound = DesignPoints(experiment, design, kept, tuple(zip(*columns, strict=True)))
    _check_together(bound)
    return bound


def _check_range(factor: Factor, place: Place) -> None:
    """Refuse a factor that has neither values nor a range, and a range that its place can't divide."""
    if factor.values is not None:
        return
    found = range_of(factor, place)
    thing = f'factor "{factor.name}"'
    if found is None:
        raise InputError(f"{thing}: found neither values nor low and high, allowed either: it has no range of its own")
    if place.whole and math.ceil(found[0]) > math.floor(found[1]):
        raise InputError(f"{thing}: found {found[0]:g} to {found[1]:g}, allowed a range with a whole number in it")
    if found[2] == "log" and found[0] <= 0:
        raise InputError(f"{thing}: low: found {found[0]:g}, allowed above 0 on the log scale")


def range_of(factor: Factor, place: Place) -> tuple[float, float, str] | None:
    """Give low, high and scale of a factor: its own, or those of the parameter that it varies."""
    usual = _usual_range(place)
    if factor.low is not None and factor.high is not None:
        profile = place.parameter.scale if place.parameter is not None and factor.low > 0 else "linear"
        return factor.low, factor.high, factor.scale or profile
    if usual is None:
        return None
    return usual[0], usual[1], factor.scale or usual[2]


def _usual_range(place: Place) -> tuple[float, float, str] | None:
    parameter = place.parameter
    if parameter is None or not parameter.drawn:
        return None
    low, high = float(parameter.low or 0.0), float(parameter.high or 0.0)
    if parameter.scale == "log" and low <= 0:  # as it is drawn: as far below the value as high is above
        low = parameter.number**2 / high
    return low, high, parameter.scale


def _tried(factor: Factor, place: Place) -> Iterator[Any]:
    """Give values that stand for all of a factor: its values, or the ends of its range."""
    if factor.values is not None:
        yield from factor.values
        return
    for end in (0.0, 1.0):
        yield _value(factor, place, end, True)


def _value(factor: Factor, place: Place, fraction: float, ends: bool) -> Any:
    """Give the value at a fraction of the range; `ends`: 0 and 1 are its ends themselves."""
    if factor.values is not None:
        return factor.values[min(int(fraction * len(factor.values)), len(factor.values) - 1)]
    found = range_of(factor, place)
    if found is None:
        raise ValueError(f"{factor.name} has no range")
    low, high, scale = found
    if place.whole:
        first, last = math.ceil(low), math.floor(high)
        if ends:
            return round(first + fraction * (last - first))
        return min(last, first + math.floor(fraction * (last - first + 1)))
    if ends and fraction in (0.0, 1.0):
        return high if fraction else low
    if scale == "log":
        return math.exp(math.log(low) + fraction * (math.log(high) - math.log(low)))
    return low + fraction * (high - low)


def _check_together(bound: DesignPoints) -> None:
    """Make every point's experiment once; what is wrong is told for the first point that has it."""
    problems = Problems()
    told: set[str] = set()
    for k in range(len(bound)):
        try:
            bound.experiment_at(k)
        except InputError as error:
            for detail in error.details:
                if str(detail) not in told and len(told) < _MOST_TOLD:
                    told.add(str(detail))
                    problems.say(f"design point {k}", "", str(detail))
    problems.raise_if_any()


def _labels(values: Sequence[Any]) -> np.ndarray:
    """Values as a coordinate: numbers where all are numbers or none, else texts."""
    if all(is_number(value) or value is None for value in values) and any(is_number(value) for value in values):
        return np.array([math.nan if value is None else float(value) for value in values])
    return np.array([_text(value) for value in values], dtype=object)


def _text(value: Any) -> str:
    if value is None:
        return NONE
    if isinstance(value, str):
        return value
    if isinstance(value, tuple | list):
        return ", ".join(_text(item) for item in value)
    return json.dumps(dict(value) if isinstance(value, Mapping) else value)
