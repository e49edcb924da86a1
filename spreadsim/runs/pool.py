"""Replicates of a block over threads; kernels let go of the interpreter's lock, so threads use all cores."""

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any

import numpy as np

from spreadsim.runs.engine import Block, Engine, Memory


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Pool:
    """Threads with a working memory each.

    Parameters
    ----------
    engine
        What they run.
    workers
        How many; None: one per core.
    """

    def __init__(self, engine: Engine, workers: int | None) -> None:
        self.engine = engine
        self.memories = [engine.thread_memory() for _ in range(workers or cores())]

    def run(self, replicates: Sequence[int], done: Callable[[int], Any]) -> Block:
        """Run a block; `done` is told after each replicate how many of the block are finished.

        Which thread runs which replicate changes nothing: each writes its own rows, and maps are sums of whole
        numbers.
        """
        vines, rows, columns = self.engine.draw(replicates)
        block = self.engine.empty_block(replicates, columns)
        waiting = list(range(len(replicates)))[::-1]
        lock = threading.Lock()
        stop = threading.Event()
        finished = 0

        def work(memory: Memory) -> None:
            nonlocal finished
            while not stop.is_set():
                with lock:
                    if not waiting:
                        return
                    i = waiting.pop()
                memory.run(block, vines, rows, i)
                with lock:
                    finished += 1
                    done(finished)

        with ThreadPoolExecutor(len(self.memories)) as pool:
            futures = [pool.submit(work, memory) for memory in self.memories]
            try:
                for future in as_completed(futures):
                    future.result()
            except BaseException:
                stop.set()
                raise
        for memory in self.memories:
            block.occupied += memory.occupied
            block.cover_sum += memory.cover_sum
            memory.occupied[:] = 0
            memory.cover_sum[:] = 0
        return block


def split(replicates: Sequence[int], size: int) -> list[list[int]]:
    """Replicates in blocks of at most `size`, in order."""
    numbers = [int(n) for n in np.asarray(replicates)]
    return [numbers[i : i + size] for i in range(0, len(numbers), size)]
