"""Where vine stands today: the weighted worlds, and what was seen in each place itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.findings import Findings
from spreadsim.learning.measure import Measure
from spreadsim.learning.overlooked import Overlooked, Rates
from spreadsim.learning.silence import named, still_there
from spreadsim.learning.worlds import BARE, World


class Seen(NamedTuple):
    """What one world adds to the maps."""

    cells: Any
    missed: Any  # chance that mat in the cell is not found
    named: Any  # chance that the survey has a record of it at this place, see `named`
    known: Any
    climbed: Any
    fruiting: Any
    host_named: Any  # as for mat
    host_among: Any  # that it is one of those that were merely counted
    host_missed: Any  # chance that nobody knows of the vine on a host after the survey
    overlooked: Any  # chance of mat that the map lacked and the survey missed, by kind of effort


class Today(NamedTuple):
    """Chances by cell and host."""

    before: Any  # mat, before learning
    now: Any  # mat
    unknown: Any  # mat that nobody knows of
    climbed: Any  # by host: vine on it
    fruiting: Any
    unknown_hosts: Any  # vine on it that nobody knows of


class Before:
    """Sums of the maps of worlds drawn as before the survey, one by one.

    Parameters
    ----------
    cells, kinds
        How many cells the site has, and how many kinds of effort.
    """

    def __init__(self, cells: int, kinds: int) -> None:
        self.count = 0
        self.mat = np.zeros(cells)
        self.overlooked = np.zeros(kinds)

    def add(self, cells: Any, overlooked: Any) -> None:
        """Add a world: cells with mat, and the chance of mat that the map lacked by kind of effort."""
        self.count += 1
        self.mat[cells] += 1.0
        self.overlooked += overlooked


def see(world: World, measure: Measure, rates: Rates) -> Seen:
    """Give what a world adds to the maps.

    Away from the mats of the map, that people looked at a cell and noted nothing speaks against mat in that cell: a
    world in which it would probably have been found counts for less there, by the chance of missing it. So it is with
    hosts, where they were not merely counted.
    """
    chances = measure.chances(world)
    at_places = named(world, chances, measure)
    return Seen(
        cells=world.cells,
        missed=1.0 - chances.mat,
        named=at_places.mat,
        known=world.known,
        climbed=world.hosts != BARE,
        fruiting=world.hosts > 1,
        host_named=at_places.hosts,
        host_among=at_places.among,
        host_missed=np.where((world.hosts != BARE) & ~world.hosts_known, 1.0 - chances.hosts, 0.0),
        overlooked=measure.overlooked.density(world, rates),
    )


def today(
    worlds: Iterable[Seen],
    weights: Any,
    earlier: Before,
    findings: Findings,
    overlooked: Overlooked,
    hosts: int,
    error: float,
) -> Today:
    """Put worlds together, in their order, so that sums are the same bits each time.

    Parameters
    ----------
    worlds
        As many as weights.
    weights
        Summing to 1.
    earlier
        The worlds before the survey.
    findings
        Where mat was recorded it is; hosts that were recorded are what was recorded.
    overlooked
        What the map lacked.
    hosts
        How many the site has.
    error
        Of the model, see `still_there`.
    """
    there, unknown, unsaid = (np.zeros(len(earlier.mat)) for _ in range(3))
    climbed, fruiting, unknown_hosts, host_unsaid, among, among_fruiting = (np.zeros(hosts) for _ in range(6))
    lacked = np.zeros(len(overlooked.kinds.leaf_on))
    for world, weight in zip(worlds, weights.tolist(), strict=True):
        there[world.cells] += weight * (1.0 - world.named)
        unsaid[world.cells] += weight * world.named
        unknown[world.cells] += weight * world.missed * ~world.known
        climbed += weight * world.climbed * (1.0 - world.host_named)
        fruiting += weight * world.fruiting * (1.0 - world.host_named)
        host_unsaid += weight * world.host_named
        among += weight * world.host_among
        among_fruiting += weight * world.host_among * world.fruiting
        unknown_hosts += weight * world.host_missed
        lacked += weight * world.overlooked
    more = overlooked.spread(lacked)
    now, unknown = (still_there(part, unsaid, 0.0, error) + more for part in (there, unknown))
    before = earlier.mat / earlier.count + overlooked.spread(earlier.overlooked / earlier.count)
    missed = still_there(1.0, host_unsaid, 0.0, error) * (1.0 - among)
    climbed, fruiting = among + missed * climbed, among_fruiting + missed * fruiting
    unknown_hosts *= missed
    now[findings.mat_cells] = 1.0
    unknown[findings.mat_cells] = 0.0
    for host, state in findings.hosts.items():
        climbed[host], fruiting[host], unknown_hosts[host] = float(state != BARE), float(state > 1), 0.0
    both = (np.minimum(part, 1.0) for part in (before, now, unknown, climbed, fruiting, unknown_hosts))
    return Today(*both)
