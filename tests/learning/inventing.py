"""Surveys invented from worlds, by code of its own: what a search of so many hours in each unit would note."""

from collections import defaultdict
from datetime import date
from math import exp, hypot, sqrt

import numpy as np

from spreadsim import Event, Site, Survey
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.learning.worlds import World

from .small import CELL, SURVEYED

DAY = date.fromisoformat(SURVEYED)  # in winter
ERROR = 0.3  # of the model: numbers on the ground are about those of a world, small ones as if they were two
STATES = {1: "climbing", 2: "fruiting"}
assert Event is not Visit


def blocks_together(blocks: set[tuple[int, int]]) -> list[set[tuple[int, int]]]:
    """Put blocks together that touch, if only at a corner."""
    left, groups = set(blocks), []
    while left:
        group, edge = set(), [left.pop()]
        while edge:
            row, column = edge.pop()
            group.add((row, column))
            near = {(row + i, column + j) for i in (-1, 0, 1) for j in (-1, 0, 1)} & left
            left -= near
            edge += near
        groups.append(group)
    return groups


class Inventor:
    """Searches all units of a site for so many hours each, and notes all or only what nobody knew of.

    `error` is that of the model; `lacked` says how many patches and climbed hosts the map lacked, on average.
    """

    def __init__(
        self,
        site: Site,
        hours: float,
        only_new: bool = False,
        error: float = ERROR,
        lacked: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        self.site, self.hours, self.only_new, self.error, self.lacked = site, hours, only_new, error, lacked
        unit = site.unit.ravel()
        hectares = np.bincount(unit, weights=site.plantable.ravel()) * CELL**2 / 1e4
        self.effort = np.where(unit > 0, 60 * hours / np.maximum(hectares, 1e-9)[unit], 0.0)
        row, column = np.divmod(np.arange(unit.size), site.nx)
        self.x, self.y = (column + 0.5) * CELL, (site.ny - row - 0.5) * CELL
        mapped = np.flatnonzero(site.mat.ravel() > 0)
        apart = np.hypot(self.x[:, None] - self.x[mapped], self.y[:, None] - self.y[mapped])
        self.away = apart.min(axis=1)
        self.block = [
            (int((r + 0.5) * CELL // 10), int((c + 0.5) * CELL // 10)) for r, c in zip(row, column, strict=True)
        ]
        self.fresh = np.flatnonzero((self.away > 10) & (self.effort > 0) & (site.plantable.ravel() > 0))

    def survey(self, world: World, rng: np.random.Generator) -> Survey:
        """Search a world once."""
        records = self._hosts(world, rng) + self._new_patches(world, rng)
        records += [] if self.only_new else self._areas(world, rng)
        by_unit = {name: [Record("line 1", name, False, (DAY, DAY), name)] for name in self.site.unit_names}
        for record in records:
            by_unit[record.unit].append(record)
        return Survey("invented.csv", tuple(Visit(n, self.hours, None, "", tuple(r)) for n, r in by_unit.items()))

    def found(self, world: World, effort: float, constant: str, share: float = 1.0) -> float:
        scout = world.scouting
        worth = effort * scout["leaf_off_boost"] * scout["clumping_factor"] * sqrt(share) / scout[constant]
        return (1 - scout["cryptic_share"]) * (1 - exp(-worth))

    def _again(self, chance: float) -> float:
        return 0.0 if self.only_new else max(chance, 0.95)

    def _name(self, cell: int) -> str:
        return self.site.unit_names[int(self.site.unit.ravel()[cell]) - 1]

    def _hosts(self, world: World, rng: np.random.Generator) -> list[Record]:
        records, expected = defaultdict(list), defaultdict(float)
        for j in np.flatnonzero(world.hosts).tolist():
            cell = int(self.site.hosts.cell[j])
            chance = self.found(world, self.effort[cell], "search_time_constant_climbing")
            chance = self._again(chance) if world.hosts_known[j] else chance
            unit, state = self._name(cell), STATES[int(world.hosts[j])]
            expected[unit, state] += chance
            if rng.random() < chance:
                records[unit, state].append(Record("line 2", unit, True, (DAY, DAY), unit, host=f"H{j}", state=state))
        for unit in self.site.unit_names:
            for state in STATES.values():
                noted = records[unit, state]
                lacked = self._hosts_lacked(world, unit) if state == "climbing" else 0.0
                more = self._besides(world, expected[unit, state], lacked, len(noted), rng)
                extra = Record("line 3", unit, True, (DAY, DAY), unit, state=state)
                records[unit, state] = noted[: len(noted) + min(more, 0)] + [extra] * more
        return [record for noted in records.values() for record in noted]

    def _hosts_lacked(self, world: World, unit: str) -> float:
        """Give how many hosts that the map lacked are noted in a unit, on average: any that were mapped bare."""
        bare = self.site.hosts.cell[self.site.hosts.state == 0]
        found = [
            self.found(world, self.effort[c], "search_time_constant_climbing") for c in bare if self._name(c) == unit
        ]
        return self.lacked[1] * sum(found) / len(bare)

    def _patches_lacked(self, world: World, cells: np.ndarray) -> float:
        """Give how many patches that the map lacked are noted in cells, on average: anywhere away from its mats."""
        everywhere = (self.away > 10) & (self.site.plantable.ravel() > 0)
        found = [self.found(world, effort, "search_time_constant_mat", 0.5) for effort in set(self.effort[cells])]
        assert len(found) <= 2
        by_effort = dict(zip(set(self.effort[cells]), found, strict=True))
        return self.lacked[0] * sum(by_effort[effort] for effort in self.effort[cells]) / everywhere.sum()

    def _besides(self, world: World, expected: float, lacked: float, noted: int, rng: np.random.Generator) -> int:
        """Give how many more or less are noted: look-alikes, what the map lacked, what the model is wrong by."""
        wrong = 0.02 + lacked + world.scouting["misidentified"] * (expected + lacked)
        return max(rng.poisson(wrong) + round(rng.normal(0, self.error * hypot(expected + wrong, 2))), -noted)

    def _at(self, cell: int) -> Record:
        unit = self._name(cell)
        return Record("line 4", unit, True, (DAY, DAY), unit, xy=(float(self.x[cell]), float(self.y[cell])))

    def _new_patches(self, world: World, rng: np.random.Generator) -> list[Record]:
        at = defaultdict(list)
        for k, cell in enumerate(world.cells.tolist()):
            if self.away[cell] > 10 and self.effort[cell] > 0:
                at[self.block[cell]].append((k, cell))
        records, expected = defaultdict(list), np.zeros(3)
        for group in blocks_together(set(at)):
            pairs = [pair for block in group for pair in at[block]]
            shares = [(cell, float(world.share[k])) for k, cell in pairs]
            chance = max(self.found(world, self.effort[c], "search_time_constant_mat", s) for c, s in shares)
            if any(world.known[k] for k, _ in pairs):
                chance = self._again(chance)
            nearest = min((cell for _, cell in pairs), key=lambda cell: self.away[cell])
            distance = int(np.digitize(self.away[nearest], (30, 100), right=True))
            expected[distance] += chance
            if rng.random() < chance:
                records[distance].append(self._at(nearest))
        classes = np.digitize(self.away[self.fresh], (30, 100), right=True)
        for k in np.unique(classes).tolist():
            noted = records[k]
            lacked = self._patches_lacked(world, self.fresh[classes == k])
            more = self._besides(world, expected[k], lacked, len(noted), rng)
            extra = [self._at(int(rng.choice(self.fresh[classes == k]))) for _ in range(more)]
            records[k] = noted[: len(noted) + min(more, 0)] + extra
        return [record for noted in records.values() for record in noted]

    def _areas(self, world: World, rng: np.random.Generator) -> list[Record]:
        records = []
        units = self.site.unit.ravel()[world.cells]
        for number, unit in enumerate(self.site.unit_names, 1):
            mine = (self.away[world.cells] <= 10) & (units == number)
            size = world.cover * CELL**2 * self.site.plantable.ravel()[world.cells]
            area = size[mine & world.known].sum()
            for k in np.flatnonzero(mine & ~world.known).tolist():
                chance = self.found(
                    world, self.effort[world.cells[k]], "search_time_constant_mat", float(world.share[k])
                )
                area += size[k] * (rng.random() < chance)
            told = max(area * (1 + 0.25 * rng.normal() + self.error * rng.normal()) + CELL**2 * rng.normal(), 0.0)
            records.append(Record("line 5", unit, told > 0, (DAY, DAY), unit, quantity=(f"{told:.6f}", "m2")))
        return records
