"""A comparison on a Dask cluster: workers write what they finish to the shared store, and say no more than: done.

A task is the same bits whoever runs it and however often, so a worker that dies costs time and nothing else.
"""

import contextlib
import socket
import threading
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, embed, unembed
from spreadsim.model import cache
from spreadsim.runs.engine import Engine
from spreadsim.runs.job import Job, Range, maps_of, shape_of
from spreadsim.runs.lock import one_at_a_time
from spreadsim.runs.parts import Parts, read_stamp
from spreadsim.runs.pool import Pool
from spreadsim.runs.stamp import difference, stamp
from spreadsim.runs.sums import MapSums

try:
    import distributed
    from distributed import KilledWorker, WorkerPlugin
except ImportError as error:
    raise InputError(
        "cluster: found no package distributed, allowed with it; install it with: python -m pip install "
        "'spreadsim[cluster]'"
    ) from error

untyped: Any = distributed  # half of it has no types

TASK_SECONDS = 20.0  # what a worker's death can cost; a task's maps are summed on their own, so not too many of them
TASKS_A_THREAD = 32
MOST_DEATHS = 5  # of workers that had the same task, each after as many tries as the scheduler allows
PATIENCE = 60.0  # s without any worker
Report = Callable[[int, int], Any]


def run_on_cluster(job: Job, parts: Parts, address: str, report: Report) -> None:
    """Run what is not finished on the workers of a scheduler.

    Parameters
    ----------
    job, parts
        What is compared, and the store in a folder that the workers see under the same path.
    address
        Of the scheduler, such as ``tcp://10.0.0.5:8786``, or the path of its scheduler file.
    report
        Told how many of how many replicates are done.

    Raises
    ------
    InputError
        No scheduler is there; workers don't see the folder, or have another version of the kernels.
    OSError
        There are no workers, or none that lives; what is finished is kept.
    """
    with _connected(address) as client:
        name = f"spreadsim-{uuid.uuid4().hex}"
        client.register_plugin(Runner(job.experiment, job.numbers, parts.folder.resolve()), name=name)
        try:
            while parts.pending():
                _Feeder(client, name, job, parts, report).run()
        finally:
            with contextlib.suppress(Exception):  # the scheduler may be gone, and what it did is on disk
                client.unregister_worker_plugin(name)


@contextlib.contextmanager
def _connected(address: str) -> Iterator[Any]:
    where = {"scheduler_file": address} if Path(address).is_file() else {"address": address}
    try:
        client: Any = untyped.Client(**where, timeout=10, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"cluster: found no scheduler at {address!r} ({' '.join(str(error).split())[:120]}), allowed its address, "
            "such as tcp://10.0.0.5:8786, or its scheduler file"
        ) from error
    with client, client.as_current():
        try:
            client.wait_for_workers(1, timeout=PATIENCE)
        except TimeoutError as error:
            raise OSError(f"the scheduler at {address} has no workers") from error
        yield client


class _Feeder:
    """Hands out ranges of replicates, few enough at a time that each is sized by how long the last ones took."""

    def __init__(self, client: Any, name: str, job: Job, parts: Parts, report: Report) -> None:
        self.client, self.name, self.report = client, name, report
        self.block = parts.block
        self.waiting = deque(parts.pending())
        self.total = len(job.numbers)
        self.done = self.total - sum(stop - start for start, stop in self.waiting)
        self.flying: dict[Any, Range] = {}
        self.deaths: dict[Range, int] = {}
        self.seconds = 0.0  # per replicate

    def run(self) -> None:
        self.report(self.done, self.total)
        try:
            while self.waiting or self.flying:
                self._submit()
                self._collect()
        finally:
            self.client.cancel(list(self.flying))

    def _submit(self) -> None:
        threads = max(1, sum(self.client.nthreads().values()))
        while self.waiting and len(self.flying) < 2 * threads:
            task = self._next(threads)
            future = self.client.submit(run_range, self.name, task, pure=False)
            self.flying[future] = task

    def _next(self, threads: int) -> Range:
        """Join waiting blocks that are neighbours, as many as a task should hold."""
        start, stop = self.waiting.popleft()
        left = sum(last - first for first, last in self.waiting)
        wanted = max(TASK_SECONDS / self.seconds, left / (TASKS_A_THREAD * threads)) if self.seconds else 0.0
        most = min(wanted, left / (2 * threads))
        while self.waiting and self.waiting[0][0] == stop and self.waiting[0][1] - start <= most:
            stop = self.waiting.popleft()[1]
        return start, stop

    def _collect(self) -> None:
        since = time.monotonic()
        finished: set[Any] = set()
        while not finished:
            with contextlib.suppress(TimeoutError):
                finished = untyped.wait(list(self.flying), timeout=2, return_when="FIRST_COMPLETED").done
            if self.client.nthreads():
                since = time.monotonic()
            elif time.monotonic() - since > PATIENCE:
                raise OSError(f"the cluster has had no workers for {PATIENCE:.0f} s")
        for future in finished:
            start, stop = task = self.flying.pop(future)
            error = future.exception() if future.status != "cancelled" else OSError("the scheduler is gone")
            if isinstance(error, KilledWorker) and self.deaths.get(task, 0) < MOST_DEATHS:
                self.deaths[task] = self.deaths.get(task, 0) + 1
                self.waiting.appendleft(task)
            elif isinstance(error, KilledWorker):
                raise OSError(f"workers died of replicates {start} to {stop}: {error}") from error
            elif error is not None:
                raise error
            else:
                self.seconds = future.result() / (stop - start)
                self.done += stop - start
                self.report(self.done, self.total)


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
