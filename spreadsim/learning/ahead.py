"""Are we ahead of last year? The state now against the map's, and against the same worlds had nobody worked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.errors import InputError
from spreadsim.inputs import NO_ACTION, Experiment, Start, Strategy
from spreadsim.learning.logged import NO_VINE, hosts_of
from spreadsim.learning.measured import AGAINST, CONFIDENCE, MEASURED, UNITS, WHEN
from spreadsim.learning.overlooked import RADIUS, SHARE
from spreadsim.learning.start_of import rates_of
from spreadsim.learning.states import states


def ahead(
    experiment: Experiment,
    start: Start,
    learned: xr.Dataset,
    outcomes: xr.Dataset,
    *,
    workers: int | None = None,
) -> xr.Dataset:
    """Say whether there is less vine than when the map was made, and less than there would be untreated.

    Parameters
    ----------
    experiment
        Its site is the map.
    start
        The learned state.
    learned
        What `learn` gave with it.
    outcomes
        A comparison that begins from the start: its first year is the state now.
    workers
        Threads; None: one per core. Results do not depend on it.

    Returns
    -------
    xarray.Dataset
        ``value`` (measure, when, world): when the map was made, now, and now had nobody worked. The worlds are those
        of the start, so that what the survey says is in them. What the map is thought to have lacked counts when it
        was made, too. ``untreated`` is the state now less what the work changed, which is the difference between the
        same world with and without the work, before the survey's finds are put in: they would stand in both. What the
        log says of single hosts counts as work, but for those that are no vine: they are in neither.
        ``mean``, ``low`` and ``high`` (measure, when): 90 % of the worlds. ``difference`` with ``difference_low`` and
        ``difference_high``, and the shares of worlds with ``less``, as much (``same``) and ``more`` (measure,
        against): now less then, and now less untreated. Attribute ``effective_worlds``: how many different worlds of
        equal weight they are worth.

    Raises
    ------
    InputError
        The outcomes do not begin from the start, or what was learned holds other worlds.
    """
    years = [int(year) for year in outcomes["year"].to_numpy()]
    if outcomes.sizes["replicate"] != start.worlds or years[0] != start.years:
        raise InputError("outcomes: found a comparison that begins elsewhere, allowed one that begins from the start")
    alone, alone_hosts = states(experiment, start, Strategy(NO_ACTION), (), MEASURED, workers)
    worked, worked_hosts = states(experiment, start, start.strategy, start.crews, MEASURED, workers)
    hosts = [MEASURED.index(name) for name in ("climbed_hosts", "fruiting_hosts")]
    worked[hosts, :, -1] += _as_logged(start, hosts_of(learned), alone_hosts, worked_hosts)
    first = outcomes.isel(year=0, strategy=0)
    now = np.array([first[name].to_numpy().astype(float) for name in MEASURED])
    then = alone[:, :, 0] + _lacked(learned, start)
    value = np.stack([then, now, now - (worked[:, :, -1] - alone[:, :, -1])], axis=1)
    difference = np.stack([now - then, worked[:, :, -1] - alone[:, :, -1]], axis=1)
    counts = np.unique(start.numbers, return_counts=True)[1]
    return _labelled(value, difference, experiment, start, learned, start.worlds**2 / float((counts**2).sum()))


def _as_logged(start: Start, logged: Mapping[int, str], alone: Any, worked: Any) -> Any:
    """Give what the log says of single hosts adds to the work, (climbed and fruiting, worlds).

    What nobody did is no work of that world, and what was done is; what is no vine would be none untreated either.
    """
    final = worked.copy()
    final[start.host_world, start.host] = start.host_state
    hosts = np.array(list(logged), int)
    no_vine = np.array([said == NO_VINE for said in logged.values()], bool)
    after = np.where(no_vine, alone[:, hosts], final[:, hosts])
    return np.stack([((after >= one).astype(float) - (worked[:, hosts] >= one)).sum(axis=1) for one in (1, 2)])


def _lacked(learned: xr.Dataset, start: Start) -> Any:
    """Give what the map lacked on average in each world, (measures, worlds): no fruiting hosts."""
    numbers = learned["replicate"].to_numpy()
    order = np.argsort(numbers)
    places = order[np.minimum(np.searchsorted(numbers[order], start.numbers), len(order) - 1)]
    if not np.array_equal(numbers[places], start.numbers):
        raise InputError("learned: found other worlds than those of the start, allowed what was learned with it")
    patches, hosts = rates_of(learned, places)
    area = patches * math.pi * RADIUS**2
    return np.stack([area, SHARE * area, hosts, np.zeros(start.worlds)])


def _labelled(
    value: Any, difference: Any, experiment: Experiment, start: Start, learned: xr.Dataset, effective: float
) -> xr.Dataset:
    tails = [(1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2]
    one, two = ("measure", "when"), ("measure", "against")
    low, high = np.quantile(value, tails, axis=2)
    further, nearer = np.quantile(difference, tails, axis=2)
    share = f"of {CONFIDENCE:.0%} of the worlds".replace("%", " %")

    def of(dims: Any, values: Any, text: str) -> Any:
        return (dims, values, {"long_name": text})

    return xr.Dataset(
        {
            "value": of((*one, "world"), value, "in each world"),
            "mean": of(one, value.mean(axis=2), "mean of the worlds"),
            "low": of(one, low, f"lower end {share}"),
            "high": of(one, high, f"upper end {share}"),
            "difference": of(two, difference.mean(axis=2), "now less the other, mean of the worlds"),
            "difference_low": of(two, further, f"lower end {share}"),
            "difference_high": of(two, nearer, f"upper end {share}"),
            "less": of(two, (difference < 0).mean(axis=2), "share of worlds with less now"),
            "same": of(two, (difference == 0).mean(axis=2), "share of worlds with as much"),
            "more": of(two, (difference > 0).mean(axis=2), "share of worlds with more now"),
        },
        {
            "measure": list(MEASURED),
            "when": list(WHEN),
            "against": list(AGAINST),
            "number": ("world", start.numbers),
            "unit": ("measure", list(UNITS)),
        },
        {
            "title": experiment.title,
            "comment": str(learned.attrs["notice"]),
            "mapped": str(learned.attrs["mapped"]),
            "surveyed": start.surveyed,
            "strategy": start.strategy.name,
            "years": start.years,
            "season": int(learned.attrs["seasons"]),
            "confidence": CONFIDENCE,
            "effective_worlds": effective,
        },
    )
