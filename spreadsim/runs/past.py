"""The years before a comparison begins: run again, amended by what a survey saw, handed over to each strategy."""

import hashlib
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Parameter, Start, Strategy, Task, Treatment, Vine
from spreadsim.inputs.task import kind_of_work
from spreadsim.model.compiled import amend, hand_over, layout, put_back, run
from spreadsim.model.memory import new_tally

_STRANGER = 4
_BORNE = (layout.FRUITING, layout.KNOWN_FRUITING)  # what a year's record counts as it goes on, and so the past knows


class Past:
    """What every compared strategy has behind it.

    Parameters
    ----------
    start
        Where the comparison begins.
    plan
        The work that was done, packed for as many years as the comparison has.
    plans, strategies, treatments
        What goes on, packed and not, and all treatments in use.
    seed
        Of the comparison.
    """

    def __init__(
        self,
        start: Start,
        plan: Any,
        plans: Sequence[Any],
        strategies: Sequence[Strategy],
        treatments: Sequence[Treatment],
        seed: int,
    ) -> None:
        plan.switches[layout.END_YEAR] = start.years
        self.start, self.plan, self.years = start, plan, start.years
        self._seed = seed
        self._heirs = [
            heirs(start.strategy, one, treatments, then.unit_rank >= 0)
            for one, then in zip(strategies, plans, strict=True)
        ]
        self._cells = _rows(layout.SEEN_CELL, cover=start.cell_cover, cell=start.cell, known=start.cell_known)
        self._hosts = _rows(layout.SEEN_HOST, host=start.host, state=start.host_state, known=start.host_known)
        worlds = np.arange(start.worlds + 1)
        self._cell_at = np.searchsorted(start.cell_world, worlds)
        self._host_at = np.searchsorted(start.host_world, worlds)
        self._earlier = _earlier(start.numbers)
        self._often = Counter(start.numbers.tolist())

    def world(self, replicate: int) -> int:
        """Index of the world that a replicate begins from."""
        return replicate % self.start.worlds

    def numbers(self, replicates: Sequence[int]) -> list[int]:
        """Replicate numbers that the worlds were run as, from the map on."""
        return [int(self.start.numbers[self.world(replicate)]) for replicate in replicates]

    def values(self, replicates: Sequence[int], vine: Vine, treatments: Sequence[Treatment]) -> dict[str, Any]:
        """Learned parameters of some replicates; what is not drawn has its value, and is not learned."""
        known: dict[str, Parameter] = dict(vine.parameters)
        for one in treatments:
            known |= {f"{one.name}.{role}": parameter for role, parameter in one.parameters.items()}
        worlds = [self.world(replicate) for replicate in replicates]
        learned = self.start.values.items()
        return {name: column[worlds] for name, column in learned if name in known and known[name].drawn}

    def keys(self, replicate: int) -> tuple[Any, Any]:
        """Key of a replicate's past, and of its future: other luck, lasting traits as in the past.

        The first replicate that begins from a world goes on as that world would have, under the seed of the worlds;
        any other has luck of its own from here on.
        """
        start, world = self.start, self.world(replicate)
        number = int(start.numbers[world])
        copy = replicate // start.worlds * self._often[number] + self._earlier[world]
        luck = start.seed if copy == 0 and self._seed == start.seed else _luck(start.seed, self._seed, copy)
        traits = [start.seed, number]
        return np.array(traits, np.uint64), np.array([luck, number, *traits], np.uint64)

    def run(self, ground: Any, state: Any, replicate: int, s: int, vine: Any, rows: Any, tally: Any) -> Any:
        """Bring fresh memory to where the comparison begins under strategy s; 0, or 1 if a list was too short.

        The tally gets what the first year's record can't see any more.
        """
        key, _ = self.keys(replicate)
        none = np.zeros((0, 0), "i8")
        years = tally.yearly.shape[0] - 1
        before = new_tally(self.plan, years, 0, np.full(years + 1, -1, "i4"), none, False)
        if run(key, ground, self.plan, state, vine, rows, before):
            put_back(ground, self.plan, state)
            return 1
        world = self.world(replicate)
        cells = self._cells[self._cell_at[world] : self._cell_at[world + 1]]
        hosts = self._hosts[self._host_at[world] : self._host_at[world + 1]]
        yearly = before.yearly[self.years]
        if self._cells.size or self._hosts.size:  # of any world, so that the first run compiles all that others need
            shares = np.full(ground.cells.size, -1.0)
            amend(key, ground, self.plan, state, vine, cells, hosts, shares, self.years, yearly)
        hand_over(ground, state, self._heirs[s])
        tally.yearly[self.years, _BORNE] = yearly[list(_BORNE)]
        return 0


def _rows(kind: Any, **columns: Any) -> Any:
    rows = np.zeros(len(next(iter(columns.values()))), kind)
    for name, column in columns.items():
        rows[name] = column
    return rows


def _earlier(numbers: Any) -> list[int]:
    """How many worlds before each one are run as the same number."""
    seen: dict[int, int] = {}
    earlier = []
    for number in map(int, numbers):
        earlier.append(seen.get(number, 0))
        seen[number] = earlier[-1] + 1
    return earlier


def _luck(start_seed: int, seed: int, copy: int) -> int:
    """A word of the key for the seasons to come."""
    text = f"luck {start_seed} {seed} {copy}".encode()
    return int.from_bytes(hashlib.sha256(text).digest()[:4], "little")


def heirs(done: Strategy, then: Strategy, treatments: Sequence[Treatment], works_in: Any) -> Any:
    """Who comes back to what each task has open: (tasks done, units + 1), -1 where nobody does.

    It is the same task if the strategy has it; else one of the same name, or else of the same treatment, that works in
    the unit. It must do the same kind of work and come back at all.

    Parameters
    ----------
    works_in
        Whether a task of the second strategy works in a unit: (tasks, units + 1).
    """
    kinds = {one.name: kind_of_work(one) for one in treatments}
    table = np.full((max(1, len(done.tasks)), works_in.shape[1]), -1, "i8")
    for row, old in zip(table, done.tasks, strict=False):
        able = [t for t, one in enumerate(then.tasks) if one.follow_up and kinds[one.treatment] == kinds[old.treatment]]
        for t in sorted(able, key=lambda t: _kinship(old, then.tasks[t])):
            kinship = _kinship(old, then.tasks[t])
            if kinship < _STRANGER:
                row[(row < 0) & (works_in[t] | (kinship == 0))] = t
    same = [k for k, (a, b) in enumerate(zip(done.tasks, then.tasks, strict=False)) if a == b and a.follow_up]
    table[same] = np.array(same, "i8")[:, None]
    return table


def _kinship(old: Task, new: Task) -> int:
    if new == old:
        return 0
    if new.label == old.label:
        return 1 if new.treatment == old.treatment else 2
    return 3 if new.treatment == old.treatment else _STRANGER
