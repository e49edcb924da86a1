"""One row of numbers per replicate: everything that it says but its maps, so that a block is one table on disk."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from spreadsim.model.compiled import layout
from spreadsim.model.memory import new_tally
from spreadsim.runs.engine import BY_STRATEGY, Block, Engine


class Rows:
    """Where each number of a replicate stands in its row.

    Parameters
    ----------
    engine
        What runs.
    replicates
        Which; the first one tells which parameters are drawn.

    Attributes
    ----------
    width
        Numbers in a row.
    parameters
        Names of the parameters, which end the row.
    """

    def __init__(self, engine: Engine, replicates: Sequence[int]) -> None:
        self.engine = engine
        years, nothing = engine.world.years, np.zeros((0, 0), "i8")
        tallies = [new_tally(plan, years, 0, engine.map_slot, nothing, False) for plan in engine.plans]
        self.yearly = (len(tallies), years + 1, len(layout.OUTCOMES))
        self.shapes = {name: [getattr(tally, name).shape for tally in tallies] for name in BY_STRATEGY}
        self.parameters = list(engine.draw(replicates[:1])[2])
        sizes = [np.prod(self.yearly, dtype=int), len(self.parameters)]
        sizes += [np.prod(shape, dtype=int) for shapes in self.shapes.values() for shape in shapes]
        self.width = int(sum(sizes))

    def empty(self, replicates: Sequence[int]) -> Block:
        """Room for some replicates."""
        return self.block(replicates, np.zeros((len(replicates), self.width)))

    def block(self, replicates: Sequence[int], table: Any) -> Block:
        """See a table of rows (replicates, width) as results; nothing is copied."""
        n, place = len(replicates), 0

        def take(shape: tuple[int, ...]) -> Any:
            nonlocal place
            start, place = place, place + int(np.prod(shape, dtype=int))
            return table[:, start:place].reshape(n, *shape)

        yearly = np.swapaxes(take(self.yearly), 0, 1)
        by_strategy = {name: [take(shape) for shape in shapes] for name, shapes in self.shapes.items()}
        parameters = {name: take(()) for name in self.parameters}
        own = (self.yearly[1], self.engine.ground.cells.size) if self.engine.own_maps else (0, 0)
        cover = np.zeros((self.yearly[0], n, *own), "f4")
        return Block(np.asarray(replicates), table, yearly, cover=cover, parameters=parameters, **by_strategy)
