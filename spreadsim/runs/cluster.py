"""A comparison on a Dask cluster: workers write what they finish to the shared store, and say no more than: done.

A task is the same bits whoever runs it and however often, so a worker that dies costs time and nothing else.
"""

import contextlib
import time
import uuid
from collections import deque
from collections.abc import Callable
from typing import Any

from spreadsim.runs.job import Job, Range
from spreadsim.runs.parts import Parts
from spreadsim.runs.scheduler import PATIENCE, connected, untyped  # first: it says what to install
from spreadsim.runs.worker import Runner, run_range

TASK_SECONDS = 20.0  # what a worker's death can cost; a task's maps are summed on their own, so not too many of them
TASKS_A_THREAD = 32
MOST_DEATHS = 5  # of workers that had the same task, each after as many tries as the scheduler allows
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
    with connected(address) as client:
        name = f"spreadsim-{uuid.uuid4().hex}"
        client.register_plugin(Runner(job.experiment, job.numbers, parts.folder.resolve()), name=name)
        try:
            while parts.pending():
                _Feeder(client, name, job, parts, report).run()
        finally:
            with contextlib.suppress(Exception):  # the scheduler may be gone, and what it did is on disk
                client.unregister_worker_plugin(name)


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
            if isinstance(error, untyped.KilledWorker) and self.deaths.get(task, 0) < MOST_DEATHS:
                self.deaths[task] = self.deaths.get(task, 0) + 1
                self.waiting.appendleft(task)
            elif isinstance(error, untyped.KilledWorker):
                raise OSError(f"workers died of replicates {start} to {stop}: {error}") from error
            elif error is not None:
                raise error
            else:
                self.seconds = future.result() / (stop - start)
                self.done += stop - start
                self.report(self.done, self.total)
