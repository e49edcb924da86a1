"""A film: a few chosen replicates season by season, for pictures and the class page."""

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, Strategy
from spreadsim.model.compiled import put_back
from spreadsim.model.kernels.film import FATE, FATE_IN, FOUND, KNOWN, WAITING
from spreadsim.model.memory import new_film, new_tally
from spreadsim.runs.engine import Engine
from spreadsim.runs.outcomes import about
from spreadsim.runs.pool import Memories
from spreadsim.runs.simulate import check_workers, replicate_numbers, shown, world_of
from spreadsim.schema import SEASONS
from spreadsim.schema_film import START, build_film

_WHAT = "Cover, what hosts look like, work and seeds that landed, season by season."
_CLIMBED = (1, 4)  # host_state: climbing and fruiting


def film(
    experiment: Experiment,
    *,
    replicates: int | Iterable[int] = (0, 1, 2),
    strategies: Sequence[str] | None = None,
    seed: int | None = None,
    workers: int | None = None,
) -> xr.Dataset:
    """Run a few replicates again and keep what is seen after every season.

    The worlds are those of `compare`, bit for bit: the film's year ends are its outcomes.

    Parameters
    ----------
    experiment
        What to film.
    replicates
        Numbers of the replicates, or how many of the first.
    strategies
        Names of those to film; None: all.
    seed
        0 to 2**32 - 1; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.

    Returns
    -------
    xarray.Dataset
        As registered in `spreadsim.schema_film`: `cover` and `ground_marks` (strategy, replicate, step, y, x) take a
        byte per cell each; `host_state` and `host_marks` (..., step, host); `mat_area`; hours by task; and the seeds
        that landed where they could root (..., landing), with what became of them. Step 0 is the start (a learned
        one: with the seeds that wait there), step n the state after n seasons; coordinates `year` and `season` say
        which. Seeds that would sprout after the last year are not in it.

    Raises
    ------
    InputError
        For arguments that can't be used.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {experiment!r}, allowed an Experiment, as read_experiment gives it")
    check_workers(workers)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    numbers = replicate_numbers(replicates)
    chosen = _chosen(experiment, strategies)
    engine = Engine(world_of(experiment, chosen), experiment.seed, (), False)
    reels = _shoot(engine, numbers, workers)
    return build_film(
        _values(engine, reels, len(numbers)),
        _coordinates(engine, chosen, numbers),
        about(experiment, numbers, _WHAT),
    )


def _chosen(experiment: Experiment, names: Sequence[str] | None) -> list[Strategy]:
    by_name = {strategy.name: strategy for strategy in experiment.strategies}
    wanted = list(by_name) if names is None else names
    named = isinstance(wanted, Sequence) and not isinstance(wanted, str)
    if not named or not wanted or not all(isinstance(name, str) for name in wanted):
        raise InputError(f"strategies: found {shown(names)}, allowed a list of names: {', '.join(by_name)}")
    if unknown := [name for name in wanted if name not in by_name]:
        raise InputError(f"strategies: found {', '.join(map(repr, unknown))}, allowed {', '.join(by_name)}")
    return [by_name[name] for name in dict.fromkeys(wanted)]


def _shoot(engine: Engine, numbers: Sequence[int], workers: int | None) -> list[Any]:
    """Tallies by strategy, then replicate; each thread takes a working memory while it runs."""
    vines, treatments, _ = engine.draw(numbers)
    runs = [(s, i) for s in range(len(engine.plans)) for i in range(len(numbers))]

    def one(place: tuple[int, int], state: Any) -> tuple[Any, Any]:
        s, i = place
        years, nothing = engine.world.years, np.zeros((0, 0), "i8")

        def empty(state: Any) -> Any:
            return new_tally(engine.plans[s], years, 0, engine.map_slot, nothing, False, new_film(state, years))

        tally, state, plan = engine.play(state, numbers[i], s, vines[i : i + 1], treatments[i], empty)
        put_back(engine.ground, plan, state)
        return _from_start(tally, engine.world.first_year), state

    return list(Memories(engine, workers, len(runs)).each(runs, one))


def _from_start(tally: Any, first: int) -> Any:
    """Give a tally without the years before the start, and without the seeds that were no more by then."""
    if first == 0:
        return tally
    film, step = tally.film, 4 * first
    count = int(film.count[0])
    seeds = film.landings[:count]
    over = (seeds[:, FATE] != WAITING) & (seeds[:, FATE_IN] < step)
    kept = seeds[~over]
    cut = film._replace(
        cover=film.cover[step:],
        ground=film.ground[step:],
        hosts=film.hosts[step:],
        marks=film.marks[step:],
        area=film.area[step:],
        landings=kept,
        count=np.array([len(kept)]),
    )
    return tally._replace(film=cut, hours=tally.hours[first:])


def _values(engine: Engine, tallies: Sequence[Any], replicates: int) -> dict[str, Any]:
    site, plans = engine.world.site, engine.plans
    runs = (len(plans), replicates)
    reels = [tally.film for tally in tallies]

    def stacked(arrays: Sequence[Any], *shape: int) -> Any:
        return np.stack(arrays).reshape(*runs, *shape)

    steps = 4 * (engine.world.years - engine.world.first_year) + 1
    marks = [_with_finds(reel.ground, reel.cover > 0) for reel in reels]
    hosts = [_with_finds(reel.marks, np.isin(reel.hosts, _CLIMBED)) for reel in reels]
    values = {
        "cover": stacked([reel.cover for reel in reels], steps, site.ny, site.nx),
        "ground_marks": stacked(marks, steps, site.ny, site.nx),
        "host_state": stacked([reel.hosts for reel in reels], steps, len(site.hosts)),
        "host_marks": stacked(hosts, steps, len(site.hosts)),
        "mat_area": stacked([reel.area for reel in reels], steps),
    }
    most = max(1, *(plan.tasks.size for plan in plans))
    for name, kinds in (("hours", slice(None)), ("follow_up_hours", slice(1, 2))):
        table = np.full((len(tallies), steps, most), np.nan)
        for row, tally in zip(table, tallies, strict=True):
            by_crew = tally.hours[:, :, :, kinds].sum(axis=3)
            row[1:, : by_crew.shape[2]] = by_crew.sum(axis=-1).reshape(steps - 1, -1)
        values[name] = table.reshape(*runs, steps, most)
    landings = _landings(reels, len(site.hosts), 4 * engine.world.first_year)
    return values | {name: array.reshape(*runs, -1) for name, array in landings.items()}


def _with_finds(marks: Any, there: Any) -> Any:
    """Marks (steps, ...) with what came to be known though it was there a season before."""
    known = marks & KNOWN > 0
    marks[1:] |= np.where(known[1:] & ~known[:-1] & there[:-1], FOUND, 0).astype("u1")
    return marks


def _landings(reels: Sequence[Any], hosts: int, first: int) -> dict[str, Any]:
    """Seeds by run, padded with -1 to as many as the run with most; steps count from the first season."""
    most = max(1, *(int(reel.count[0]) for reel in reels))
    table = np.full((6, len(reels), most), -1, "i8")
    for r, reel in enumerate(reels):
        n = int(reel.count[0])
        table[:, r, :n] = reel.landings[:n].T
    shed, cell, entity, by_bird, fate, fate_in = table
    there = shed >= 0
    return {
        "landing_step": np.where(there, np.maximum(shed + 1 - first, 0), -1),
        "landing_cell": cell,
        "landing_from": np.where(there & (entity < hosts), entity, -1),
        "landing_by_bird": np.where(there, by_bird, 0),
        "landing_fate": np.where(there, fate, 0),
        "landing_fate_step": np.where(there & (fate_in >= 0), fate_in + 1 - first, -1),
    }


def _coordinates(engine: Engine, chosen: Sequence[Strategy], numbers: Sequence[int]) -> dict[str, Any]:
    site, first = engine.world.site, engine.world.first_year
    years = engine.world.years - first
    steps = np.arange(4 * years + 1)
    most = max(1, *(len(strategy.tasks) for strategy in chosen))
    names = [[task.label for task in s.tasks] + [""] * (most - len(s.tasks)) for s in chosen]
    x0, y0 = site.origin
    return {
        "strategy": (("strategy",), np.array([s.name for s in chosen], object)),
        "replicate": (("replicate",), np.asarray(numbers, "i8")),
        "step": (("step",), steps.astype("i4")),
        "year": (("step",), (first + (steps + 3) // 4).astype("i4")),
        "season": (("step",), np.array([START] + list(SEASONS) * years, object)),
        "task_name": (("strategy", "task"), np.array(names, object).reshape(len(chosen), most)),
        "host_x": (("host",), site.hosts.x),
        "host_y": (("host",), site.hosts.y),
        "y": (("y",), y0 + (site.ny - np.arange(site.ny) - 0.5) * site.cell_size),
        "x": (("x",), x0 + (np.arange(site.nx) + 0.5) * site.cell_size),
    }
