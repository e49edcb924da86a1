"""Runs of replicates under strategies, packed once and run by any number of threads."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.inputs import Crew, Event, Fund, Site, Strategy, Treatment, Vine, Weather
from spreadsim.model.compiled import layout, put_back, run
from spreadsim.model.memory import new_state, new_tally
from spreadsim.model.pack_plan import pack_plan
from spreadsim.model.pack_site import pack_site
from spreadsim.model.parameters import NOTHING, pack_parameters

# what a tally holds by task, crew or fund, and so in different shapes for different strategies
BY_STRATEGY = ("hours", "amounts", "available", "unspent", "funds")


@dataclass(frozen=True)
class World:
    """What is simulated: everything but the seed and the replicates."""

    site: Site
    vine: Vine
    strategies: tuple[Strategy, ...]
    crews: tuple[Crew, ...]
    treatments: tuple[Treatment, ...]
    weather: Weather
    years: int
    funds: tuple[Fund, ...] = ()
    events: tuple[Event, ...] = ()
    fixed_parameters: bool = False
    processes: Collection[str] | None = None


@dataclass
class Block:
    """Raw results of some replicates, in their order; all but `cover` are views of the table.

    Attributes
    ----------
    replicates
        Their numbers.
    table
        (replicates, width), see `rows.Rows`.
    yearly
        (strategies, replicates, years + 1, outcomes).
    hours, amounts, available, unspent, funds
        One list per strategy of arrays by replicate, see `layout.Tally`.
    cover
        (strategies, replicates, years + 1, cells), or nothing.
    parameters
        Drawn values by name, each (replicates,).
    """

    replicates: Any
    table: Any
    yearly: Any
    hours: list[Any]
    amounts: list[Any]
    available: list[Any]
    unspent: list[Any]
    funds: list[Any]
    cover: Any
    parameters: dict[str, Any]


class Engine:
    """Packed site and plans.

    Parameters
    ----------
    world
        What to simulate.
    seed
        0 to 2**32 - 1.
    map_years
        Years whose maps are summed.
    own_maps
        Whether each replicate's own cover maps are kept.
    """

    def __init__(self, world: World, seed: int, map_years: Sequence[int], own_maps: bool) -> None:
        self.world = world
        self.seed = seed
        self.own_maps = own_maps
        self.ground = pack_site(world.site)
        self.plans = [
            pack_plan(
                world.site,
                world.vine,
                strategy,
                world.crews,
                world.treatments,
                world.weather,
                world.years,
                world.funds,
                world.events,
                world.processes,
            )
            for strategy in world.strategies
        ]
        self.map_slot = np.full(world.years + 1, -1, "i4")
        self.map_slot[list(map_years)] = np.arange(len(map_years))
        self.slots = len(map_years)

    def thread_memory(self) -> "Memory":
        """Working memory for one thread."""
        return Memory(self)

    def draw(self, replicates: Sequence[int], given: Mapping[str, Any] = NOTHING) -> tuple[Any, Any, dict[str, Any]]:
        """Parameters of some replicates, see `pack_parameters`."""
        world = self.world
        return pack_parameters(world.vine, world.treatments, self.seed, replicates, world.fixed_parameters, given)


class Memory:
    """One thread's working memory."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.state = new_state(engine.ground, engine.plans, engine.world.years, engine.slots)

    def run(self, block: Block, vines: Any, rows: Any, i: int, s: int, sums: Any) -> None:
        """Run replicate number i of a block under strategy s: write its row, and add its maps to the sums."""
        engine = self.engine
        key = np.array([engine.seed, block.replicates[i]], dtype=np.uint64)
        tally = self._run_one(key, engine.plans[s], vines[i : i + 1], rows[i], sums)
        block.yearly[s, i] = tally.yearly
        for name in BY_STRATEGY:
            getattr(block, name)[s][i] = getattr(tally, name)
        if engine.own_maps:
            block.cover[s, i] = tally.cover

    def _run_one(self, key: Any, plan: Any, vine: Any, rows: Any, sums: Any) -> Any:
        engine = self.engine
        cells = engine.ground.cells.size
        while True:
            tally = new_tally(plan, engine.world.years, cells, engine.map_slot, sums, engine.own_maps)
            fault = run(key, engine.ground, plan, self.state, vine, rows, tally)
            put_back(engine.ground, plan, self.state)
            if not fault:
                return tally
            # the list of seedlings was too short: run again with a longer one
            self.state = self.state._replace(seedlings=np.zeros(2 * self.state.seedlings.size, layout.SEEDLING))
