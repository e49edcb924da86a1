"""Calibration of learning as it ships: its own model error, what the map lacked, both stages, tempering where it must."""

from typing import NamedTuple

import numpy as np
import pytest
from scipy import stats

from spreadsim.learning.finding import MODEL_ERROR
from spreadsim.learning.overlooked import HOSTS, PATCHES
from spreadsim.learning.ranges import LEVELS, fair_quantiles
from spreadsim.learning.stages import run_stages
from spreadsim.learning.task import Said, task_of
from spreadsim.learning.weights import WANTED, weigh
from spreadsim.learning.worlds import Worlds

from .inventing import Inventor
from .small import MAPPED, YEARS, experiment, site

PARAMETERS = ("mat.front_speed", "climb.climb_rate", "seed.patches_founded", "scout.search_time_constant_climbing")
QUANTITIES = (*PARAMETERS, PATCHES, HOSTS, "missed patches", "missed hosts", "likelihood")
SILENT = "impact.native_recovery_time"  # of what grows after the vine: no survey of the vine speaks of it
FIRST_TRUTH = 9_000_000  # numbers of worlds that no learner runs
FEWEST = 20.0  # worlds that count; fewer, and ranks would be those of a tempered posterior
HOURS = 1.2


class Trial(NamedTuple):
    """One truth learned about."""

    ranks: np.ndarray  # of the truth among worlds, taken as full as 20 worlds that count allow
    held: np.ndarray  # (quantities, 2) whether ranges of 50 and 90 % hold the truth
    held_as_shipped: np.ndarray  # with as many worlds that count as ship
    tempered: bool
    narrower: np.ndarray  # spread of log parameters after, as a share of that before; last that of `SILENT`
    moved: int


def trial(number: int, worlds: int) -> Trial:
    """Draw a truth, invent a survey of it, and learn from the survey, each by worlds of its own."""
    rng = np.random.default_rng([number, 7])
    runs = Worlds(experiment(), experiment().strategies[1], 4 * YEARS, [number])
    world = next(runs.each(lambda one: one, 1))
    said = Said("a little", 1.0, MAPPED, None, False, False, None, None, None, MODEL_ERROR)
    first = 1000 * (number % FIRST_TRUTH)  # worlds shared by trials would err in all of them alike
    numbers = range(first, first + worlds)
    rates = task_of(
        experiment(), Inventor(site(), HOURS).survey(world, rng), said, numbers, None
    ).measure.overlooked.rates(number)
    survey = Inventor(site(), HOURS, error=MODEL_ERROR, lacked=rates).survey(world, rng)
    task = task_of(experiment(), survey, said, numbers, None)
    ran = run_stages(task, 2, lambda: None, FEWEST)
    measure = task.measure
    chances = measure.chances(world)
    given = measure.statistics(world, chances, rates, task.findings.statistics)
    likelihood = sum(one.log_likelihood(s.observed) for one, s in zip(given, task.findings.statistics, strict=True))
    truth = [
        *(runs.columns[name][0] for name in PARAMETERS),
        *rates,
        *measure.missed(world, chances, rates),
        likelihood,
    ]
    lacked = np.array([ran.rates[n] for n in ran.worlds.numbers]).T
    total = ran.tables["log_likelihood"].sum(axis=0)
    values = np.vstack([*(ran.worlds.columns[name] for name in PARAMETERS), *lacked, *ran.missed.T, total])
    shipped = weigh(total, WANTED, np.log(ran.weights.before))
    logs = np.log([*values[:6], ran.worlds.columns[SILENT]])

    def spread(weights):
        mean = logs @ weights
        return np.sqrt((logs - mean[:, None]) ** 2 @ weights)

    def held(weights):
        ends = np.array([fair_quantiles(row, weights, LEVELS) for row in values])
        return np.array([(ends[:, k] <= truth) & (truth <= ends[:, -1 - k]) for k in (1, 0)]).T

    truth = np.array(truth)
    below = (values < truth[:, None]) @ ran.weights.values
    below += rng.random(len(truth)) * ((values == truth[:, None]) @ ran.weights.values)
    return Trial(
        below,
        held(ran.weights.values),
        held(shipped.values),
        ran.weights.tempered,
        spread(ran.weights.values) / spread(ran.weights.before),
        int((ran.weights.before.max() - ran.weights.before.min()) > 1e-12),
    )


@pytest.mark.slow
def test_ranges_hold_the_truth_as_often_as_they_say_with_all_that_ships():
    """False alarm 1e-6, shared over nine quantities, three checks of each on both sides, and a few of all.

    Truths are drawn like worlds, with what their map lacked; surveys with the errors that are assumed. Where the survey
    could be taken in full, ranks are uniform: whether it could follows from the survey alone, so that choosing such
    trials favours nothing. With as many worlds that count as ship most are taken at less than their weight: ranges may
    then hold the truth oftener than they say, and are held to that side alone.
    """
    trials = [trial(FIRST_TRUTH + k, worlds=WORLDS) for k in range(TRIALS)]
    in_full = np.array([one.ranks for one in trials if not one.tempered]).T
    held = np.array([one.held for one in trials if not one.tempered])
    shipped = np.array([one.held_as_shipped for one in trials])[:, :-1]  # tempered, worlds fit less well than the truth
    report(trials, in_full, held, shipped)
    count = len(held)
    assert count > 0.5 * TRIALS
    assert sum(one.moved for one in trials) > 0.5 * TRIALS, "the second stage has to be part of what is tried"
    alarm, bins = 1e-6 / (5 * len(QUANTITIES) + 2), 6
    for name, row in zip(QUANTITIES, in_full, strict=True):
        counts = np.bincount(np.minimum((row * bins).astype(int), bins - 1), minlength=bins)
        assert stats.chisquare(counts).pvalue > alarm, (name, counts)
    for k, share in enumerate((0.5, 0.9)):
        for name, of_full in zip(QUANTITIES, held[:, :, k].T, strict=True):
            assert stats.binomtest(int(of_full.sum()), count, share).pvalue > alarm, (name, share, of_full.mean())
        for name, kept in zip(QUANTITIES, shipped[:, :, k].T, strict=False):
            assert stats.binomtest(int(kept.sum()), TRIALS, share, "less").pvalue > alarm, (name, share, kept.mean())
    narrower = np.log([one.narrower for one in trials])
    climb, silent = narrower[:, PARAMETERS.index("climb.climb_rate")], narrower[:, -1]
    assert stats.ttest_1samp(climb, 0.0, alternative="less").pvalue < 1e-3, (
        "hosts climbed speak of the rate of climbing"
    )
    assert stats.ttest_1samp(silent, 0.0).pvalue > alarm, "nothing that was found speaks of natives"
    assert abs(silent.mean()) < 0.1


def report(trials: list[Trial], in_full: np.ndarray, held: np.ndarray, shipped: np.ndarray) -> None:
    """Print what was measured; pytest shows it with -s."""
    print(f"\n{len(trials)} trials of {WORLDS} worlds, {len(held)} in full, {sum(t.moved for t in trials)} moved")
    spread = np.exp(np.log([t.narrower for t in trials]).mean(axis=0))
    print("spread after, of before:", dict(zip((*QUANTITIES[:6], SILENT), spread.round(2).tolist(), strict=True)))
    for k, (name, row) in enumerate(zip(QUANTITIES, in_full, strict=True)):
        counts = np.bincount(np.minimum((row * 6).astype(int), 5), minlength=6)
        kept = shipped[:, k].mean(axis=0).round(3) if k < shipped.shape[1] else ""
        p = stats.chisquare(counts).pvalue
        print(f"{name:38} {counts} p {p:.3f}, held {held[:, k].mean(axis=0).round(3)}, as shipped {kept}")


TRIALS, WORLDS = 80, 300
