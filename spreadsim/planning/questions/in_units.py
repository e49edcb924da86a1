"""Strategies held to some units of the site, and how much mat each unit has in each world."""

import dataclasses
from collections.abc import Sequence

import numpy as np

from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import Experiment, Strategy
from spreadsim.inputs.task import kind_of_work
from spreadsim.planning.questions.cases import Floats
from spreadsim.planning.questions.spans import with_tasks
from spreadsim.runs.simulate import run_one

_MOST_BYTES = 200_000_000  # of maps at a time


def units_in_order(experiment: Experiment, strategy: Strategy, order: Sequence[str] = ()) -> tuple[str, ...]:
    """Give the units in the order wanted; without one in the strategy's: as its first task with units names them.

    Raises
    ------
    InputError
        A site without units, or a name that it has not.
    """
    known = experiment.site.unit_names
    if not known:
        raise InputError(
            "site: found no units, allowed two or more: give each part of the ground that is worked as one"
        )
    if unknown := [name for name in order if name not in known]:
        raise InputError(*(f"unit: found {show(name)}, allowed {one_of(known)}" for name in unknown))
    named = next((task.units for task in strategy.tasks if task.units), ())
    return tuple(order) or tuple(dict.fromkeys([*named, *known]))


def in_units(experiment: Experiment, strategy: Strategy, names: Sequence[str]) -> Strategy:
    """Give the strategy with tasks in these units only; what goes beyond the boundary is left as it is."""
    tasks = []
    for task in strategy.tasks:
        if kind_of_work(experiment.treatment(task.treatment)) == "sources":
            tasks.append(task)
            continue
        kept = tuple(name for name in (task.units or names) if name in names)
        if kept:
            tasks.append(dataclasses.replace(task, units=kept))
    return with_tasks(strategy, tasks)


def unit_areas(experiment: Experiment) -> Floats:
    """Give the ground of each unit that the vine can grow on, m2, the first for ground in none."""
    site = experiment.site
    ground = site.plantable.ravel() * site.cell_size**2
    return np.asarray(np.bincount(site.unit.ravel(), ground, len(site.unit_names) + 1), dtype=float)


def unit_cover(
    experiment: Experiment, strategy: Strategy, numbers: Sequence[int], years: Sequence[int], workers: int | None
) -> Floats:
    """Give the mean cover of mat on each unit's ground, (replicate, year, unit); the first for ground in none."""
    site = experiment.site
    ground, areas = site.plantable.ravel() * site.cell_size**2, unit_areas(experiment)
    of_cell = site.unit.ravel()
    size = max(1, _MOST_BYTES // (4 * site.mat.size * (experiment.years + 1)))
    out = np.zeros((len(numbers), len(years), areas.size))
    mapped = dataclasses.replace(experiment, map_years=tuple(years))
    for start in range(0, len(numbers), size):
        chosen = list(numbers[start : start + size])
        data = run_one(mapped, strategy, chosen, maps="replicate", workers=workers)
        cover = data["mat_cover"]
        for at, year in enumerate(years):
            maps = cover.sel(year=year).to_numpy().reshape(len(chosen), -1)
            for row, one in enumerate(maps):
                sums = np.bincount(of_cell, weights=one * ground, minlength=areas.size)
                out[start + row, at] = np.divide(sums, areas, out=np.zeros(areas.size), where=areas > 0)
    return out
