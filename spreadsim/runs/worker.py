"""What runs on a Dask worker: ranges of replicates, written to the shared store."""

import socket
import threading
import time
from pathlib import Path
from typing import Any

import xarray as xr
from distributed import WorkerPlugin

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, embed, unembed
from spreadsim.model import cache
from spreadsim.runs.engine import Engine
from spreadsim.runs.job import Job, Range, maps_of, shape_of
from spreadsim.runs.lock import one_at_a_time
from spreadsim.runs.marks import read_stamp
from spreadsim.runs.parts import Parts
from spreadsim.runs.pool import Pool
from spreadsim.runs.scheduler import untyped
from spreadsim.runs.stamp import difference, stamp
from spreadsim.runs.sums import MapSums


class Runner(WorkerPlugin):
    """What a worker process holds: the packed experiment, the open store, and memory for each of its threads.

    Parameters
    ----------
    experiment
        What is compared.
    numbers
        Of all replicates.
    folder
        The store.
    """

    def __init__(self, experiment: Experiment, numbers: Any, folder: Path) -> None:
        self.embedded = embed(experiment)  # plain data, which every version of Python can send
        self.numbers = numbers
        self.folder = folder

    def setup(self, worker: Any) -> None:
        """Make what can't be sent; packing and compiling wait for the first task, off the worker's event loop."""
        self.lock = threading.Lock()
        self.ready: tuple[Job, Parts] | None = None
        self.pools: list[Pool] = []

    def run(self, task: Range) -> float:
        """Run a range of replicates, write it, and give the seconds that it took."""
        with self.lock:
            if self.ready is None:
                self.ready = self._prepare()
            job, parts = self.ready
            pool = self.pools.pop() if self.pools else Pool(job.engine, job.rows, 1)
        begun = time.monotonic()
        pool.sums = MapSums(job.engine, 1)
        start, stop = task
        for first in range(start - start % parts.block, stop, parts.block):
            here, there = max(start, first), min(stop, first + parts.block)
            parts.save(here, pool.run(job.numbers[here:there], lambda done: None))
        maps = ((s, slot, pool.sums.total(s, slot)) for s, slot in maps_of(job.engine))
        parts.commit(f"from-{start}-to-{stop}", [task], maps, shape_of(job.engine))
        with self.lock:
            self.pools.append(pool)
        return time.monotonic() - begun

    def _prepare(self) -> tuple[Job, Parts]:
        """Pack, check that the work here is the work wanted, and compile, one process of a machine at a time."""
        attrs, variables = self.embedded
        data = {name: xr.Variable(*parts) for name, parts in variables.items()}
        experiment = unembed(xr.Dataset(data, attrs=attrs))
        host = socket.gethostname()
        there = read_stamp(self.folder)
        if there is None:
            raise InputError(
                f"{self.folder}: found nothing on the worker {host}, allowed a folder that the workers share"
            )
        if differs := difference(there, stamp(experiment)):
            raise InputError(f"cluster: found another program on the worker {host} ({differs}), allowed the same")
        job = Job.of(experiment, self.numbers)
        with one_at_a_time(cache.folder()):
            _compile(job.engine, job)
        return job, Parts(self.folder)


def _compile(engine: Engine, job: Job) -> None:
    """Run one replicate, whose results are thrown away, so that the kernels are compiled or read from their cache."""
    Pool(engine, job.rows, 1).run(job.numbers[:1], lambda done: None)


def run_range(name: str, task: Range) -> float:
    """Run a task on the worker where this is called; see `Runner.run`."""
    runner: Any = untyped.get_worker().plugins[name]
    seconds: float = runner.run(task)
    return seconds
