"""What changed against last year's plan, and what of it came from where."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import by_year
from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Experiment, Start, Strategy, experiment_of
from spreadsim.inputs.site_hash import site_hash
from spreadsim.runs.simulate import run_one

MEASURED = ("infested_area", "fruiting_hosts", "seeds_exported")
UNITS = ("m2", "1", "1")
CAUSES = ("work", "worlds", "places")
RESAMPLES = 4000
CONFIDENCE = 0.9


def changed(
    experiment: Experiment,
    start: Start,
    before: xr.Dataset,
    outcomes: xr.Dataset,
    strategy: str,
    *,
    workers: int | None = None,
) -> xr.Dataset:
    """Tell how what is expected of a strategy has changed since last year, and why.

    Three things are new. The work that was done was not the strategy in full; the survey made some worlds (parameters
    and what grew in them) more likely than others; and it says at what places vine is and is not. The strategy is run
    with the first two switched one at a time, in the same worlds each, and each gets the average of what it changes
    over both orders (Shapley 1953); the places come last, since they are known of the worlds that explain the survey
    alone.

    Parameters
    ----------
    experiment
        What is asked, without regard to its start.
    start
        The learned state.
    before
        Last year's comparison, from the map.
    outcomes
        This year's, from the start.
    strategy
        Of both.
    workers
        Threads; None: one per core. Results do not depend on it.

    Returns
    -------
    xarray.Dataset
        By measure: ``then`` and ``now`` with the range of 90 % of the worlds, ``change`` of the mean, and ``part``
        (cause, measure) of it; both with their 90 % intervals, by resampling worlds (repeats of one together). Area and
        hosts are those at the end of the last year, seeds those of the years that remain.

    Raises
    ------
    InputError
        Last year's comparison is of another site, of other years, or has no such strategy.
    """
    check_before(experiment, start, before, strategy)
    chosen = next(one for one in experiment.strategies if one.name == strategy)
    numbers = before["replicate"].to_numpy()
    plain = dataclasses.replace(
        start,
        cell_world=(),
        cell=(),
        cell_cover=(),
        cell_known=(),
        host_world=(),
        host=(),
        host_state=(),
        host_known=(),
    )
    prior = dataclasses.replace(plain, numbers=numbers, values={})

    def run(begin: Start, work: Strategy, crews: Sequence[Crew]) -> Any:
        weather = start.weather if work is start.strategy else None
        begun = dataclasses.replace(begin, strategy=work, crews=tuple(crews), weather=weather)
        return _ends(_run(experiment, begun, chosen, workers), start.years)

    last = _ends(before.sel(strategy=[strategy]), start.years)
    with_work = run(prior, start.strategy, start.crews)
    with_worlds = run(plain, chosen, experiment.crews)
    with_both = run(plain, start.strategy, start.crews)
    now = _ends(outcomes.sel(strategy=[strategy]), start.years)
    old = np.stack([last, with_work])  # (2, measures, worlds)
    new = np.stack([with_worlds, with_both, now])
    return _labelled(old, new, start, experiment, strategy)


def check_before(experiment: Experiment, start: Start, before: xr.Dataset, strategy: str | None = None) -> None:
    """Refuse a comparison that can't be last year's; `InputError` with all that is wrong."""
    asked, wrong = experiment_of(before), []
    if asked.start is not None:
        wrong.append("before: found a comparison that begins from a survey, allowed one that begins from the map")
    if site_hash(asked.site) != site_hash(experiment.site):
        wrong.append(
            "before: found a comparison on another site (or another map of it), allowed one on the experiment's; left "
            "out, last year's question is run again on this map"
        )
    if asked.years != experiment.years:
        wrong.append(f"before: found {asked.years} years, allowed {experiment.years}, as the experiment has")
    if int(before.attrs.get("seed", -1)) != start.seed:
        wrong.append(f"before: found seed {before.attrs.get('seed')}, allowed {start.seed}, that of the worlds")
    if strategy is not None and strategy not in before["strategy"].to_numpy():
        wrong.append(f'before: found no strategy "{strategy}", allowed a comparison that has it')
    if wrong:
        raise InputError(*wrong)


def _run(experiment: Experiment, start: Start, strategy: Strategy, workers: int | None) -> xr.Dataset:
    begun = dataclasses.replace(experiment, start=start, seed=start.seed)
    return run_one(begun, strategy, range(start.worlds), workers=workers).expand_dims(strategy=[strategy.name])


def _ends(dataset: xr.Dataset, first: int) -> Any:
    """Give the measures, (measures, worlds)."""
    last = int(dataset["year"].to_numpy()[-1])
    rows = []
    for name in MEASURED:
        values = by_year(dataset, name).isel(strategy=0)
        if name == "seeds_exported":
            rows.append(values.sel(year=slice(first + 1, last)).sum("year").to_numpy())
        else:
            rows.append(values.sel(year=last).to_numpy())
    return np.array(rows, dtype=float)


def _parts(old: Any, new: Any) -> Any:
    """Give the change and its parts, (1 + parts, measures), from means of the five cases."""
    last, with_work = old
    with_worlds, with_both, now = new
    work = 0.5 * ((with_work - last) + (with_both - with_worlds))
    worlds = 0.5 * ((with_worlds - last) + (with_both - with_work))
    return np.stack([now - last, work, worlds, now - with_both])


def _resampled(old: Any, new: Any, start: Start) -> Any:
    """Resample worlds from the map, and different worlds of the start with all their repeats; (resamples, ...)."""
    luck = np.random.Generator(np.random.PCG64([start.seed, start.worlds, old.shape[2]]))
    place = np.unique(start.numbers, return_inverse=True)[1].ravel()
    many = int(place.max()) + 1
    counts = np.bincount(place)
    sums = np.stack([[np.bincount(place, weights=row, minlength=many) for row in case] for case in new])
    out = []
    for _ in range(RESAMPLES):
        some = np.bincount(luck.integers(0, old.shape[2], old.shape[2]), minlength=old.shape[2]) / old.shape[2]
        others = np.bincount(luck.integers(0, many, many), minlength=many)
        out.append(_parts(old @ some, sums @ others / float(others @ counts)))
    return np.array(out)


def _labelled(old: Any, new: Any, start: Start, experiment: Experiment, strategy: str) -> xr.Dataset:
    tails = [(1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2]
    middle = _parts(old.mean(axis=2), new.mean(axis=2))
    low, high = np.quantile(_resampled(old, new, start), tails, axis=0)
    share = f"{CONFIDENCE:.0%}".replace("%", " %")

    def of(dims: Any, values: Any, text: str) -> Any:
        return (dims, values, {"long_name": text})

    data = {}
    for name, case in (("then", old[0]), ("now", new[-1])):
        further, nearer = np.quantile(case, tails, axis=1)
        data[name] = of("measure", case.mean(axis=1), "mean of the worlds")
        data[f"{name}_low"] = of("measure", further, f"lower end of {share} of the worlds")
        data[f"{name}_high"] = of("measure", nearer, f"upper end of {share} of the worlds")
    for end, values in (("", middle), ("_low", low), ("_high", high)):
        what = {"": "mean", "_low": f"lower end of the {share} interval", "_high": "upper end of it"}[end]
        data[f"change{end}"] = of("measure", values[0], f"now less then, {what}")
        data[f"part{end}"] = of(("cause", "measure"), values[1:], f"part of the change, {what}")
    return xr.Dataset(
        data,
        {"measure": list(MEASURED), "cause": list(CAUSES), "unit": ("measure", list(UNITS))},
        {
            "title": experiment.title,
            "strategy": strategy,
            "done": start.strategy.name,
            "year": experiment.years,
            "years": start.years,
            "confidence": CONFIDENCE,
            "worlds_then": old.shape[2],
            "worlds_now": start.worlds,
        },
    )
