"""What it says that a survey names nothing at a place: chances in a world of a record there, and what is left."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.finding import again
from spreadsim.learning.measure import Chances, Measure
from spreadsim.learning.worlds import BARE, World

_ROUNDS = 60


class Named(NamedTuple):
    """Chances in one world that the survey notes what is there, where it would say so at its place."""

    mat: Any  # by cell with mat; 0 for the map's mats, unless their ground is told and not only their area
    hosts: Any  # by host; 0 where no vine is on it, or nobody looked
    among: Any  # that it is noted as one of those hosts that were merely counted; part of `hosts`


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
    return Named(mat, noted, noted * counted(noted, world, measure))


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


def still_there(there: Any, noted: Any, among: Any, error: float) -> Any:
    """Give the chance, by place, that something is there of which the survey names nothing at that place.

    It was merely counted; or else, by Bayes' rule, it was missed, as against worlds that have nothing there. A world in
    which it would have been noted is wrong there with the chance `error`, so that a thing which all worlds have is not
    held to be there whatever people saw.

    Parameters
    ----------
    there
        Weight of worlds that have it and in which it is missed.
    noted
        Weight of worlds in which it is noted.
    among
        Part of it in which it is merely counted.
    error
        Of the model, 0 to 1.
    """
    silent = np.maximum(1.0 - (1.0 - min(error, 1.0)) * noted, 1e-12)
    return among + (1.0 - among) * there / silent


def left(place: Any, weight: Any, noted: Any, among: Any, size: int, error: float) -> Any:
    """Give the chance with which a world keeps what the survey names nothing of.

    On average over worlds it is `still_there`: each keeps what was merely counted, and else in proportion to its own
    chance of missing it, at most surely.

    Parameters
    ----------
    place
        (entries,), number of the place, from 0; one entry for each world and place with something there.
    weight
        (entries,), of the world; all worlds together weigh 1.
    noted, among
        (entries,), as in `Named`.
    size
        How many places there are.
    error
        Of the model.

    Returns
    -------
    array
        (entries,), 0 to 1.
    """

    def total(values: Any) -> Any:
        return np.bincount(place, weights=weight * values, minlength=size)

    missed, room = 1.0 - noted, 1.0 - among
    there, counted_on = total(missed), total(among)
    wanted = still_there(there, total(noted), counted_on, error) - counted_on
    factor = np.divide(wanted, there, out=np.ones(size), where=there > 0.0)
    for _ in range(_ROUNDS):  # those that would keep it more than surely leave the rest to the others
        sure = missed * factor[place] >= room
        rest, free = wanted - total(room * sure), total(missed * ~sure)
        better = np.maximum(np.divide(rest, free, out=factor.copy(), where=free > 1e-15), factor)
        if np.allclose(better, factor, rtol=1e-12, atol=0.0):
            break
        factor = better
    return among + np.minimum(missed * factor[place], room)
