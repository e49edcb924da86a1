"""What it says that a survey names nothing at a place: chances in a world of a record there, and what is left."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.finding import again
from spreadsim.learning.measure import Chances, Measure
from spreadsim.learning.worlds import BARE, World

_ROUNDS = 60


class Named(NamedTuple):
    """Chances in one world that the survey would have a record of what is there."""

    mat: Any  # by cell with mat; 0 for the map's mats, unless their ground is told and not only their area
    hosts: Any  # by host, or that it would be missing in a count; 0 where no vine is on it


def named(world: World, chances: Chances, measure: Measure) -> Named:
    """Give the chance that a survey which names nothing at a place would have named what is there, for all in a world.

    Parameters
    ----------
    world, chances
        One world, and its chances of finding.
    measure
        Of the survey.
    """
    mat = np.where(chances.patch >= 0, chances.mat, 0.0)
    hosts = again(chances.hosts, world.hosts_known)
    if measure.only_new:  # what was known is not noted
        known = np.zeros(len(chances.patches), bool)
        np.logical_or.at(known, chances.patch[chances.patch >= 0], world.known[chances.patch >= 0])
        mat = np.where((chances.patch >= 0) & np.append(known, False)[chances.patch], 0.0, mat)
        hosts = np.where(world.hosts_known, 0.0, hosts)
    elif measure.outlined:  # what is known is outlined, or gone
        old = (chances.patch < 0) & measure.looked[world.cells]
        mat = np.where(old, np.where(world.known, 1.0, chances.mat), mat)
    noted = np.where((world.hosts != BARE) & measure.looked[measure.host_cell], hosts, 0.0)
    return Named(mat, noted * (1.0 - counted(noted, world, measure)))


def counted(noted: Any, world: World, measure: Measure) -> Any:
    """Give the chance that a host which people note is one of those that they merely counted, by host.

    In each unit it is what was counted there as a share of what is noted on average besides hosts that have a record;
    as many of all that is noted as are something else on average are left out of the count.

    Parameters
    ----------
    noted
        Chance that people note vine on a host.
    world, measure
        The world, and the survey.
    """
    others = np.bincount(measure.host_unit, np.where(measure.recorded, 0.0, noted), minlength=len(measure.counts))
    all_told = measure.counts + measure.tagged
    real = np.maximum(all_told / (1.0 + float(world.scouting["misidentified"])) - measure.tagged, 0.0)
    share = np.divide(real, others, out=np.zeros(len(others)), where=others > 0.0)
    return np.minimum(share, 1.0)[measure.host_unit]


def left(place: Any, weight: Any, missed: Any, size: int) -> Any:
    """Give the chance with which a world keeps what the survey names nothing of.

    At a place, the chance that something is there although nothing was named is by Bayes' rule
    sum(w missed) / (1 - sum(w (1 - missed))) over the worlds that have it. Each of them keeps it in proportion to its
    own chance of missing it, at most surely, so that the average over worlds is that number.

    Parameters
    ----------
    place
        (entries,), number of the place, from 0; one entry for each world and place with something there.
    weight
        (entries,), of the world; all worlds together weigh 1.
    missed
        (entries,), chance that there is no record of it.
    size
        How many places there are.

    Returns
    -------
    array
        (entries,), 0 to 1.
    """

    def total(values: Any) -> Any:
        return np.bincount(place, weights=values, minlength=size)

    there = total(weight * missed)
    wanted = there / np.maximum(1.0 - total(weight * (1.0 - missed)), 1e-12)
    factor = np.divide(wanted, there, out=np.ones(size), where=there > 0.0)
    for _ in range(_ROUNDS):  # those that would keep it more than surely leave the rest to the others
        sure = missed * factor[place] >= 1.0
        rest, free = wanted - total(weight * sure), total(weight * missed * ~sure)
        better = np.divide(rest, free, out=factor.copy(), where=free > 1e-15)
        if np.allclose(better, factor, rtol=1e-12, atol=0.0):
            break
        factor = np.maximum(better, factor)
    return np.minimum(missed * factor[place], 1.0)
