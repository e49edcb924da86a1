"""A start for planning again: worlds that explain a survey, put right by what it saw."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, Start, Survey
from spreadsim.inputs.site_hash import site_hash
from spreadsim.learning.amended import Amended, Then, amend, see_then, with_chances
from spreadsim.learning.finding import MODEL_ERROR
from spreadsim.learning.overlooked import HOSTS, PATCHES, Rates
from spreadsim.learning.picked import luck_of, picked, repeats
from spreadsim.learning.task import Said, Task, task_of
from spreadsim.learning.worlds import World, Worlds, with_hours
from spreadsim.log import Log, read_log
from spreadsim.runs.simulate import check_workers

_MAP = "map."  # names of what the map lacked, which are no parameters of the model
_UNSAID: Mapping[str, Any] = {
    "strategy": None,
    "done": 1.0,
    "log": None,
    "since": None,
    "on": None,
    "everywhere": False,
    "only_new": False,
    "hours_per_hectare": None,
    "overlooked_patches": None,
    "overlooked_hosts": None,
    "model_error": MODEL_ERROR,
}


def start_of(
    experiment: Experiment,
    survey: Survey | str | Path,
    learned: xr.Dataset,
    *,
    replicates: int | None = None,
    workers: int | None = None,
    **said: Any,
) -> Start:
    """Make a start for planning again from what a survey taught.

    Worlds are picked by their weights (`picked`). Each is run through the work that was done to the end of the year
    that the survey lies in, and put right by what the survey saw (`amended.amend`): recorded patches and hosts stand
    at their places and are known; what it would have found elsewhere and did not is taken away; what it missed, or
    nobody looked at, stays unknown.

    Parameters
    ----------
    experiment, survey
        As `learn` got them.
    learned
        What it gave.
    replicates
        How many worlds go on; None: as many as the experiment has replicates.
    workers
        Threads; None: one per core. Results do not depend on it.
    **said
        What `learn` was told besides, by the same names.

    Returns
    -------
    Start
        For `Experiment.start`. Worlds that were picked several times come several times; they have other luck from
        then on.

    Raises
    ------
    InputError
        What `learn` refuses, or what it learned comes from another experiment or survey.
    """
    check_workers(workers)
    if unknown := sorted(set(said) - set(_UNSAID)):
        raise InputError(*(f"start_of: found {name}, allowed {', '.join(_UNSAID)}" for name in unknown))
    numbers = learned["replicate"].to_numpy()
    seed = int(learned.attrs["seed"])
    task = task_of(
        experiment,
        survey,
        Said(**(dict(_UNSAID) | said | {"log": _log(experiment, said.get("log"))})),
        [int(n) for n in numbers],
        seed,
    )
    _check(task, learned)
    count = experiment.replicates if replicates is None else replicates
    picks = picked(learned["weight"].to_numpy(), count, seed)
    places, of_pick = np.unique(picks, return_inverse=True)
    site = task.experiment.site
    seen = [
        see_then(world, end, task.measure)
        for world, end in _worlds(task, [int(n) for n in numbers[places]], _values(learned, places), workers)
    ]
    weights, error = np.bincount(of_pick) / count, task.measure.error
    seen = with_chances(seen, weights, site.ny * site.nx, len(site.hosts), error)
    amended = [
        _amend(task, learned, int(place), seen[k], luck_of(seed, int(numbers[place]), int(again)))
        for place, k, again in zip(picks, of_pick, repeats(picks), strict=True)
    ]
    return _start(task, learned, picks, amended, said.get("log") is not None)


def _log(experiment: Experiment, log: Any) -> Log | None:
    return read_log(experiment, log) if isinstance(log, str | Path) else log


def _check(task: Task, learned: xr.Dataset) -> None:
    about = learned.attrs
    same = (
        about["surveyed"] == task.between.on.isoformat()
        and about["mapped"] == task.between.since.isoformat()
        and about["strategy"] == task.strategy.name
        and about["hours_done"] == task.done
        and learned.sizes["statistic"] == len(task.findings.statistics)
        and np.array_equal(learned["observed"].to_numpy(), [one.observed for one in task.findings.statistics])
    )
    if not same:
        raise InputError("learned: found what was learned from another survey, allowed what learn gave for this one")


def _values(learned: xr.Dataset, places: Any) -> dict[str, Any]:
    """Give the parameters of some worlds by name."""
    table = learned["value"].to_numpy()
    names = [str(name) for name in learned["parameter"].to_numpy()]
    return {name: table[k][places] for k, name in enumerate(names) if not name.startswith(_MAP)}


def _worlds(
    task: Task, numbers: list[int], values: Mapping[str, Any], workers: int | None
) -> Iterator[tuple[World, World]]:
    """Give worlds at the survey and at that year's end; one and the same where these are one."""

    def run(seasons: int) -> Iterator[World]:
        worlds = Worlds(task.experiment, task.strategy, seasons, [], task.done).others(numbers, values)
        return worlds.each(lambda world: world, workers)

    if task.between.seasons % 4 == 0:
        yield from ((world, world) for world in run(task.between.seasons))
    else:
        yield from zip(run(task.between.seasons), run(4 * task.between.years), strict=True)


def _amend(task: Task, learned: xr.Dataset, place: int, then: Then, luck: np.random.Generator) -> Amended:
    one = Rates(*(float(column[0]) for column in rates_of(learned, [place])))
    return amend(then, one, task.findings, task.measure, task.experiment.site, luck, task.logged)


def rates_of(learned: xr.Dataset, places: Any) -> tuple[Any, Any]:
    """Give how many patches and hosts the map lacked in some worlds on average, (places,) each.

    Where they are no parameter, all worlds have what was said, or there is no room for any.
    """
    names = [str(name) for name in learned["parameter"].to_numpy()]
    values = learned["value"].to_numpy()
    out = []
    for name in (PATCHES, HOSTS):
        low, high = learned.attrs[name.removeprefix(_MAP)]
        fixed = np.full(len(places), float(low) if low == high else 0.0)
        out.append(values[names.index(name)][places] if name in names else fixed)
    return out[0], out[1]


def _start(task: Task, learned: xr.Dataset, picks: Any, amended: list[Amended], logged: bool) -> Start:
    """Put the picks together."""

    def world_of(name: str) -> Any:
        return np.repeat(np.arange(len(amended)), [len(getattr(one, name)) for one in amended])

    def of(name: str, kind: Any) -> Any:
        return np.concatenate([getattr(one, name) for one in amended]).astype(kind)

    return Start(
        years=task.between.years,
        seed=task.experiment.seed,
        numbers=learned["replicate"].to_numpy()[picks],
        values=_values(learned, picks),
        strategy=task.strategy,
        site=site_hash(task.experiment.site),
        weather=task.experiment.weather if logged else None,
        crews=tuple(with_hours(crew, task.done) for crew in task.experiment.crews),
        cell_world=world_of("cell"),
        cell=of("cell", "i8"),
        cell_cover=of("cell_cover", "f8"),
        cell_known=of("cell_known", bool),
        host_world=world_of("host"),
        host=of("host", "i8"),
        host_state=of("host_state", "i8"),
        host_known=of("host_known", bool),
        surveyed=task.between.on.isoformat(),
        notice=str(learned.attrs["notice"]),
    )
