"""What is asked of a look ahead: everything checked, and the worlds that it begins from."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.analysis.own_goals import goals_of
from spreadsim.errors import InputError, Said, one_of, show
from spreadsim.inputs import Experiment, Start, read_start, site_hash
from spreadsim.inputs.checks import Check
from spreadsim.learning.folder import START_FILE
from spreadsim.learning.task import strategy_done
from spreadsim.learning.worlds import with_hours
from spreadsim.runs.engine import World
from spreadsim.runs.simulate import check_workers, is_whole, world_of
from spreadsim.schema import SEASONS

LEAST_WORLDS, MOST_WORLDS = 20, 100_000
MOST_HOURS, MOST_YEARS = 10_000.0, 50


class Asked(NamedTuple):
    """What is to be worked out."""

    experiment: Experiment
    world: World
    chosen: list[int]  # worlds of the start
    goals: Goals
    hours: float
    step: float  # h
    horizon: int
    size: float
    season: str
    done: str  # name of the strategy that stands for the work so far
    then: str
    folder: Path | None
    seed: int


def asked_of(
    experiment: Experiment,
    hours: float,
    *,
    learned: str | Path | None,
    after: int | None,
    strategy: str | None,
    done: float,
    then: str,
    horizon: int,
    season: str,
    size: float,
    visit: float,
    goals: Goals | None,
    replicates: int,
    seed: int | None,
    workers: int | None,
) -> Asked:
    """Check all that is given.

    Raises
    ------
    InputError
        Everything that is wrong, as far as it can be told at once.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {show(experiment)}, allowed an Experiment, as read_experiment gives it")
    check_workers(workers)
    check, site = Check("look"), experiment.site
    step = check.number("visit", visit, 1.0, 480.0) / 60.0
    hours = check.number("hours", hours, 0.0, MOST_HOURS, above=True)
    if 0.0 < hours < step:
        check.add("hours", hours, f"at least one visit of {60 * step:g} minutes")
    least = max(10.0, site.cell_size)
    size = check.number("size", size, least, max(200.0, least))
    horizon = check.whole("horizon", horizon, 1, MOST_YEARS)
    check.choice("season", season, SEASONS)
    share = check.number("done", done, 0.0, 2.0)
    if not is_whole(replicates) or not LEAST_WORLDS <= replicates <= MOST_WORLDS:
        check.add("replicates", replicates, f"a whole number, {LEAST_WORLDS} to {MOST_WORLDS:,}")
        replicates = LEAST_WORLDS
    seed = experiment.seed if seed is None else check.whole("seed", seed, 0, 2**32 - 1)
    by_name = {one.name: one for one in experiment.strategies}
    if then not in by_name:
        check.add("then", then, one_of(by_name))
    folder = None if learned is None else Path(learned)
    start = experiment.start
    if folder is not None or start is not None:
        told = "a learned state" if folder is not None else "an experiment that begins from a learned state"
        for name, value, without in (("after", after, None), ("strategy", strategy, None), ("done", share, 1.0)):
            if value != without:
                check.add(name, value, f"nothing beside {told}, which holds the work that was done")
    chosen = None
    if start is None and folder is None:
        after = 1 if after is None else check.whole("after", after, 1, MOST_YEARS)
        chosen = strategy_done(experiment, strategy, check)
    if folder is not None:
        start = _learned(folder, experiment, check)
    check.done()
    if start is None:
        assert chosen is not None and after is not None
        crews = tuple(with_hours(crew, share) for crew in experiment.crews)
        numbers, values = np.arange(replicates), dict[str, Any]()
        start = Start(after, seed, numbers, values, chosen, crews, site_hash(site))
    last = start.years + horizon
    plain = dataclasses.replace(experiment, start=None)
    world = dataclasses.replace(world_of(plain, [by_name[then], start.strategy]), years=last, start=start)
    count = min(replicates, start.worlds)
    places = np.unique(np.round(np.linspace(0, start.worlds - 1, count)).astype("i8"))
    return Asked(
        experiment=experiment,
        world=dataclasses.replace(world, strategies=(by_name[then],)),
        chosen=[int(place) for place in places],
        goals=goals or goals_of(experiment) or DEFAULT,
        hours=hours,
        step=step,
        horizon=horizon,
        size=size,
        season=season,
        done=start.strategy.name,
        then=then,
        folder=folder,
        seed=seed,
    )


def _learned(folder: Path, experiment: Experiment, check: Check) -> Start | None:
    """Read the start that `learn` left in a folder."""
    path = folder / START_FILE
    if not path.exists():
        found = Said(f"no {START_FILE} in {folder}" if folder.is_dir() else f"no folder {folder}")
        check.add("learned", found, "a folder that spreadsim learn wrote")
        return None
    try:
        start = read_start(path, experiment.site)
    except InputError as error:
        check.problems.absorb(error)
        return None
    inner = Check(str(path))
    start.check_against(inner, experiment.site, "start")
    check.problems.absorb(inner.problems.error()) if inner.problems.found else None
    return start
