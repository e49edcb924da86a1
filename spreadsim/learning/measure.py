"""What a survey would find in a world: for each of its numbers, the chances of every value."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs import Site
from spreadsim.learning.finding import LEAST, OUTLINE_ERROR, Effort, again, chance_host, chance_mat, counts_found
from spreadsim.learning.findings import CLIMBED_HOSTS, CLIMBING_HOSTS, MAT_AREA, NEW_PATCHES, Statistic
from spreadsim.learning.overlooked import Overlooked, Rates
from spreadsim.learning.worlds import BARE, CLIMBING, FRUITING, World
from spreadsim.learning.zones import Zones

_NORMAL = NormalDist()
NOBODY: Mapping[int, int] = MappingProxyType({})


@dataclass(frozen=True, eq=False)
class Count:
    """Chances of 0, 1, 2... things noted."""

    chances: Any

    def log_likelihood(self, observed: float) -> float:
        """Give the logarithm of the chance of what was noted."""
        k = int(observed)
        return float(np.log(max(self.chances[k] if k < len(self.chances) else 0.0, LEAST)))

    def below(self, observed: float) -> float:
        """Give the chance of less, and half that of just as much."""
        k = int(observed)
        return float(self.chances[:k].sum() + 0.5 * (self.chances[k] if k < len(self.chances) else 0.0))

    def draw(self, u: float) -> float:
        """Give the number at a quantile."""
        place = int(np.searchsorted(np.cumsum(self.chances), u, side="right"))
        return float(min(place, len(self.chances) - 1))


@dataclass(frozen=True, eq=False)
class Area:
    """A normal number: what is found, as people outline it."""

    mean: float
    sd: float

    def log_likelihood(self, observed: float) -> float:
        """Give the logarithm of the density of what was noted."""
        apart = (observed - self.mean) / self.sd
        return max(-0.5 * apart * apart - math.log(self.sd) - 0.5 * math.log(2.0 * math.pi), float(np.log(LEAST)))

    def below(self, observed: float) -> float:
        """Give the chance of less."""
        return _NORMAL.cdf((observed - self.mean) / self.sd)

    def draw(self, u: float) -> float:
        """Give the area at a quantile; none is below 0."""
        return max(self.mean + self.sd * _NORMAL.inv_cdf(u), 0.0)


class Missed(NamedTuple):
    """What nobody would know of after the survey, on average."""

    patches: float
    hosts: float


class Chances(NamedTuple):
    """Chances in one world that the survey notes what is there."""

    mat: Any  # by cell with mat; of new mat that of its whole patch, and of meeting it again if it is known
    hosts: Any  # by host; 0 where no vine is on it
    patch: Any  # number of the new patch of each cell with mat, -1 for the mats of the map
    patches: Any  # chance of each new patch, whether or not anybody looked there
    patches_known: Any
    distance: Any  # class of each
    patches_looked: Any  # whether a part of it lies where people looked


class Measure:
    """Tells what a survey would find.

    Parameters
    ----------
    site, zones
        The ground.
    effort
        Of the survey.
    overlooked
        What the map lacked.
    only_new
        Whether the survey notes only what nobody knew of.
    error
        Of the model, see `counts_found`.
    counted
        Climbed hosts by number of the unit, of which the survey does not say which.
    outlined
        Whether the survey says which ground the map's mats are on.
    by_place
        State by number of the hosts of which it does say what they are.
    """

    def __init__(
        self,
        site: Site,
        zones: Zones,
        effort: Effort,
        overlooked: Overlooked,
        only_new: bool,
        error: float,
        counted: Mapping[int, int] = NOBODY,
        outlined: bool = False,
        by_place: Mapping[int, int] = NOBODY,
    ) -> None:
        self.zones, self.effort, self.looked = zones, effort, effort.looked
        self.overlooked, self.only_new, self.error = overlooked, only_new, error
        self.area = site.plantable.ravel() * site.cell_size**2
        self.floor = site.cell_size**2  # m2: no outline is better than a cell
        self.unit = site.unit.ravel()
        self.host_cell = site.hosts.cell
        self.host_unit = self.unit[self.host_cell]
        self.outlined = outlined
        self.counts = np.zeros(int(self.unit.max(initial=0)) + 1)
        for unit, count in counted.items():
            self.counts[unit] = count
        self.recorded = np.isin(np.arange(len(self.host_cell)), list(by_place))
        climbed = [host for host, state in by_place.items() if state != BARE]
        self.tagged = np.bincount(self.host_unit[climbed], minlength=len(self.counts))

    def chances(self, world: World) -> Chances:
        """Give the chance of finding everything in a world.

        New mat is found as a whole patch: by the best chance of its cells, as in the model.
        """
        effort = self.effort.of(world.scouting, world.cells)
        mat = chance_mat(world.scouting, effort, world.share)
        fresh = ~self.zones.old[world.cells]
        patch = np.full(len(world.cells), -1)
        together = self.zones.patches(world.cells[fresh])
        patch[fresh] = together.of_cell
        count = len(together.distance)
        best, known, looked = np.zeros(count), np.zeros(count, bool), np.zeros(count, bool)
        np.maximum.at(best, together.of_cell, mat[fresh])
        np.logical_or.at(known, together.of_cell, world.known[fresh])
        np.logical_or.at(looked, together.of_cell, self.looked[world.cells[fresh]])
        mat[fresh] = np.where(looked, again(best, known), best)[together.of_cell]
        there = world.hosts != BARE
        hosts = np.zeros(len(there))
        hosts[there] = chance_host(world.scouting, self.effort.of(world.scouting, self.host_cell[there]))
        return Chances(mat, hosts, patch, best, known, together.distance, looked)

    def statistics(
        self, world: World, chances: Chances, rates: Rates, wanted: Sequence[Statistic]
    ) -> list[Count | Area]:
        """Give what the survey's numbers could have been in a world."""
        return [self._one(world, chances, rates, statistic) for statistic in wanted]

    def _one(self, world: World, chances: Chances, rates: Rates, statistic: Statistic) -> Count | Area:
        if statistic.kind == MAT_AREA:
            return self._old_mats(world, chances, statistic.where)
        if statistic.kind == NEW_PATCHES:
            chosen = (chances.distance == statistic.where) & chances.patches_looked
            noted, known = chances.patches[chosen], chances.patches_known[chosen]
            more = float(self.overlooked.patches_noted(world, rates)[statistic.where])
        else:
            states = (CLIMBING, FRUITING) if statistic.kind == CLIMBED_HOSTS else (FRUITING,)
            states = (CLIMBING,) if statistic.kind == CLIMBING_HOSTS else states
            chosen = np.isin(world.hosts, states) & (self.host_unit == statistic.where) & self.looked[self.host_cell]
            noted, known = chances.hosts[chosen], world.hosts_known[chosen]
            climbing = statistic.kind in (CLIMBED_HOSTS, CLIMBING_HOSTS)
            more = float(self.overlooked.hosts_noted(world, rates)[statistic.where]) if climbing else 0.0
        noted = noted[~known] if self.only_new else again(noted, known)
        return Count(counts_found(noted, world.scouting, more, self.error))

    def _old_mats(self, world: World, chances: Chances, unit: int) -> Area:
        """Give the area of the map's mats where people looked; unknown parts of them are found together or not."""
        chosen = (chances.patch < 0) & self.looked[world.cells] & (self.unit[world.cells] == unit)
        area = self.area[world.cells[chosen]] * world.cover[chosen]
        known, chance = world.known[chosen], chances.mat[chosen]
        sure, unsure = float(area[known].sum()), area[~known]
        found = float(unsure @ chance[~known])
        total = float(unsure.sum())
        luck = found * (total - found)
        mean = sure + found
        return Area(mean, float(np.sqrt(luck + (OUTLINE_ERROR**2 + self.error**2) * mean**2 + self.floor**2)))

    def missed(self, world: World, chances: Chances, rates: Rates) -> Missed:
        """Give how many new patches and climbed hosts nobody would know of after the survey."""
        patches = (1.0 - chances.patches) * ~chances.patches_known
        hosts = (1.0 - chances.hosts) * ((world.hosts != BARE) & ~world.hosts_known)
        more = self.overlooked.missed(world, rates)
        return Missed(float(patches.sum()) + more[0], float(hosts.sum()) + more[1])
