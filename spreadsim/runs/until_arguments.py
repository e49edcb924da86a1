"""Checks of what `compare_until` is asked for."""

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from spreadsim.analysis.outcomes import check_confidence
from spreadsim.analysis.stopping import GOALS, Width
from spreadsim.errors import InputError, Problems, one_of, show
from spreadsim.inputs.checks import is_number
from spreadsim.runs.simulate import is_whole
from spreadsim.schema import VARIABLES

OUTCOMES = tuple(
    name
    for name, one in VARIABLES.items()
    if {"strategy", "replicate", "year"} <= set(one.dims) and not one.is_map and "fund" not in one.dims
)
_FEWEST_FIRST = 20


def widths_of(half_width: Any, outcomes: Sequence[str]) -> dict[str, Width]:
    """Give the half-width to reach by outcome; those named if one share is given for all.

    Raises
    ------
    InputError
        Unknown outcomes and widths that are no width, all of them.
    """
    if not isinstance(half_width, Mapping):
        if not is_number(half_width) or not 0 < float(half_width) < math.inf:
            raise InputError(
                f"half_width: found {show(half_width)}, allowed a share of the mean with no action, above 0, such as "
                "0.05, or widths by name of outcome"
            )
        return {name: Width(float(half_width), share=True) for name in outcomes}
    problems = Problems()
    widths: dict[str, Width] = {}
    if not half_width:
        problems.add("half_width", "", {}, "at least one outcome")
    for name, given in half_width.items():
        if name not in OUTCOMES:
            problems.add("half_width", "", name, one_of(OUTCOMES))
        width = _width(given)
        if width is None:
            problems.add(f'half_width "{name}"', "", given, 'a number above 0, or a share of no action, such as "5%"')
        elif width.share and name in OUTCOMES and "task" in VARIABLES[name].dims:
            problems.add(f'half_width "{name}"', "", given, "a number in its unit: no action works no hours")
        else:
            widths[str(name)] = width
    problems.raise_if_any()
    return widths


def check_goal(goal: object, confidence: Any, first: Any, most: Any) -> None:
    """Refuse goals, confidences and numbers of replicates that can't be, all of them."""
    problems = Problems()
    if goal not in GOALS:
        problems.add("goal", "", goal, one_of(GOALS))
    try:
        check_confidence(confidence)
    except InputError as error:
        problems.absorb(error)
    if not is_whole(first) or int(first) < _FEWEST_FIRST:
        problems.add("first", "", first, f"a whole number, at least {_FEWEST_FIRST}")
    elif not is_whole(most) or not int(first) <= int(most) <= 1_000_000:
        problems.add("most", "", most, f"a whole number, {first} (the first look) to 1000000")
    problems.raise_if_any()


def check_year(year: Any, years: int, outcomes: Collection[str], first: int = 0) -> int:
    """Give the year that is meant; flows have none at the start."""
    flows = [name for name in outcomes if VARIABLES[name].flow]
    lowest = first + (1 if flows else 0)
    label = int(year) + years + 1 if is_whole(year) and int(year) < 0 else year
    if not is_whole(label) or not lowest <= int(label) <= years:
        raise InputError(f"year: found {show(year)}, allowed {lowest} to {years}, or -1 (last), -2 and so on")
    return int(label)


def _width(given: Any) -> Width | None:
    share = isinstance(given, str) and given.strip().endswith("%")
    text = str(given).strip().removesuffix("%") if share else given
    try:
        size = float(text) / (100 if share else 1)
    except (TypeError, ValueError):
        return None
    usable = share or is_number(given)
    return Width(size, share) if usable and 0 < size < math.inf else None
