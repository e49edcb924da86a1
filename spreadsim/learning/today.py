"""Where vine stands today: the weighted worlds, and what was seen in each place itself."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.findings import Findings
from spreadsim.learning.measure import Measure
from spreadsim.learning.overlooked import Overlooked
from spreadsim.learning.worlds import BARE, World


class Seen(NamedTuple):
    """What one world adds to the maps."""

    cells: Any
    missed: Any  # chance that mat in the cell is not found
    sight: Any  # whether it counts for the cell that nothing was found there
    known: Any
    climbed: Any
    fruiting: Any
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


def see(world: World, measure: Measure) -> Seen:
    """Give what a world adds to the maps.

    Away from the mats of the map, that people looked at a cell and noted nothing speaks against mat in that cell: a
    world in which it would probably have been found counts for less there, by the chance of missing it.
    """
    chances = measure.chances(world)
    return Seen(
        cells=world.cells,
        missed=1.0 - chances.mat,
        sight=chances.patch >= 0,
        known=world.known,
        climbed=world.hosts != BARE,
        fruiting=world.hosts > 1,
        host_missed=np.where((world.hosts != BARE) & ~world.hosts_known, 1.0 - chances.hosts, 0.0),
        overlooked=measure.overlooked.density(world, measure.overlooked.rates(world.number)),
    )


def today(
    worlds: Iterable[Seen], weights: Any, findings: Findings, overlooked: Overlooked, cells: int, hosts: int
) -> Today:
    """Put worlds together, in their order, so that sums are the same bits each time.

    Parameters
    ----------
    worlds
        As many as weights.
    findings
        Where mat was recorded it is; hosts that were recorded are what was recorded.
    overlooked
        What the map lacked.
    cells, hosts
        How many the site has.
    """
    before, there, unknown, unsaid = (np.zeros(cells) for _ in range(4))
    climbed, fruiting, unknown_hosts = (np.zeros(hosts) for _ in range(3))
    lacked, lacked_before = np.zeros(len(overlooked.kinds.leaf_on)), np.zeros(len(overlooked.kinds.leaf_on))
    for world, weight in zip(worlds, weights.tolist(), strict=True):
        missed = np.where(world.sight, world.missed, 1.0)
        before[world.cells] += 1.0 / len(weights)
        there[world.cells] += weight * missed
        unsaid[world.cells] += weight * (1.0 - missed)
        unknown[world.cells] += weight * world.missed * ~world.known
        climbed += weight * world.climbed
        fruiting += weight * world.fruiting
        unknown_hosts += weight * world.host_missed
        lacked += weight * world.overlooked
        lacked_before += world.overlooked / len(weights)
    silent = np.maximum(1.0 - unsaid, 1e-12)  # the weight of worlds in which nothing would have been noted there
    more = overlooked.spread(lacked)
    now, unknown = there / silent + more, unknown / silent + more
    before += overlooked.spread(lacked_before)
    now[findings.mat_cells] = 1.0
    unknown[findings.mat_cells] = 0.0
    for host, state in findings.hosts.items():
        if state == BARE:
            continue
        climbed[host], fruiting[host], unknown_hosts[host] = 1.0, float(state > 1), 0.0
    both = (np.minimum(part, 1.0) for part in (before, now, unknown, climbed, fruiting, unknown_hosts))
    return Today(*both)
