"""Planning again from surveys of invented worlds: what is said to be there now, and to come, holds as often as it says."""

import dataclasses

import numpy as np
import pytest
from scipy.stats import binom

import spreadsim
from spreadsim.learning.worlds import Worlds

from .inventing import Inventor
from .small import MAPPED, YEARS, experiment, site

TRIALS, LATER = 24, 4
SAID = {"strategy": "a little", "since": MAPPED, "overlooked_patches": (0.0, 0.0), "overlooked_hosts": (0.0, 0.0)}


@pytest.mark.slow
def test_ranges_of_now_and_later_hold_the_truth():
    """In each trial a world is surveyed that no learner runs; 90 % ranges of its hosts hold what it is and becomes.

    Of 24 trials at least so many hold as nine in ten would give but once in a million, over all four numbers.
    """
    asked = dataclasses.replace(experiment(), years=YEARS + LATER)
    work = asked.strategies[1]
    held = dict.fromkeys(
        [(name, year) for name in ("climbed_hosts", "fruiting_hosts") for year in (YEARS, asked.years)], 0
    )
    for trial in range(TRIALS):
        number = 9300 + trial
        world = next(Worlds(asked, work, 4 * YEARS, [number]).each(lambda one: one, 1))
        survey = Inventor(site(), 1.2, error=0.0).survey(world, np.random.default_rng(trial))
        found = spreadsim.learn(asked, survey, replicates=300, **SAID)
        start = spreadsim.start_of(asked, survey, found, replicates=60, **SAID)
        again = spreadsim.compare(dataclasses.replace(asked, start=start), replicates=60).sel(strategy="a little")
        true = spreadsim.simulate(
            site(), asked.vine, work, crews=asked.crews, years=asked.years, replicates=[number], seed=asked.seed,
            maps="none",
        )  # fmt: skip
        for name, year in held:
            low, high = np.quantile(again[name].sel(year=year), [0.05, 0.95])
            held[name, year] += bool(low <= float(true[name].sel(year=year)[0]) <= high)
    least = binom.ppf(1e-6 / len(held), TRIALS, 0.9)
    assert all(count >= least for count in held.values()), held
