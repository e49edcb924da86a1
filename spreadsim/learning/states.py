"""Worlds run again from the map, for what they were at each year's end; nothing is amended."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Crew, Experiment, Start, Strategy
from spreadsim.model.compiled import layout, put_back
from spreadsim.model.memory import new_tally
from spreadsim.runs.engine import Engine
from spreadsim.runs.pool import Memories
from spreadsim.runs.simulate import world_of


def states(
    experiment: Experiment,
    start: Start,
    strategy: Strategy,
    crews: Sequence[Crew],
    names: Sequence[str],
    workers: int | None,
) -> tuple[Any, Any]:
    """Run the worlds of a start from the map through some work to where it begins.

    Parameters
    ----------
    experiment
        Whose site is the map.
    start
        Gives the worlds and how many years.
    strategy, crews
        The work.
    names
        Of outcomes by year.
    workers
        Threads; None: one per core. Results do not depend on it.

    Returns
    -------
    outcomes
        (names, worlds, years + 1), at the end of each year, 0 for the map.
    hosts
        (worlds, hosts) at the last: 0 without vine, 1 climbing, 2 bore fruit that year.
    """
    numbers, first, place = np.unique(start.numbers, return_index=True, return_inverse=True)
    whole = world_of(dataclasses.replace(experiment, start=None), [strategy])
    if start.weather is not None:  # as logged, whatever the days and the money
        whole = dataclasses.replace(whole, weather=start.weather, funds=())
    world = dataclasses.replace(whole, crews=tuple(crews), years=start.years)
    engine = Engine(world, start.seed, (), False)
    given = {name: values[first] for name, values in start.values.items()}
    vines, rows, _ = engine.draw([int(number) for number in numbers], given)

    def empty(_: Any) -> Any:
        return new_tally(engine.plans[0], world.years, 0, engine.map_slot, np.zeros((0, 0), "i8"), False)

    def one(i: int, state: Any) -> tuple[Any, Any]:
        tally, state, plan = engine.play(state, int(numbers[i]), 0, vines[i : i + 1], rows[i], empty)
        climbing = state.hosts["state"] == layout.CLIMBING
        hosts = np.where(state.hosts["bore"] == world.years, 2, climbing.astype(int)) * climbing
        put_back(engine.ground, plan, state)
        return (tally.yearly, hosts), state

    ran = list(Memories(engine, workers, len(numbers)).each(range(len(numbers)), one))
    yearly, hosts = np.array([one[0] for one in ran]), np.array([one[1] for one in ran])
    columns = [layout.OUTCOMES.index(name) for name in names]
    return np.moveaxis(yearly[place][:, :, columns], 2, 0), hosts[place]
