"""Checks of a learned state against the experiment that begins from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cross_checks import Parts, check_parts
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.site import Site
from spreadsim.inputs.start import Start

_NEAR = 1e-9  # what rounding may put a value beyond its range, relative


def check_start(
    check: Check, start: Start, site: Site, vine: Mapping[str, Parameter], parts: Parts, place: str = "start"
) -> None:
    """Note what of a start does not fit the experiment: its site, years, work and parameters.

    Parameters
    ----------
    vine
        Its parameters by "process.name".
    parts
        Of the experiment: the work that was done may name its treatments, units and years.
    """
    start.check_against(check, site, place)
    if start.years >= parts.years:
        allowed = f"1 to {parts.years - 1}: it must end before the years of the experiment do"
        check.add(f"{place}.years", start.years, allowed if parts.years > 1 else "an experiment of more years than one")
    work = replace(parts, crews=start.crews, tasks=[("the work that was done", start.strategy.tasks)], funds=())
    inner = Check(check.thing)
    check_parts(inner, replace(work, events=()))
    for problem in inner.problems.found:
        where = problem.place.removeprefix("strategies[0].").replace("tasks[", "strategy.tasks[", 1)
        check.problems.say(check.thing, f"{place}.{where}", problem.text)
    known = dict(vine)
    for one in parts.treatments.values():
        if one is not None:
            known |= {f"{one.name}.{role}": parameter for role, parameter in one.parameters.items()}
    for name, column in start.values.items():
        _check_values(check, f'{place}.values["{name}"]', known.get(name), column)


def _check_values(check: Check, place: str, parameter: Parameter | None, column: np.ndarray) -> None:
    if parameter is None:
        check.add(place, Said("values of a parameter that is not known"), "one of the vine or of a treatment")
        return
    if not parameter.drawn or parameter.low is None or parameter.high is None:
        return
    room = _NEAR * max(abs(parameter.low), abs(parameter.high))
    outside = np.flatnonzero((column < parameter.low - room) | (column > parameter.high + room))
    if len(outside):
        allowed = f"{parameter.low:g} to {parameter.high:g}, its range"
        check.add(f"{place}[{outside[0]}]", float(column[outside[0]]), allowed)
