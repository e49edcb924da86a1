"""What the map lacked: patches and climbed hosts that were there when it was made, and that nobody saw."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs import Site
from spreadsim.inputs.checks import Check, is_number
from spreadsim.learning.finding import Effort, chance_host, chance_mat
from spreadsim.learning.worlds import World
from spreadsim.learning.zones import CLASSES, EDGES, Zones

FEWEST = 0.1  # of each kind on the whole site, where nothing else is said; assumed
SHARE = 0.5  # of the greatest cover, of an overlooked patch when the survey comes; assumed
RADIUS = 1.0  # m, of an overlooked patch when the map was made; assumed
PATCHES, HOSTS = "map.overlooked_patches", "map.overlooked_hosts"
Given = tuple[float, float]


class Rates(NamedTuple):
    """How many things the map lacked in a world, on average."""

    patches: float
    hosts: float


class Overlooked:
    """Gives how many overlooked things a survey notes, on average; the number is a Poisson one.

    Each world has a number of patches, and one of climbed hosts, that the map lacked on average; both are drawn from
    ranges on the log scale, are learned about like any parameter, and stand in no map of the model: patches lie
    anywhere on ground that the vine can grow on, more than 10 m from mapped mat, hosts are any that were mapped bare.

    Parameters
    ----------
    site, zones, effort
        The ground, and how long people looked.
    patches, hosts
        Lowest and highest average number on the site; (0, 0): the map lacks none.
    seed
        Of the draws.
    years
        From map to survey.
    """

    def __init__(
        self, site: Site, zones: Zones, effort: Effort, patches: Given, hosts: Given, seed: int, years: float
    ) -> None:
        self.ranges, self.seed, self.years = (patches, hosts), seed, years
        self.cell = site.cell_size**2
        fresh = (site.plantable.ravel() > 0) & ~zones.old
        self.size = int(fresh.sum())
        pairs = np.column_stack([effort.leaf_on, effort.leaf_off])
        kinds, group = np.unique(pairs[fresh], axis=0, return_inverse=True)
        self.group = np.full(fresh.size, -1)
        self.group[fresh] = group.ravel()
        self.kinds = Effort(kinds[:, 0], kinds[:, 1])
        classes = np.digitize(zones.distance[fresh], EDGES, right=True)
        self.by_class = _table(classes, group.ravel(), len(CLASSES), len(kinds))
        bare = site.hosts.state == 0
        self.bare = int(bare.sum())
        kinds, group = np.unique(pairs[site.hosts.cell[bare]], axis=0, return_inverse=True)
        self.host_kinds = Effort(kinds[:, 0], kinds[:, 1])
        units = site.unit.ravel()[site.hosts.cell[bare]].astype("i8")
        self.by_unit = _table(units, group.ravel(), len(site.unit_names) + 1, len(kinds))

    def rates(self, number: int) -> Rates:
        """Give what a world was dealt."""
        luck = np.random.Generator(np.random.PCG64([self.seed, number, 1])).random(2).tolist()
        patches, hosts = self.ranges
        return Rates(
            _log_uniform(luck[0], patches) if self.size else 0.0, _log_uniform(luck[1], hosts) if self.bare else 0.0
        )

    def drawn(self, dealt: Sequence[Rates]) -> dict[str, tuple[Any, dict[str, str]]]:
        """Give the rates of worlds as parameters, those that differ between them."""
        rates = np.array(dealt)
        what = {
            PATCHES: "patches that the map lacked, on average",
            HOSTS: "climbed hosts that the map lacked, on average",
        }
        columns = {name: rates[:, k] for k, name in enumerate(what)}
        about = {name: {"units": "1", "long_name": text} for name, text in what.items()}
        return {name: (column, about[name]) for name, column in columns.items() if np.ptp(column) > 0}

    def patches_noted(self, world: World, rates: Rates) -> Any:
        """Give how many overlooked patches are noted on average, by class of distance."""
        return rates.patches * (self.by_class @ self._mat(world)) / max(self.size, 1)

    def hosts_noted(self, world: World, rates: Rates) -> Any:
        """Give how many overlooked climbed hosts are noted on average, by unit."""
        return rates.hosts * (self.by_unit @ self._hosts(world)) / max(self.bare, 1)

    def missed(self, world: World, rates: Rates) -> tuple[float, float]:
        """Give how many patches and hosts are overlooked again, on average."""
        patches, hosts = self.patches_noted(world, rates).sum(), self.hosts_noted(world, rates).sum()
        return rates.patches - float(patches), rates.hosts - float(hosts)

    def density(self, world: World, rates: Rates) -> Any:
        """Give the chance that a cell has mat that was overlooked again, by kind of effort; see `spread`."""
        radius = RADIUS + world.front_speed * self.years
        cells = max(math.pi * radius**2 / self.cell, 1.0)
        return np.minimum(rates.patches * cells / max(self.size, 1) * (1.0 - self._mat(world)), 1.0)

    def spread(self, by_kind: Any) -> Any:
        """Give values by kind of effort to the cells of the site."""
        return np.where(self.group >= 0, np.append(by_kind, 0.0)[self.group], 0.0)

    def _mat(self, world: World) -> Any:
        effort = self.kinds.of(world.scouting, slice(None))
        return chance_mat(world.scouting, effort, SHARE)

    def _hosts(self, world: World) -> Any:
        return chance_host(world.scouting, self.host_kinds.of(world.scouting, slice(None)))


def given_or_assumed(value: object, place: str, mapped: int, check: Check) -> Given:
    """Give a range that was said, else one from almost none to as many as were mapped."""
    if value is None:
        return FEWEST, float(max(mapped, 1))
    pair = tuple(value) if isinstance(value, tuple | list) else ()
    if len(pair) == 2 and all(is_number(one) for one in pair):
        low, high = float(pair[0]), float(pair[1])
        if low == high == 0.0 or 0.0 < low <= high <= 1e5:
            return low, high
    check.add(place, Said(repr(value)), "a lowest and a highest number above 0, or 0 and 0 where the map lacks none")
    return 0.0, 0.0


def mapped_patches(site: Site) -> int:
    """Count the mats of a map, corner to corner."""
    from scipy.ndimage import label

    return int(label(site.mat > 0, structure=np.ones((3, 3)))[1])


def _log_uniform(u: float, given: Given) -> float:
    low, high = given
    return 0.0 if high == 0.0 else low * (high / low) ** u


def _table(rows: Any, columns: Any, height: int, width: int) -> Any:
    """Count pairs, (height, width)."""
    return np.bincount(rows * width + columns, minlength=height * width).reshape(height, width).astype(float)
