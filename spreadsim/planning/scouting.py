"""Is it worth scouting first, and for how many hours: the same strategy with a look round before anything else."""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.decision_words import number
from spreadsim.analysis.flip_words import score_words
from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.analysis.pairs import simultaneous
from spreadsim.analysis.scoring import scores
from spreadsim.analysis.wording import percent
from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import Experiment, Strategy, Task
from spreadsim.planning.race import labelled, needed
from spreadsim.runs.progress import reporter
from spreadsim.runs.simulate import replicate_numbers
from spreadsim.runs.sweep_point import PointRunner

HOURS = (10.0, 20.0, 40.0, 80.0)
Progress = Callable[[int, int], Any]


def scout_first(
    experiment: Experiment,
    strategy: str = "",
    *,
    hours: Sequence[float] = HOURS,
    season: str = "winter",
    goals: Goals | None = None,
    replicates: int = 200,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    progress: bool | Progress = False,
) -> xr.Dataset:
    """Run a strategy as it is, and with so many hours of scouting before all else in the first year.

    The scouting takes its hours from the work of that season, and what it finds is worked from then on: both sides of
    the question are in the answer.

    Parameters
    ----------
    experiment
        With crews that may scout.
    strategy
        Its name; the last one, if not given.
    hours
        Of scouting to try.
    season
        In which, of the first year.
    goals
        Weights, or an order of which the first counts; None: as little seed leaving the site as possible.
    replicates
        Worlds, the same for all.
    seed
        Of the worlds; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    confidence
        That all intervals hold together.
    progress
        True: a bar on standard error. Or a function that is told how many of how many are done.

    Returns
    -------
    xarray.Dataset
        By hours, from 0: `mean` score; `gain`, by how much it is lower than without, with `gain_low`, `gain_high`;
        `better`, the share of worlds in which it is lower. Attributes: `hours`, those with the largest gain, 0 if no
        gain is sure; `strategy`, `sentence`.

    Raises
    ------
    InputError
        An unknown strategy, hours that are not above 0, or nobody who may scout.
    """
    goals = goals or DEFAULT
    given = _given(experiment, strategy)
    tried = sorted({float(one) for one in hours})
    if not tried or not np.isfinite(tried).all() or tried[0] <= 0:
        raise InputError(f"hours: found {show(list(hours))}, allowed numbers above 0")
    first = experiment.first_year + 1
    variants = [Strategy("as it is", tasks=given.tasks, reserve_follow_up=given.reserve_follow_up)]
    for one in tried:
        look = Task("scout", name="look first", order="walking sweep", seasons=(season,), years=(first, first), cap=one)
        variants.append(Strategy(f"{one:g} h", tasks=(look, *given.tasks), reserve_follow_up=given.reserve_follow_up))
    point = dataclasses.replace(experiment, strategies=tuple(variants), seed=experiment.seed if seed is None else seed)
    numbers = replicate_numbers(replicates)
    names = [one.name for one in variants]
    with reporter(progress) as report:
        values = PointRunner(numbers, needed(goals), False, workers).run(
            point, lambda done: report(done, len(names)), names
        )
    score = scores(labelled(point, numbers, values, names), goals)["score"].sel(strategy=names)
    return _table(experiment, given.name, [0.0, *tried], score, goals, season, confidence)


def _given(experiment: Experiment, name: str) -> Strategy:
    known = {one.name: one for one in experiment.strategies if one.tasks}
    if not known:
        raise InputError("strategies: found none that works, allowed one or more with tasks")
    if name and name not in known:
        raise InputError(f"strategy: found {show(name)}, allowed {one_of(known)}")
    return known[name] if name else list(known.values())[-1]


def _table(
    experiment: Experiment,
    name: str,
    hours: list[float],
    score: xr.DataArray,
    goals: Goals,
    season: str,
    confidence: float,
) -> xr.Dataset:
    values = score.transpose("replicate", "strategy").to_numpy()
    gain = values[:, :1] - values[:, 1:]
    low, high = simultaneous(gain, confidence, experiment.seed)
    columns = {
        "mean": values.mean(axis=0),
        "gain": np.r_[0.0, gain.mean(axis=0)],
        "gain_low": np.r_[0.0, low],
        "gain_high": np.r_[0.0, high],
        "better": np.r_[0.0, (gain > 0).mean(axis=0)],
    }
    sure = [at for at in range(1, len(hours)) if columns["gain_low"][at] > 0]
    best = max(sure, key=lambda at: columns["gain"][at], default=0)
    weights = ", ".join(f"{weight:g} x {one}" for one, weight in goals.weights.items())
    attrs = {
        "score": weights or goals.order[0],
        "strategy": name,
        "hours": hours[best],
        "worlds": values.shape[0],
        "confidence": confidence,
    }
    table = xr.Dataset({key: ("hours", column) for key, column in columns.items()}, {"hours": hours}, attrs)
    return table.assign_attrs(sentence=_sentence(table, best, season))


def _sentence(table: xr.Dataset, best: int, season: str) -> str:
    title = score_words(table)
    tried = ", ".join(f"{one:g}" for one in table["hours"].values[1:])
    at = best or 1 + int(table["gain"].to_numpy()[1:].argmax())
    row = table.isel(hours=at)
    gain, low, high = (number(float(row[key])) for key in ("gain", "gain_low", "gain_high"))
    level, worlds = percent(float(table.attrs["confidence"])), int(table.attrs["worlds"])
    sure = f"{level} intervals, all numbers of hours together, {worlds:,} worlds"
    work = f'the work of "{table.attrs["strategy"]}"'
    less = f"{gain} ({low} to {high}) less of {title} ({sure})"
    if best:
        return (
            f"Scout first, for about {float(row['hours']):g} h of the first {season}: of {tried} h tried before {work} "
            f"they gain most, {less}."
        )
    return (
        f"Scouting first is not surely worth its hours: of {tried} h in the first {season}, before {work}, "
        f"{float(row['hours']):g} h do best, with "
        + (f"{less}." if float(row["gain"]) > 0 else f"no gain: {gain} ({low} to {high}) of {title} ({sure}).")
    )
