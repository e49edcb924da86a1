"""One strategy, or none, on a site."""

from collections.abc import Collection, Iterable, Sequence

import numpy as np
import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import (
    NO_ACTION,
    Crew,
    Event,
    Experiment,
    Fund,
    Site,
    Start,
    Strategy,
    Treatment,
    Vine,
    Weather,
    load_treatment,
)
from spreadsim.runs.engine import Engine, World
from spreadsim.runs.outcomes import about, dataset
from spreadsim.runs.pool import Pool
from spreadsim.runs.rows import Rows

MAPS = ("none", "mean", "replicate")
MOST_REPLICATE = 2**32 - 1  # one word of the generator's key


def replicate_numbers(replicates: int | Iterable[int]) -> list[int]:
    """Numbers of the replicates wanted: the first so many, or those named."""
    if isinstance(replicates, int | np.integer) and not isinstance(replicates, bool):
        if not 1 <= replicates <= MOST_REPLICATE:
            raise InputError(f"replicates: found {replicates}, allowed 1 or more, below {MOST_REPLICATE}")
        return list(range(int(replicates)))
    named = isinstance(replicates, Iterable) and not isinstance(replicates, str | bytes)
    numbers = list(replicates) if named else []  # type: ignore[arg-type]
    right = all(is_whole(n) and 0 <= n <= MOST_REPLICATE for n in numbers)
    if not numbers or not right or len(set(numbers)) < len(numbers):
        found = numbers if named else replicates
        raise InputError(
            f"replicates: found {shown(found)}, allowed a number, 1 or more, or different whole numbers from 0 "
            f"to {MOST_REPLICATE}"
        )
    return [int(n) for n in numbers]


def shown(value: object) -> str:
    """A value as it was given, cut short."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def is_whole(value: object) -> bool:
    """Whether it is a whole number of Python's or numpy's, and no truth value."""
    return isinstance(value, int | np.integer) and not isinstance(value, bool)


def check_workers(workers: int | None) -> None:
    """Refuse a number of threads that can't be."""
    if workers is not None and (not is_whole(workers) or workers < 1):
        raise InputError(f"workers: found {workers!r}, allowed a whole number, 1 or more, or None for one per core")


def treatments_in_use(strategies: Sequence[Strategy], own: Sequence[Treatment] = ()) -> tuple[Treatment, ...]:
    """All treatments that the strategies name, and scouting, in order of name."""
    found = {treatment.name: treatment for treatment in own}
    names = {"scout"}
    for strategy in strategies:
        for task in strategy.tasks:
            following = task.follow_up.treatment if task.follow_up else None
            names |= {name for name in (task.treatment, task.instead, following) if name}
    return tuple(found.get(name) or load_treatment(name) for name in sorted(names))


def world_of(experiment: Experiment, strategies: Sequence[Strategy], processes: Collection[str] | None = None) -> World:
    """What is simulated of an experiment: these of its strategies."""
    start = experiment.start
    done = [] if start is None else [start.strategy]
    return World(
        site=experiment.site,
        vine=experiment.vine,
        strategies=tuple(strategies),
        crews=experiment.crews,
        treatments=treatments_in_use([*strategies, *done], experiment.treatments),
        weather=experiment.weather,
        years=experiment.years,
        funds=experiment.funds,
        events=experiment.events,
        fixed_parameters=experiment.fixed_parameters,
        processes=processes,
        start=start,
    )


def simulate(
    site: Site,
    vine: Vine,
    strategy: Strategy | None = None,
    *,
    crews: Sequence[Crew] = (),
    years: int,
    replicates: int | Iterable[int],
    seed: int,
    fixed_parameters: bool = False,
    maps: str = "mean",
    map_years: Sequence[int] | None = None,
    processes: Collection[str] | None = None,
    treatments: Sequence[Treatment] = (),
    weather: Weather | None = None,
    funds: Sequence[Fund] = (),
    events: Sequence[Event] = (),
    start: Start | None = None,
    workers: int | None = None,
) -> xr.Dataset:
    """Run one strategy in some replicate worlds.

    Parameters
    ----------
    site, vine, strategy
        The ground, the species and the work; no strategy: no action.
    crews
        Who works.
    years
        1 to 400.
    replicates
        A number, or the numbers of the replicates wanted (replicate 17 is the same however many are run).
    seed
        0 to 2**32 - 1.
    fixed_parameters
        Use the profile's defaults instead of drawing from its ranges.
    maps
        "none", "mean" (over replicates) or "replicate" (every replicate's as well).
    map_years
        Years of which maps are kept, 0 for the start; None: all.
    processes
        Names of those to run, of `spreadsim.model.pack_plan.PROCESSES`; None: all.
    treatments
        Own treatments, in place of those shipped under the same names.
    weather, funds, events
        Days fit to spray; dated money; what befalls the ground.
    start
        Learned state to begin from; None: the map. Years count from the map all the same.
    workers
        Threads; None: one per core. Results do not depend on it.

    Returns
    -------
    xarray.Dataset
        As `compare` gives, without the dimension `strategy`.

    Raises
    ------
    InputError
        For any argument that can't be used.
    """
    if maps not in MAPS:
        raise InputError(f"maps: found {maps!r}, allowed {', '.join(MAPS)}")
    if not isinstance(site, Site):
        raise InputError(f"site: found {site!r}, allowed a Site")
    for name, values in (("crews", crews), ("treatments", treatments), ("funds", funds), ("events", events)):
        if isinstance(values, str) or not isinstance(values, Iterable):
            raise InputError(f"{name}: found {values!r}, allowed a list")
    check_workers(workers)
    chosen = strategy or Strategy(NO_ACTION)
    numbers = replicate_numbers(replicates)
    experiment = Experiment(
        site.title or "simulation",
        site,
        vine,
        tuple(crews),
        (chosen,),
        treatments=tuple(treatments),
        years=years,
        replicates=len(numbers),
        seed=seed,
        fixed_parameters=fixed_parameters,
        weather=weather or Weather(),
        funds=tuple(funds),
        events=tuple(events),
        start=start,
        map_years=None if map_years is None else tuple(map_years),
    )
    return run_one(experiment, chosen, numbers, maps=maps, processes=processes, workers=workers)


def run_one(
    experiment: Experiment,
    strategy: Strategy,
    numbers: Sequence[int],
    *,
    maps: str = "none",
    processes: Collection[str] | None = None,
    workers: int | None = None,
) -> xr.Dataset:
    """Run one strategy under all else that an experiment says; what `simulate` gives of its parts.

    Parameters
    ----------
    experiment
        Whose site, vine, crews, years, seed, money, weather, events and start are taken.
    strategy
        Any that its crews can work.
    numbers
        Of the replicates.
    maps, processes, workers
        As of `simulate`; map years are those of the experiment, all if it names none.
    """
    world = world_of(experiment, [strategy], processes)
    every = tuple(range(world.first_year, experiment.years + 1))
    kept = every if experiment.map_years is None else experiment.kept_map_years()
    engine = Engine(world, experiment.seed, () if maps == "none" else kept, maps == "replicate")
    pool = Pool(engine, Rows(engine, numbers), workers)
    block = pool.run(numbers, lambda done: None)
    result = dataset(engine, block, maps, pool.sums, about(experiment, numbers))
    return result.isel(strategy=0, drop=True)
