"""A site as it is known after a survey: the map, with what was seen since."""

from __future__ import annotations

import dataclasses

import numpy as np

from spreadsim.inputs.arrays import freeze
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.site import Site

_MOST = 0.5  # of the worlds must be told of a thing, for it to have been seen


def site_as_known(experiment: Experiment) -> Site:
    """Give the site with the mat and the hosts that a survey saw, in the place of what was mapped there.

    What only some of the worlds are told of is their guess, and was not seen.
    """
    start, site = experiment.start, experiment.site
    if start is None:
        return site
    cells, hosts = seen_cells(experiment), seen_hosts(experiment)
    mat, state, known = site.mat.ravel().copy(), site.hosts.state.copy(), site.hosts.known.copy()
    if cells.any():
        counts = np.bincount(start.cell, minlength=mat.size)
        known_cover = np.bincount(start.cell, start.cell_cover * start.cell_known, mat.size)
        mat[cells] = known_cover[cells] / counts[cells]
    for host in np.flatnonzero(hosts):
        rows = start.host == host
        state[host] = np.bincount(start.host_state[rows], minlength=3).argmax()
        known[host] = start.host_known[rows].mean() >= _MOST
    now = dataclasses.replace(
        site.hosts, state=freeze(state), known=freeze(known), placed=freeze(site.hosts.placed & ~hosts)
    )
    return dataclasses.replace(site, mat=freeze(mat.reshape(site.mat.shape)), hosts=now)


def seen_cells(experiment: Experiment) -> np.ndarray:
    """Tell cells that a survey saw."""
    return _seen(experiment, "cell", experiment.site.mat.size)


def seen_hosts(experiment: Experiment) -> np.ndarray:
    """Tell hosts that a survey saw."""
    return _seen(experiment, "host", len(experiment.site.hosts))


def _seen(experiment: Experiment, what: str, size: int) -> np.ndarray:
    start = experiment.start
    if start is None:
        return np.zeros(size, bool)
    seen: np.ndarray = np.bincount(getattr(start, what), minlength=size) >= _MOST * start.worlds
    return seen
