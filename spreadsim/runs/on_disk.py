"""A comparison whose replicates go to disk as they are finished, so that memory doesn't grow and a run can go on."""

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import xarray as xr

from spreadsim.errors import InputError
from spreadsim.filling import fill
from spreadsim.guarded import remove_leftovers
from spreadsim.inputs import embed, unembed
from spreadsim.runs import parts as parts_module
from spreadsim.runs.engine import Engine
from spreadsim.runs.job import Job, Range, maps_of, shape_of
from spreadsim.runs.outcomes import about, dataset, map_layers
from spreadsim.runs.parts import Parts
from spreadsim.runs.pool import Pool, cores
from spreadsim.runs.stamp import difference, stamp
from spreadsim.store import open_outcomes

OUTCOMES = "outcomes.nc"
UNFINISHED = "unfinished.zarr"
BLOCK_SIZE = 25  # replicates in a chunk of the store
COMMIT_SHARE = (
    20.0  # so many times as long as it takes to count replicates as finished, none are: an interruption costs no more
)
STRIP_BYTES = 12e6  # rows read at once while outcomes are written; what is made of them takes many times as much

Report = Callable[[int, int], Any]


def compare_on_disk(
    job: Job, folder: Path, resume: bool, workers: int | None, cluster: str | None, report: Report
) -> xr.Dataset:
    """Run what is not finished, write outcomes.nc, and open it; see `compare`."""
    unfinished, path = folder / UNFINISHED, folder / OUTCOMES
    said, numbers = stamp(job.experiment), job.numbers
    parts = Parts.resume(unfinished, said, numbers) if resume else None
    if parts is None and resume and path.exists():
        whole = _whole(path, said, numbers)
        if whole is not None:
            parts_module.remove(unfinished)  # what is left of it where a run was killed after the writing
            report(len(numbers), len(numbers))
            return whole
    if parts is None:
        parts = Parts.begin(unfinished, said, numbers, job.rows.width, BLOCK_SIZE)
    remove_leftovers(path)
    if cluster is None:
        run_here(job, parts, workers, report)
    else:
        from spreadsim.runs.cluster import run_on_cluster  # needs the extra `cluster`

        run_on_cluster(job, parts, cluster, report)
    _write(job, parts, path)
    parts_module.remove(unfinished)
    return open_outcomes(path)


def run_here(job: Job, parts: Parts, workers: int | None, report: Report) -> None:
    """Run what is not finished on threads of this process."""
    waiting = parts.pending()
    if not waiting:
        return
    threads = workers or cores()
    pool = Pool(job.engine, job.rows, threads)
    finished = parts.finished()
    if finished:
        totals = parts.totals()
        for strategy, slot in maps_of(job.engine):
            pool.sums.add(strategy, slot, totals.total(strategy, slot))
    done, total = sum(stop - start for start, stop in finished), len(job.numbers)
    report(done, total)
    committed, cost = time.monotonic(), 0.0
    ranges = batches(waiting, parts.block * -(-2 * threads // parts.block))
    for start, stop in ranges:
        before = done
        block = pool.run(job.numbers[start:stop], lambda ran, before=before: report(before + ran, total))  # type: ignore[misc]
        parts.save(start, block)
        finished.append((start, stop))
        done += stop - start
        now = time.monotonic()
        if done == total or now - committed >= COMMIT_SHARE * cost:
            commit(job.engine, parts, pool, finished)
            committed = time.monotonic()
            cost = committed - now
        report(done, total)


def commit(engine: Engine, parts: Parts, pool: Pool, finished: list[Range]) -> None:
    """Count all that went into the pool's sums as finished, in the place of what counted before."""
    name = parts.unused_name()
    maps = ((s, slot, pool.sums.total(s, slot)) for s, slot in maps_of(engine))
    parts.commit(name, finished, maps, shape_of(engine))
    parts.keep_only(name)


def batches(waiting: Sequence[Range], most: int) -> Iterator[Range]:
    """Join neighbouring blocks to batches of so many replicates, at least one block each."""
    batch: list[Range] = []
    for start, stop in waiting:
        if batch and (batch[-1][1] != start or stop - batch[0][0] > most):
            yield batch[0][0], batch[-1][1]
            batch = []
        batch.append((start, stop))
    if batch:
        yield batch[0][0], batch[-1][1]


def _write(job: Job, parts: Parts, path: Path) -> None:
    """Write outcomes.nc from the store, strip by strip, map by map."""
    attrs, inputs = embed(job.experiment)
    attrs = about(job.experiment, job.numbers) | attrs
    length = strip_length(job.rows.width, len(job.numbers), parts.block)

    def strips() -> Iterator[xr.Dataset]:
        for start in range(0, len(job.numbers), length):
            block = job.rows.block(*parts.read(start, start + length))
            first = start == 0
            yield dataset(job.engine, block, "mean", None, attrs if first else {}, inputs if first else {})

    fill(path, strips(), map_layers(job.engine, parts.totals(), len(job.numbers)), job.numbers)


def strip_length(width: int, replicates: int, block: int) -> int:
    """How many replicates are read and written at once: whole blocks."""
    return min(replicates, block * max(1, int(STRIP_BYTES / (8 * width * block))))


def _whole(path: Path, said: dict[str, Any], numbers: Sequence[int]) -> xr.Dataset | None:
    """Open the outcomes of a run that had ended; None if more replicates are wanted than they have.

    Raises
    ------
    InputError
        They are another comparison's.
    """
    outcomes = open_outcomes(path)
    if differs := difference(stamp(unembed(outcomes)), said):
        outcomes.close()
        raise InputError(
            f"{path}: found whole outcomes of another comparison ({differs}) and nothing to resume, allowed those of "
            "this one; run without --resume to replace them"
        )
    if outcomes["replicate"].values.tolist() == list(numbers):
        return outcomes
    outcomes.close()
    return None
