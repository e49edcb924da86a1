"""All strategies of an experiment over the same replicate worlds."""

import dataclasses
from collections.abc import Iterable
from pathlib import Path

import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, embed
from spreadsim.runs.job import Job
from spreadsim.runs.lock import locked
from spreadsim.runs.outcomes import about, dataset
from spreadsim.runs.pool import Pool
from spreadsim.runs.progress import Progress, reporter
from spreadsim.runs.simulate import check_workers, replicate_numbers


def compare(
    experiment: Experiment,
    *,
    replicates: int | Iterable[int] | None = None,
    seed: int | None = None,
    workers: int | None = None,
    progress: bool | Progress = False,
    folder: str | Path | None = None,
    resume: bool = False,
    cluster: str | None = None,
) -> xr.Dataset:
    """Run all strategies of an experiment in the same replicate worlds.

    Parameters
    ----------
    experiment
        What to compare; no action is always among it.
    replicates
        A number or the numbers wanted; None: the experiment's.
    seed
        0 to 2**32 - 1; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    progress
        True: a bar on standard error. Or a function that is told how many of how many replicates are done.
    folder
        Where to write outcomes.nc and, while running, what is finished. With it, memory does not grow with the number
        of replicates.
    resume
        Go on from what an interrupted run finished in the folder.
    cluster
        Address of a Dask scheduler, or its scheduler file; its workers run the replicates and must share the folder.

    Returns
    -------
    xarray.Dataset
        As registered in `spreadsim.schema`; with a folder, lazily from its outcomes.nc.

    Raises
    ------
    InputError
        For arguments that can't be used, what another comparison left in the folder, or a scheduler that isn't there.
    OSError
        The disk is full, or the cluster has no workers left; what is finished is kept.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {experiment!r}, allowed an Experiment, as read_experiment gives it")
    for name, given in (("resume", resume), ("cluster", cluster)):
        if given and folder is None:
            raise InputError(
                f"{name}: found {given!r} without a folder, allowed with the folder that the run writes to"
            )
    check_workers(workers)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    numbers = replicate_numbers(experiment.replicates if replicates is None else replicates)
    if len(numbers) != experiment.replicates:
        experiment = dataclasses.replace(experiment, replicates=len(numbers))
    job = Job.of(experiment, numbers)
    with reporter(progress) as report:
        if folder is None:
            pool = Pool(job.engine, job.rows, workers)
            block = pool.run(numbers, lambda done: report(done, len(numbers)))
            attrs, inputs = embed(experiment)
            return dataset(job.engine, block, "mean", pool.sums, about(experiment, numbers) | attrs, inputs)
        from spreadsim.runs.on_disk import compare_on_disk  # zarr and h5netcdf take time to load

        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        with locked(folder):
            return compare_on_disk(job, folder, resume, workers, cluster, report)
