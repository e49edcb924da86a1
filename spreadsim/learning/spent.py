"""How much of the hours of a log the worlds find work for: a sign of whether map, hours and model agree."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from spreadsim.inputs import Experiment, Strategy
from spreadsim.runs.simulate import run_one
from spreadsim.schema import SEASONS

_WORLDS = 20  # tell a share to a few hundredths
_NEARLY = 0.95


def idle_hours(experiment: Experiment, strategy: Strategy, seasons: int, numbers: Sequence[int]) -> str:
    """Say how much of the hours that were logged the worlds leave unspent; empty where it is next to nothing.

    Parameters
    ----------
    experiment, strategy
        From `as_worked`.
    seasons
        That worlds are run for.
    numbers
        Of the worlds; the first 20 are asked.
    """
    years = -(-seasons // 4)
    logged = np.zeros((years, len(SEASONS)))
    for crew in experiment.crews:
        year = crew.years[0] if crew.years else 1
        if year <= years:
            logged[year - 1] += crew.hours
    before = (np.arange(4 * years) < seasons).reshape(years, 4)
    total = float(logged[before].sum())
    if total <= 0:
        return ""
    length = max(years, max(crew.years[0] for crew in experiment.crews if crew.years))
    asked = dataclasses.replace(experiment, years=length, map_years=None, funds=(), start=None)
    done = run_one(asked, strategy, list(numbers[:_WORLDS]))
    hours = np.nan_to_num(done["hours"].transpose("year", "season", "task", "replicate").to_numpy())
    by_task = hours[1 : years + 1].mean(axis=3)[before]
    spent = float(by_task.sum())
    if spent >= _NEARLY * total:
        return ""
    return (
        f"the worlds find work for {spent:,.0f} of the {total:,.0f} h that were logged; for the rest nothing known is "
        "left where it was worked, or too few hours for a whole place. Where that is much, map and log don't agree"
    )
