"""A comparison that is packed and ready to run."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from spreadsim.inputs import Experiment
from spreadsim.runs.engine import Engine
from spreadsim.runs.rows import Rows
from spreadsim.runs.simulate import world_of

Range = tuple[int, int]  # places of replicates, from and up to before


@dataclass(frozen=True)
class Job:
    """What is compared, packed.

    Attributes
    ----------
    experiment
        What is compared, with the seed.
    engine, rows
        The same, packed, and how results are put down.
    numbers
        Of all replicates.
    """

    experiment: Experiment
    engine: Engine
    rows: Rows
    numbers: Sequence[int]

    @classmethod
    def of(cls, experiment: Experiment, numbers: Sequence[int]) -> Job:
        """Pack an experiment."""
        world = world_of(experiment, experiment.strategies)
        engine = Engine(world, experiment.seed, experiment.kept_map_years(), own_maps=False)
        return cls(experiment, engine, Rows(engine, numbers), numbers)


def maps_of(engine: Engine) -> Iterator[tuple[int, int]]:
    """Strategy and slot of every map that is kept."""
    return ((strategy, slot) for strategy in range(len(engine.plans)) for slot in range(engine.slots))


def shape_of(engine: Engine) -> tuple[int, int, int]:
    """Shape of the map sums (strategies, slots, cells)."""
    return len(engine.plans), engine.slots, engine.ground.cells.size
