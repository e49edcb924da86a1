"""Maps of one process, summed over its replicates in whole numbers: order changes nothing, and they don't grow."""

from typing import Any, NamedTuple

import numpy as np

from spreadsim.model.compiled import layout
from spreadsim.runs.engine import Engine


class Sums(NamedTuple):
    """Map sums of one strategy."""

    occupied: Any  # i4 (slots, cells): replicates with mat
    cover: Any  # i8 (slots, cells): cover in steps of 1/10,000


class MapSums:
    """Sums of all strategies, as many copies of each as threads need: (cells, slots), see `layout.Tally`.

    A thread takes a copy for the time of one run, so nothing is added to by two at once; threads that run different
    strategies share nothing, and so one copy of each strategy is enough for as many threads as strategies.

    Parameters
    ----------
    engine
        What runs.
    threads
        How many run it.
    """

    def __init__(self, engine: Engine, threads: int) -> None:
        strategies = len(engine.plans)
        shape = (engine.ground.cells.size, engine.slots)
        copies = -(-threads // strategies)
        self.copies = [[np.zeros(shape, "i8") for _ in range(copies)] for _ in range(strategies)]
        self.free = [list(copies) for copies in self.copies]

    def total(self, strategy: int, slot: int) -> Sums:
        """Sums of one map (cells); while nobody runs."""
        first, *others = (copy[:, slot] for copy in self.copies[strategy])
        packed = sum(others, first)
        return Sums((packed >> layout.COVER_BITS).astype("i4"), packed & (layout.ONE_MORE - 1))

    def add(self, strategy: int, slot: int, sums: Sums) -> None:
        """Add the sums of one map."""
        packed = (sums.occupied.astype("i8") << layout.COVER_BITS) + sums.cover
        self.copies[strategy][0][:, slot] += packed
