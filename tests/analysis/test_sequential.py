"""Intervals that hold at every look, against scipy, and the claim itself by simulation of invented worlds."""

import math

import numpy as np
import pytest
from scipy import stats

from spreadsim.analysis.sequential import error_of_look, most_often, student, sure_intervals
from spreadsim.analysis.stopping import Width, look_at

LOOKS = (50, 100, 200, 400, 800, 1600)
ERROR = 0.1
CASES = 1500
# misses of CASES, if ERROR were the true chance of one, that would be exceeded with chance 1e-6
MOST_MISSES = int(stats.binom.isf(1e-6, CASES, ERROR))

# paired differences between strategies as they come: (name, draws of a shape, their mean)
LAWS = {
    "normal": (lambda random, shape: random.normal(size=shape), 0.0),
    "exponential": (lambda random, shape: random.exponential(size=shape), 1.0),
    "lognormal": (lambda random, shape: np.exp(random.normal(size=shape)), math.exp(0.5)),
    "seven of ten worlds equal": (
        lambda random, shape: random.exponential(size=shape) * (random.random(shape) < 0.3),
        0.3,
    ),
    "nine of ten worlds equal": (
        lambda random, shape: random.exponential(size=shape) * (random.random(shape) < 0.1),
        0.1,
    ),
    "hardly any world differs": (
        lambda random, shape: np.exp(random.normal(size=shape)) * (random.random(shape) < 0.03),
        0.03 * math.exp(0.5),
    ),
    "whole numbers of both signs": (lambda random, shape: np.rint(random.gamma(0.5, 2.0, shape) - 1.0), None),
}


@pytest.mark.parametrize("freedom", [19, 49, 399])
@pytest.mark.parametrize("error", [0.2, 0.05, 1e-3, 1e-6])
def test_students_quantile_is_scipys(freedom: int, error: float):
    assert student(error, freedom) == pytest.approx(stats.t.isf(error / 2, freedom), rel=1e-3)


@pytest.mark.parametrize(("seen", "trials"), [(0, 50), (3, 50), (19, 60), (19, 5000), (5, 5)])
@pytest.mark.parametrize("error", [0.05, 1e-5])
def test_the_upper_limit_of_a_share_is_scipys(seen: int, trials: int, error: float):
    wanted = 1.0 if seen == trials else stats.beta.isf(error, seen + 1, trials - seen)
    assert most_often(seen, trials, error) == pytest.approx(wanted, rel=1e-9)


def test_the_error_of_all_looks_together_is_the_whole():
    spent = sum(error_of_look(look, ERROR) for look in range(1, 20_000))
    assert 0.999 * ERROR < spent < ERROR


def test_without_skew_the_interval_is_students():
    half = np.random.default_rng(1).normal(size=40)
    values = np.concatenate([half, -half])[:, None] + 3.0
    low, high = sure_intervals(values, 0.02, 9.0)
    wanted = stats.t.interval(0.98, 79, values.mean(), stats.sem(values[:, 0]))
    assert (low[0], high[0]) == pytest.approx(wanted, rel=1e-6)


def test_a_skewed_interval_is_hall_s_on_the_side_of_the_long_tail_and_student_s_on_the_other():
    """Hall's polynomial, written out again, takes Student's ratio of the bound to the quantile that it is to be."""
    values = np.random.default_rng(2).exponential(size=(60, 1))
    low, high = sure_intervals(values, 0.01, 99.0)
    mean, error, skew = values.mean(), stats.sem(values[:, 0]), stats.skew(values[:, 0])
    t = stats.t.isf(0.005, 59)
    ratio = (mean - high[0]) / error
    root = math.sqrt(60)
    assert ratio + skew * ratio**2 / (3 * root) + skew**2 * ratio**3 / (27 * 60) + skew / (6 * root) == pytest.approx(
        -t, rel=1e-6
    )
    assert low[0] == pytest.approx(mean - t * error, rel=1e-6)
    assert high[0] - mean > mean - low[0]


def test_worlds_that_never_differed_may_still_differ():
    values = np.zeros((50, 2))
    values[0, 1] = 2.0
    low, high = sure_intervals(values, 0.01, 5.0)
    assert high[0] == pytest.approx(5.0 * (1 - 0.01 ** (1 / 50)))
    assert low[0] == -high[0]
    assert high[1] == pytest.approx(5.0 * stats.beta.isf(0.01, 2, 49))


def misses(name: str, *, spread_over_looks: bool) -> int:
    """How many of CASES have an interval that misses the true mean at any look: the worst that stopping can do."""
    draw, mean = LAWS[name]
    random = np.random.default_rng(20261125)
    if mean is None:
        mean = float(draw(random, 4_000_000).mean())
    values = draw(random, (LOOKS[-1], CASES))
    missed = np.zeros(CASES, bool)
    for number, count in enumerate(LOOKS, start=1):
        seen = values[:count]
        if spread_over_looks:
            low, high = sure_intervals(seen, error_of_look(number, ERROR), float(np.ptp(seen)))
        else:
            half = stats.t.isf(ERROR / 2, count - 1) * stats.sem(seen, axis=0)
            low, high = seen.mean(axis=0) - half, seen.mean(axis=0) + half
        missed |= (low > mean) | (high < mean)
    return int(missed.sum())


@pytest.mark.parametrize("name", LAWS)
def test_intervals_hold_at_all_looks_together(name: str):
    """False alarm below 1e-6 if they hold with the confidence that is said, whatever the rule of stopping."""
    assert misses(name, spread_over_looks=True) <= MOST_MISSES


@pytest.mark.parametrize("name", LAWS)
def test_a_fixed_level_at_each_look_fails_the_same_test(name: str):
    assert misses(name, spread_over_looks=False) > 1.5 * MOST_MISSES


def worlds(random: np.random.Generator, count: int, better: float) -> np.ndarray:
    """Outcomes of four strategies, (count, 4): a factor shared by a world, ties, and two equal but for luck."""
    world = np.exp(0.5 * random.normal(size=(count, 1)))
    luck = random.exponential(size=(count, 4)) * (random.random((count, 4)) < 0.4)
    return world * [2.0, 1.0, 1.0, 1.0 - better] + luck


@pytest.mark.parametrize(("better", "goal"), [(0.0, "best"), (0.2, "best"), (0.2, "width"), (0.02, "either")])
def test_what_is_said_when_a_run_stops_is_true(better: float, goal: str):
    """Everything said at the stop, of all pairs together; false alarm below 1e-6 at the stated confidence."""
    names = ("no action", "a", "b", "c")
    random = np.random.default_rng(7)
    mean = np.exp(0.125) * np.array([2.0, 1.0, 1.0, 1.0 - better]) + 0.4
    wrong, stopped, cases = 0, 0, 300
    for _ in range(cases):
        values = worlds(random, LOOKS[-1], better)
        for number, count in enumerate(LOOKS, start=1):
            look = look_at(number, names, {"infested_area": values[:count]}, {"infested_area": Width(0.25)}, 1 - ERROR)
            if look.reached(goal):
                stopped += 1
                break
        seen = look.seen[0]
        true = {name: float(one) for name, one in zip(names, mean, strict=True)}
        fine = all(one.low <= true[one.first] - true[one.second] <= one.high for one in seen.differences)
        fine &= all(true[other] > true[seen.best] for other in seen.beaten)
        fine &= all(abs(true[other] - true[seen.best]) <= seen.wanted for other in seen.close)
        wrong += not fine
    assert stopped > cases / 2
    assert wrong <= stats.binom.isf(1e-6, cases, ERROR)


def test_stopping_when_a_fixed_level_calls_one_better_is_often_wrong():
    """The same worlds, of which two strategies are equal, by the naive rule: it sees a difference far too often."""
    random = np.random.default_rng(7)
    wrong, cases = 0, 300
    for _ in range(cases):
        values = worlds(random, LOOKS[-1], 0.0)
        apart = values[:, 1] - values[:, 2]
        wrong += any(stats.ttest_1samp(apart[:count], 0.0).pvalue < ERROR for count in LOOKS)
    assert wrong > 1.5 * stats.binom.isf(1e-6, cases, ERROR)


def test_a_share_of_no_action_and_the_better_direction():
    random = np.random.default_rng(1)
    values = random.normal(size=(400, 2)) * 0.01 + [0.5, 0.8]
    look = look_at(1, ("no action", "plant"), {"native_cover": values}, {"native_cover": Width(0.1, share=True)}, 0.9)
    (seen,) = look.seen
    assert seen.best == "plant" and seen.beaten == ("no action",)
    assert seen.wanted == pytest.approx(0.05, abs=0.001)
    lower = look_at(1, ("no action", "cut"), {"infested_area": values}, {"infested_area": Width(1.0)}, 0.9)
    assert lower.seen[0].best == "no action"
    assert lower.reached("width") and lower.reached("best") and lower.reached("either")


def test_more_pairs_and_later_looks_have_wider_intervals():
    values = np.random.default_rng(1).normal(size=(100, 3))
    width = {"infested_area": Width(1.0)}

    def reach(number: int, names: tuple[str, ...]) -> float:
        chosen = {"infested_area": values[:, : len(names)]}
        return look_at(number, names, chosen, width, 0.9).seen[0].differences[0].reach

    assert reach(1, ("no action", "a")) < reach(2, ("no action", "a")) < reach(3, ("no action", "a"))
    assert reach(1, ("no action", "a")) < reach(1, ("no action", "a", "b"))
