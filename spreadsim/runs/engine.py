"""Runs of replicates under strategies, packed once and run by any number of threads."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.inputs import Crew, Event, Fund, Site, Start, Strategy, Treatment, Vine, Weather
from spreadsim.model.compiled import layout, put_back, run
from spreadsim.model.memory import new_state, new_tally
from spreadsim.model.pack_plan import pack_plan
from spreadsim.model.pack_site import pack_site
from spreadsim.model.parameters import NOTHING, pack_parameters
from spreadsim.runs.past import Past

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
    start: Start | None = None

    @property
    def first_year(self) -> int:
        """The year at whose end the comparison begins; 0: with the map."""
        return 0 if self.start is None else self.start.years


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
        self.plans = [self._packed(strategy, world.crews, world.weather, world.funds) for strategy in world.strategies]
        self.past: Past | None = None
        if world.start is not None:
            done = self._done(world.start)
            self.past = Past(world.start, done, self.plans, world.strategies, world.treatments, seed)
            for plan in self.plans:
                plan.switches[layout.FIRST_YEAR] = world.first_year
        self.map_slot = np.full(world.years + 1, -1, "i4")
        self.map_slot[list(map_years)] = np.arange(len(map_years))
        self.slots = len(map_years)

    def _done(self, start: Start) -> Any:
        """Pack the work that was done; what a log says was done, whatever the days and the money."""
        logged = start.weather is not None
        weather, funds = start.weather or self.world.weather, () if logged else self.world.funds
        return self._packed(start.strategy, start.crews, weather, funds)

    def _packed(self, strategy: Strategy, crews: Sequence[Crew], weather: Weather, funds: Sequence[Fund]) -> Any:
        world = self.world
        return pack_plan(
            world.site,
            world.vine,
            strategy,
            crews,
            world.treatments,
            weather,
            world.years,
            funds,
            world.events,
            world.processes,
        )

    def new_state(self) -> Any:
        """Fresh working memory for one thread."""
        plans = self.plans if self.past is None else [*self.plans, self.past.plan]
        return new_state(self.ground, plans, self.world.years, self.slots)

    def play(
        self,
        state: Any,
        replicate: int,
        s: int,
        vine: Any,
        rows: Any,
        empty: Callable[[Any], Any],
        plan: Any = None,
    ) -> tuple[Any, Any, Any]:
        """Run a replicate under strategy s from where the comparison begins.

        Every run goes this way. Where the list of seedlings was too short, it is run again with a longer one.

        Parameters
        ----------
        state
            Fresh working memory.
        replicate, s
            Number of the replicate, place of the strategy.
        vine, rows
            Its parameters, as `draw` gives them.
        empty
            Gives an empty tally for a working memory.
        plan
            In place of the strategy's own: one with fewer years, say.

        Returns
        -------
        tuple
            What happened, the working memory as the run left it, and the plan by which it is put back.
        """
        plan = self.plans[s] if plan is None else plan
        while True:
            tally = empty(state)
            key, fault = np.array([self.seed, replicate], dtype=np.uint64), 0
            if self.past is not None:
                key = self.past.keys(replicate)[1]
                fault = self.past.run(self.ground, state, replicate, s, vine, rows, tally)
            if not fault:
                fault = run(key, self.ground, plan, state, vine, rows, tally)
                if not fault:
                    return tally, state, plan
                put_back(self.ground, plan, state)
            state = state._replace(seedlings=np.zeros(2 * state.seedlings.size, layout.SEEDLING))

    def thread_memory(self) -> "Memory":
        """Working memory for one thread."""
        return Memory(self)

    def draw(self, replicates: Sequence[int], given: Mapping[str, Any] = NOTHING) -> tuple[Any, Any, dict[str, Any]]:
        """Parameters of some replicates, see `pack_parameters`."""
        world, seed, numbers = self.world, self.seed, replicates
        if self.past is not None and world.start is not None:
            seed, numbers = world.start.seed, self.past.numbers(replicates)
            given = self.past.values(replicates, world.vine, world.treatments) | dict(given)
        return pack_parameters(world.vine, world.treatments, seed, numbers, world.fixed_parameters, given)


class Memory:
    """One thread's working memory."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.state = engine.new_state()

    def run(self, block: Block, vines: Any, rows: Any, i: int, s: int, sums: Any) -> None:
        """Run replicate number i of a block under strategy s: write its row, and add its maps to the sums."""
        engine = self.engine
        cells, years, plan = engine.ground.cells.size, engine.world.years, engine.plans[s]

        def empty(_: Any) -> Any:
            return new_tally(plan, years, cells, engine.map_slot, sums, engine.own_maps)

        number = int(block.replicates[i])
        tally, self.state, _ = engine.play(self.state, number, s, vines[i : i + 1], rows[i], empty)
        put_back(engine.ground, plan, self.state)
        block.yearly[s, i] = tally.yearly
        for name in BY_STRATEGY:
            getattr(block, name)[s][i] = getattr(tally, name)
        if engine.own_maps:
            block.cover[s, i] = tally.cover
