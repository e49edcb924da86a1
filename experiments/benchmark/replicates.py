"""Single replicates timed inside the engine, without reading the site and without building datasets.

The public functions do both; what a replicate itself costs can only be told without them. All that these benchmarks
use of the engine's inside is in this file.
"""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
from clock import now

import spreadsim
from spreadsim.inputs import Experiment, Site, Vine
from spreadsim.model.pack_plan import PROCESSES
from spreadsim.runs.engine import Engine
from spreadsim.runs.rows import Rows
from spreadsim.runs.simulate import world_of
from spreadsim.runs.sums import MapSums

__all__ = ["PROCESSES", "Replicates", "bare_experiment"]


def bare_experiment(site: Site, vine: Vine, years: int, *, fixed: bool = False) -> Experiment:
    """No action on a site."""
    strategy = spreadsim.Strategy("no action")
    return Experiment("Benchmark", site, vine, (), (strategy,), years=years, fixed_parameters=fixed)


class Replicates:
    """Some replicates of an experiment, ready to be run one at a time by this thread.

    Parameters
    ----------
    experiment
        What to run, all its strategies.
    number
        How many replicates are drawn.
    processes
        Those to run; None: all.
    map_years
        Years whose maps are summed.

    Attributes
    ----------
    engine
        The packed site and plans.
    vines
        The vine's numbers by replicate, records.
    """

    def __init__(
        self,
        experiment: Experiment,
        number: int,
        processes: Collection[str] | None = None,
        map_years: Sequence[int] = (),
    ) -> None:
        self.number = number
        self.engine = Engine(
            world_of(experiment, experiment.strategies, processes), experiment.seed, map_years, own_maps=False
        )
        self.memory = self.engine.thread_memory()
        self.vines, self.rows, _ = self.engine.draw(range(number))
        self.block = Rows(self.engine, range(number)).empty(range(number))
        self.sums = MapSums(self.engine, 1)

    def run(self, i: int) -> None:
        """Run replicate i under all strategies."""
        for strategy in range(len(self.engine.plans)):
            self.memory.run(self.block, self.vines, self.rows, i, strategy, self.sums.free[strategy][0])

    def seconds(self, i: int) -> float:
        """Time of replicate i under all strategies."""
        start = now()
        self.run(i)
        return now() - start

    def best(self, passes: int) -> float:
        """Mean seconds a replicate, the least of several passes over all of them."""
        self.run(0)
        return min(sum(self.seconds(i) for i in range(self.number)) for _ in range(passes)) / self.number

    def yearly(self, outcome: str) -> Any:
        """An outcome of what was run: (strategies, replicates, years + 1)."""
        from spreadsim.model.compiled import layout

        return self.block.yearly[..., layout.OUTCOMES.index(outcome)]

    def occupied(self) -> Any:
        """Cells with mat by strategy and map slot, summed over what was run: (strategies, slots)."""
        from spreadsim.model.compiled import layout

        return np.stack([(copies[0] >> layout.COVER_BITS).sum(axis=0) for copies in self.sums.copies])
