"""All points of a design in the same replicate worlds, as one dataset."""

import contextlib
import dataclasses
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import Design, Experiment, bind
from spreadsim.inputs.design_points import DesignPoints
from spreadsim.runs.lock import locked
from spreadsim.runs.points import Points, PointsInFolder, PointsInMemory, check_stamps, stamp, stamp_of
from spreadsim.runs.progress import reporter
from spreadsim.runs.simulate import check_workers, replicate_numbers
from spreadsim.runs.sweep_dataset import SweepDataset
from spreadsim.runs.sweep_point import PointRunner
from spreadsim.schema import VARIABLES
from spreadsim.store import open_outcomes
from spreadsim.store_along import write_along

SWEEP_FILE = "sweep.nc"
_STAMP = "sweep_"  # attributes of the file, so that a finished sweep is known again
_OF_REPLICATES = tuple(name for name, one in VARIABLES.items() if one.is_map and "replicate" in one.dims)
USUAL = tuple(name for name, one in VARIABLES.items() if not one.is_map)
ALLOWED = tuple(name for name in VARIABLES if name not in _OF_REPLICATES)
Progress = Callable[[int, int], Any]


def sweep(
    experiment: Experiment,
    design: Design,
    *,
    replicates: int | Iterable[int] | None = None,
    seed: int | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    folder: str | Path | None = None,
    resume: bool = False,
    progress: bool | Progress = False,
    outcomes: Sequence[str] | None = None,
) -> xr.Dataset:
    """Run all strategies of an experiment at every point of a design, in the same replicate worlds.

    A swept parameter is held at its value of the point; all else that is random is drawn as in `compare`, with the
    same keys, so that points differ by what was changed and not by luck. A strategy for which a point changes
    nothing is not run again.

    Parameters
    ----------
    experiment
        What is varied.
    design
        From `grid`, `latin_hypercube`, `sobol`, `listed` or `read_design`.
    replicates
        A number or the numbers wanted, at every point; None: the experiment's.
    seed
        Of the worlds, 0 to 2**32 - 1; None: the experiment's. The design has a seed of its own.
    workers
        Threads; None: one per core. Results do not depend on it.
    cluster
        Address of a Dask scheduler, whose workers then run a point each; needs the package distributed.
    folder
        Where to write sweep.nc and, while running, finished points; without it all is held in memory.
    resume
        Go on from the points that an interrupted sweep left in the folder.
    progress
        True: a bar on standard error. Or a function that is told how many of how many replicates are done, over all
        points.
    outcomes
        Names of `schema.VARIABLES`; None: all but maps, which are then not summed at all. A design of thousands of
        points wants few: maps, of the years that `compare` keeps too, and work by season and task are by far the
        largest.

    Returns
    -------
    xarray.Dataset
        As `compare` gives, with `design` in front (counted from 0) and a coordinate along it for each factor, under
        the factor's name: numbers, or texts. Drawn parameters are by replicate, or by design and replicate where the
        design changes them; swept ones are coordinates. Where `years` is swept, later years are missing. With a
        folder, lazily from its sweep.nc, which holds the experiment and the design.

    Raises
    ------
    InputError
        For arguments that can't be used, everything that is wrong with the design, points of another sweep, or a
        folder that another sweep is writing to.
    """
    _check_arguments(experiment, design, folder, resume, outcomes)
    check_workers(workers)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    numbers = replicate_numbers(experiment.replicates if replicates is None else replicates)
    if len(numbers) != experiment.replicates:
        experiment = dataclasses.replace(experiment, replicates=len(numbers))
    bound = bind(experiment, design)
    names = USUAL if outcomes is None else tuple(name for name in VARIABLES if name in outcomes)
    stamps = {
        "experiment": stamp_of(experiment),
        "design": stamp([[place.path for place in bound.places], bound.rows]),
        "replicates": stamp(numbers),
        "outcomes": stamp(names),
    }
    attrs = {_STAMP + key: value for key, value in stamps.items()}
    with contextlib.ExitStack() as stack:
        points: Points = PointsInMemory()
        if folder is not None:
            path = Path(folder) / SWEEP_FILE
            parts = Path(folder) / "points"
            if resume and path.exists() and not parts.exists():
                return _finished(path, stamps)
            parts.mkdir(parents=True, exist_ok=True)
            stack.enter_context(locked(parts))
            points = PointsInFolder(parts, stamps, resume)
        report = stack.enter_context(reporter(progress))
        if cluster is None:
            _run_here(bound, numbers, names, points, workers, report)
        else:
            from spreadsim.runs.sweep_cluster import run_on_cluster

            run_on_cluster(cluster, bound, numbers, names, points, report)
        data = SweepDataset(bound, points, numbers, names, attrs)
        if folder is None:
            return data.whole()
        write_along(data.one_by_one(), "design", path)
        points.remove()
    return open_outcomes(path)


def wants_maps(names: Sequence[str]) -> bool:
    """Tell whether maps are among the outcomes."""
    return any(VARIABLES[name].is_map for name in names)


def _run_here(
    bound: DesignPoints,
    numbers: list[int],
    names: Sequence[str],
    points: Points,
    workers: int | None,
    report: Progress,
) -> None:
    runner = PointRunner(numbers, names, wants_maps(names), workers)
    total = len(bound) * len(numbers)
    for k in range(len(bound)):
        before = k * len(numbers)
        if not points.has(k):
            experiment = bound.experiment_at(k)
            share = len(numbers) / len(experiment.strategies)
            with naming_point(k):
                values = runner.run(experiment, lambda done, a=before, b=share: report(a + int(done * b), total))  # type: ignore[misc]
            points.save(k, values)
        report(before + len(numbers), total)


@contextlib.contextmanager
def naming_point(point: int) -> Iterator[None]:
    """Say at which point something turned out to be impossible when its parameters were drawn."""
    try:
        yield
    except InputError as error:
        raise InputError(*(f"design point {point}: {problem}" for problem in error.problems)) from error


def _finished(path: Path, stamps: dict[str, str]) -> xr.Dataset:
    """Open a sweep that was finished before, if it is this one."""
    data = open_outcomes(path)
    try:
        check_stamps(f"{path}: found the outcomes", {key: str(data.attrs.get(_STAMP + key)) for key in stamps}, stamps)
    except InputError:
        data.close()
        raise
    return data


def _check_arguments(
    experiment: object, design: object, folder: object, resume: bool, outcomes: Sequence[str] | None
) -> None:
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {experiment!r}, allowed an Experiment, as read_experiment gives it")
    if not isinstance(design, Design):
        raise InputError(f"design: found {show(design)}, allowed a Design, as grid, latin_hypercube or sobol gives it")
    if resume and folder is None:
        raise InputError("resume: found True without a folder, allowed with the folder of the interrupted sweep")
    if outcomes is None:
        return
    if isinstance(outcomes, str) or not isinstance(outcomes, Sequence) or not outcomes:
        raise InputError(f"outcomes: found {show(outcomes)}, allowed a list of {one_of(ALLOWED)}")
    wrong = [name for name in outcomes if name not in ALLOWED]
    if wrong:
        raise InputError(*(f"outcomes: found {show(name)}, allowed {one_of(ALLOWED)}" for name in wrong))
