"""All strategies of an experiment over the same replicate worlds."""

import dataclasses
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, embed
from spreadsim.runs.engine import Engine
from spreadsim.runs.outcomes import about, dataset, together
from spreadsim.runs.parts import Parts, fingerprint
from spreadsim.runs.pool import Pool, split
from spreadsim.runs.simulate import check_workers, replicate_numbers, world_of
from spreadsim.store import open_outcomes, write

BLOCK_SIZE = 25  # replicates; what an interruption can cost
Progress = Callable[[int, int], Any]


def compare(
    experiment: Experiment,
    *,
    replicates: int | Iterable[int] | None = None,
    seed: int | None = None,
    workers: int | None = None,
    progress: bool | Progress = False,
    folder: str | Path | None = None,
    resume: bool = False,
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
        Where to write outcomes.nc and, while running, finished blocks.
    resume
        Go on from the blocks that an interrupted run left in the folder.

    Returns
    -------
    xarray.Dataset
        As registered in `spreadsim.schema`; with a folder, lazily from its outcomes.nc.

    Raises
    ------
    InputError
        For arguments that can't be used, or blocks of another comparison.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {experiment!r}, allowed an Experiment, as read_experiment gives it")
    if resume and folder is None:
        raise InputError("resume: found True without a folder, allowed with the folder of the interrupted run")
    check_workers(workers)
    if seed is not None:
        experiment = dataclasses.replace(experiment, seed=seed)
    numbers = replicate_numbers(experiment.replicates if replicates is None else replicates)
    if len(numbers) != experiment.replicates:
        experiment = dataclasses.replace(experiment, replicates=len(numbers))
    engine = Engine(
        world_of(experiment, experiment.strategies), experiment.seed, range(experiment.years + 1), own_maps=False
    )
    parts = None
    if folder is not None:
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        parts = Parts(folder / "parts", fingerprint(experiment, experiment.seed), resume)
    with _reporter(progress) as report:
        block = together(_blocks(engine, numbers, workers, parts, report))
    attrs, inputs = embed(experiment)
    result = dataset(engine, block, "mean", about(experiment, numbers) | attrs, inputs)
    if folder is None or parts is None:
        return result
    path = Path(folder) / "outcomes.nc"
    write(result, path)
    parts.remove()
    return open_outcomes(path)


def _blocks(engine: Engine, numbers: list[int], workers: int | None, parts: Parts | None, report: Progress) -> Any:
    pool = None
    done = 0
    blocks = []
    for replicates in split(numbers, BLOCK_SIZE):
        block = parts.load(engine, replicates) if parts else None
        if block is None:
            pool = pool or Pool(engine, workers)
            before = done
            block = pool.run(replicates, lambda finished, before=before: report(before + finished, len(numbers)))  # type: ignore[misc]
            if parts:
                parts.save(block)
        done += len(replicates)
        report(done, len(numbers))
        blocks.append(block)
    return blocks


class _reporter:
    """Progress to a function, to a bar, or to nobody."""

    def __init__(self, progress: bool | Progress) -> None:
        self.progress = progress
        self.bar: Any = None

    def __enter__(self) -> Progress:
        if callable(self.progress):
            return self.progress
        if not self.progress:
            return lambda done, total: None
        from rich.console import Console
        from rich.progress import Progress as Bar

        self.bar = Bar(console=Console(stderr=True), transient=True)
        self.bar.start()
        task = self.bar.add_task("replicates", total=None)
        return lambda done, total: self.bar.update(task, completed=done, total=total)

    def __exit__(self, *_: object) -> None:
        if self.bar:
            self.bar.stop()
