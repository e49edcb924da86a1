"""Replicates of a block over threads; kernels let go of the interpreter's lock, so threads use all cores."""

import os
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from queue import SimpleQueue
from typing import Any, TypeVar

from spreadsim.runs.engine import Block, Engine, Memory
from spreadsim.runs.rows import Rows
from spreadsim.runs.sums import MapSums

Place = TypeVar("Place")
Answer = TypeVar("Answer")


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Memories:
    """Working memories, lent to runs over as many threads: of few worlds whose state is looked at, not of blocks.

    Parameters
    ----------
    engine
        What is run.
    workers
        How many; None: one per core.
    runs
        No more than so many are needed at once.
    """

    def __init__(self, engine: Engine, workers: int | None, runs: int) -> None:
        self._threads = max(min(workers or cores(), runs), 1)
        self._free: SimpleQueue[Any] = SimpleQueue()
        for _ in range(self._threads):
            self._free.put(engine.new_state())

    def each(self, places: Iterable[Place], ask: Callable[[Place, Any], tuple[Answer, Any]]) -> Iterator[Answer]:
        """Ask each place, with a fresh memory that is given back fresh; answers come in the order of the places."""

        def one(place: Place) -> Answer:
            memory = self._free.get()
            try:
                answer, memory = ask(place, memory)
            finally:
                self._free.put(memory)
            return answer

        with ThreadPoolExecutor(self._threads) as pool:
            yield from pool.map(one, places)


class Pool:
    """Threads with a working memory each.

    Parameters
    ----------
    engine
        What they run.
    rows
        How their results are put down.
    workers
        How many; None: one per core.

    Attributes
    ----------
    sums
        Maps of all that ran so far; worth nothing after a block that was interrupted.
    """

    def __init__(self, engine: Engine, rows: Rows, workers: int | None) -> None:
        self.engine = engine
        self.rows = rows
        self.memories = [engine.thread_memory() for _ in range(workers or cores())]
        self.sums = MapSums(engine, len(self.memories))

    def run(self, replicates: Sequence[int], done: Callable[[int], Any]) -> Block:
        """Run a block; `done` is told after each replicate how many of the block are finished.

        Which thread runs which replicate under which strategy changes nothing: each run writes its own part of a row,
        and maps are sums of whole numbers.
        """
        vines, treatments, columns = self.engine.draw(replicates)
        block = self.rows.empty(replicates)
        for name, column in columns.items():
            block.parameters[name][:] = column
        queue = _Queue(len(replicates), self.sums)
        stop = threading.Event()

        def work(memory: Memory) -> None:
            while not stop.is_set():
                taken = queue.take()
                if taken is None:
                    return
                memory.run(block, vines, treatments, *taken)
                queue.give_back(*taken, done)

        with ThreadPoolExecutor(len(self.memories)) as pool:
            futures = [pool.submit(work, memory) for memory in self.memories]
            try:
                for future in as_completed(futures):
                    future.result()
            except BaseException:
                stop.set()
                raise
        return block


class _Queue:
    """What is left of a block, by strategy."""

    def __init__(self, replicates: int, sums: MapSums) -> None:
        self.lock = threading.Lock()
        self.free = sums.free
        self.waiting = [list(range(replicates))[::-1] for _ in self.free]
        self.left = [len(self.free)] * replicates
        self.finished = 0

    def take(self) -> tuple[int, int, Any] | None:
        """Give a replicate, a strategy and its map sums: of the strategy with most to do that nobody runs."""
        with self.lock:
            open_ones = [s for s, free in enumerate(self.free) if free and self.waiting[s]]
            if not open_ones:
                return None  # those who hold the sums of the rest will run it
            s = max(open_ones, key=lambda one: len(self.waiting[one]))
            return self.waiting[s].pop(), s, self.free[s].pop()

    def give_back(self, i: int, s: int, sums: Any, done: Callable[[int], Any]) -> None:
        """Let others have the sums, and say when a replicate has met all strategies."""
        with self.lock:
            self.free[s].append(sums)
            self.left[i] -= 1
            if not self.left[i]:
                self.finished += 1
                done(self.finished)
