"""Each world twice: with the unknown vine of a piece left, and with it taken away, all else and all luck the same."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.inputs import Start
from spreadsim.learning.next_look.ground import Pieces
from spreadsim.learning.next_look.unknown import Unknown, unknown_in
from spreadsim.model.compiled import layout, put_back
from spreadsim.model.memory import new_tally
from spreadsim.runs.engine import Engine, World
from spreadsim.runs.past import Past
from spreadsim.runs.pool import Memories

MEASURED = tuple(measure for measure in MEASURES if measure.outcome in layout.OUTCOMES)
Told = Callable[[int, int], Any]


class Harm(NamedTuple):
    """What the unknown vine of one piece leads to in one world, by measure: left less taken away."""

    world: int  # place in the list of worlds
    piece: int
    mat: Any  # (measures,), the part of the mat
    hosts: Any  # (measures,), the part of vine on hosts


class Change(NamedTuple):
    """What is taken away in one run."""

    piece: int
    cells: Any
    hosts: Any


class Pairs:
    """Runs worlds from a start with and without what nobody knows of.

    Parameters
    ----------
    world
        With the start; its one strategy is what is done from there on.
    seed
        Of the worlds' future.
    chosen
        Which worlds of the start.
    pieces
        Of the ground.
    workers
        Threads; None: one per core. Results do not depend on it.
    """

    def __init__(self, world: World, seed: int, chosen: Sequence[int], pieces: Pieces, workers: int | None) -> None:
        self.engine, self.chosen, self.pieces = Engine(world, seed, (), False), chosen, pieces
        self._start: Start = world.start  # type: ignore[assignment]
        self._vines, self._rows, _ = self.engine.draw(chosen)
        self._scout = [treatment.name for treatment in world.treatments].index("scout")
        self._memories = Memories(self.engine, workers, len(chosen))

    def unknown(self) -> list[Unknown]:
        """Give what nobody knows of in each world."""

        def one(i: int, state: Any) -> tuple[Unknown, Any]:
            number, vine = self.chosen[i], self._vines[i : i + 1]
            return unknown_in(self.engine, self.pieces, state, number, vine, self._rows[i], self._scout)

        return list(self._memories.each(range(len(self.chosen)), one))

    def harms(self, unknown: Sequence[Unknown], tell: Told) -> list[Harm]:
        """Give what the unknown vine of each piece leads to in each world that has some there.

        Where there is mat and vine on hosts, each gets the average of what taking it away changes before and after the
        other (Shapley 1953), so that both parts add up to what taking both away changes.
        """
        changes = [_changes(one) for one in unknown]
        total, done = len(unknown) + sum(map(len, changes)), 0
        result: dict[tuple[int, int], Any] = {}
        base = np.zeros((len(unknown), len(MEASURED)))
        for turn in range(-1, max(map(len, changes), default=0)):
            there = [i for i, some in enumerate(changes) if len(some) > turn]
            # all runs of one turn begin from one start: replicates keep their numbers, and so their luck
            self.engine.past = self._past([some[turn] if len(some) > turn >= 0 else None for some in changes])
            for i, row in zip(there, self._memories.each(there, self._run), strict=True):
                if turn < 0:
                    base[i] = row
                else:
                    result[i, turn] = base[i] - row
                done += 1
                tell(done, total)
        return [harm for i, some in enumerate(changes) for harm in _parts(i, some, result)]

    def _run(self, i: int, state: Any) -> tuple[Any, Any]:
        engine, plan, none = self.engine, self.engine.plans[0], np.zeros((0, 0), "i8")
        years, first = engine.world.years, engine.world.first_year

        def empty(_: Any) -> Any:
            return new_tally(plan, years, 0, engine.map_slot, none, False)

        vine, rows = self._vines[i : i + 1], self._rows[i]
        tally, state, plan = engine.play(state, self.chosen[i], 0, vine, rows, empty)
        put_back(engine.ground, plan, state)
        yearly = tally.yearly[first + 1 :, [layout.OUTCOMES.index(measure.outcome) for measure in MEASURED]]
        ends = [measure.span == "end" for measure in MEASURED]
        return np.where(ends, yearly[-1], yearly.sum(axis=0)), state

    def _past(self, changes: Sequence[Change | None]) -> Past:
        old = self.engine.past
        assert old is not None
        start = without(self._start, dict(zip(self.chosen, changes, strict=True)))
        world = self.engine.world
        return Past(start, old.plan, self.engine.plans, world.strategies, world.treatments, self.engine.seed)


def without(start: Start, changes: dict[int, Change | None]) -> Start:
    """Give a start in whose worlds the vine of a change is gone; what else a survey put right stays."""
    gone = [(world, change) for world, change in sorted(changes.items()) if change is not None]
    columns: dict[str, Any] = {}
    for kind, names, none in (
        ("cell", ("cell_cover", "cell_known"), (0.0, False)),
        ("host", ("host_state", "host_known"), (0, False)),
    ):
        taken = [change.cells if kind == "cell" else change.hosts for _, change in gone]
        world = np.repeat([at for at, _ in gone], [len(one) for one in taken]).astype("i8")
        place = np.concatenate([*taken, np.zeros(0, "i8")]).astype("i8")
        old_world, old_place = getattr(start, f"{kind}_world"), getattr(start, kind)
        most = int(max(old_place.max(initial=0), place.max(initial=0))) + 1
        kept = ~np.isin(old_world * most + old_place, world * most + place)
        both = np.concatenate([old_world[kept], world])
        order = np.argsort(both, kind="stable")
        columns[f"{kind}_world"] = both[order]
        columns[kind] = np.concatenate([old_place[kept], place])[order]
        for name, value in zip(names, none, strict=True):
            old = getattr(start, name)[kept]
            columns[name] = np.concatenate([old, np.full(len(place), value, old.dtype)])[order]
    return dataclasses.replace(start, **columns)


def _changes(found: Unknown) -> list[Change]:
    """List the runs that a world needs: for each piece one, or three where it has both mat and vine on hosts."""
    none, some = np.zeros(0, "i8"), []
    for piece in np.union1d(found.patch_piece, found.host_piece).astype("i8").tolist():
        cells, hosts = found.cells[found.cell_piece == piece], found.hosts[found.host_piece == piece]
        some.append(Change(piece, cells, hosts))
        if len(cells) and len(hosts):
            some += [Change(piece, cells, none), Change(piece, none, hosts)]
    return some


def _parts(i: int, changes: Sequence[Change], result: dict[tuple[int, int], Any]) -> Iterator[Harm]:
    turn = 0
    while turn < len(changes):
        change, both = changes[turn], result[i, turn]
        if len(change.cells) and len(change.hosts):
            mat, hosts = result[i, turn + 1], result[i, turn + 2]
            yield Harm(i, change.piece, (both + mat - hosts) / 2, (both + hosts - mat) / 2)
            turn += 3
        else:
            nothing = np.zeros(len(both))
            yield Harm(i, change.piece, *((both, nothing) if len(change.cells) else (nothing, both)))
            turn += 1
