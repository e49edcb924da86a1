"""The goals that an experiment carries, checked against what it has."""

from pathlib import Path

import xarray as xr

from spreadsim.analysis.goals import NET_PRESENT_COST, Goals, make_goals, read_goals
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.scoring import is_meant
from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.embed import GOALS, unembed
from spreadsim.inputs.experiment import Experiment


def goals_of(experiment: Experiment) -> Goals | None:
    """Give what an experiment says that strategies are judged by.

    Parameters
    ----------
    experiment
        As it was read, or made with `goals`.

    Returns
    -------
    Goals or None
        None where it says nothing.

    Raises
    ------
    InputError
        Everything that is wrong with its table ``[goals]``: what cannot be read, and units, treatments and years that
        the experiment does not have.
    """
    if not experiment.goals:
        return None
    source = str(experiment.path) if experiment.path is not None else f'Experiment "{experiment.title}"'
    check = Check(source)
    goals = None
    try:
        goals = make_goals(experiment.goals, source)
    except InputError as error:
        check.problems.absorb(error, place="goals")
    if goals is not None:
        check_fit(check, goals, experiment)
    check.done()
    return goals


def goals_in(dataset: xr.Dataset) -> Goals | None:
    """Give the goals of the experiment that a dataset came from; None without them.

    Raises
    ------
    InputError
        They are not allowed.
    """
    return goals_of(unembed(dataset)) if GOALS in dataset else None


def check_fit(check: Check, goals: Goals, experiment: Experiment) -> None:
    """Note what goals ask of an experiment that it does not have."""
    for at, limit in enumerate(goals.limits):
        place = f"goals.limits[{at}]"
        units = experiment.site.unit_names
        if limit.unit and limit.unit not in units:
            check.add(f"{place}.unit", limit.unit, one_of(units) if units else "no unit: the site has none")
        known = experiment.known_treatments()
        if limit.no and not any(is_meant(name, limit.no) for name in known):
            check.add(f"{place}.no", limit.no, f"{one_of(known)}, or the last word of some, such as spray")
        if limit.by is not None and limit.by > experiment.years:
            check.add(f"{place}.by", limit.by, f"1 to {experiment.years}, the years that are run")
    if not -experiment.years <= goals.year <= experiment.years:
        check.add("goals.year", goals.year, f"{-experiment.years} to {experiment.years}; negative ones from the last")


def goals_words(goals: Goals, system: str = "metric") -> str:
    """Say in a sentence what goals ask for, in the units of a system, "metric" or "us"."""
    if goals.weights:
        parts = [f"{weight:g} x {title_of(name)}" for name, weight in goals.weights.items()]
        told = f"the least of {' + '.join(parts)}"
    elif goals.order:
        most = ("native_cover",)
        told = ", then ".join(f"the {'most' if name in most else 'least'} {title_of(name)}" for name in goals.order)
    else:
        told = "the least seed leaving the site, then infested area"
    if goals.limits:
        told += f"; within these limits: {'; '.join(limit.words(system) for limit in goals.limits)}"
    return f"Judged by: {told}."


def title_of(name: str) -> str:
    """Name an outcome for people."""
    if name == NET_PRESENT_COST:
        return "net present cost"
    return next(measure.title for measure in MEASURES if measure.name == name)


def goals_for(experiment: Experiment, path: Path | None) -> Goals | None:
    """Give the goals of a file, checked against an experiment; without a file, the experiment's own, or None.

    Raises
    ------
    InputError
        What is wrong with them.
    """
    if path is None:
        return goals_of(experiment)
    goals = read_goals(path)
    check = Check(str(path))
    check_fit(check, goals, experiment)
    check.done()
    return goals
