"""Intervals against published values, scipy and their own promise."""

import math

import numpy as np
import pytest
from scipy import stats

from spreadsim.analysis.intervals import mean_interval, quantile_ranks, share_interval


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    # Newcombe 1998, Stat. Med. 17:857 (abstract read; the examples' data from memory)
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.0, 0.161125),
        (1, 29, 0.006113, 0.171755),
    ],
)
def test_wilson_intervals_of_newcombe(successes, trials, low, high):
    assert share_interval(successes, trials, 0.95) == pytest.approx((low, high), abs=6e-7)


def test_wilson_is_the_same_seen_from_the_other_side():
    low, high = share_interval(7, 30, 0.9)
    assert share_interval(23, 30, 0.9) == pytest.approx((1 - high, 1 - low), rel=1e-12)
    assert share_interval(20, 20, 0.9)[1] == 1.0
    assert all(math.isnan(bound) for bound in share_interval(0, 0))


@pytest.mark.parametrize(
    ("count", "quantile", "ranks"),
    # order statistics by the binomial law, derived in the catalogue of outside checks, section 13
    [
        (20, 0.5, (6, 15)),
        (50, 0.5, (18, 33)),
        (100, 0.5, (40, 61)),
        (1000, 0.5, (469, 532)),
        (200, 0.95, (184, 197)),
        (1000, 0.95, (936, 964)),
    ],
)
def test_ranks_that_enclose_a_quantile(count, quantile, ranks):
    assert quantile_ranks(count, quantile, 0.95) == ranks


def test_too_few_values_enclose_no_median():
    # all below or all above: 2 / 2^5 = .0625 of 5 values, .03125 of 6
    assert quantile_ranks(5, 0.5, 0.95) is None
    assert quantile_ranks(6, 0.5, 0.95) == (1, 6)


def test_a_single_value_says_nothing_and_equal_ones_leave_no_doubt():
    low, high = mean_interval([3.0])
    assert np.isnan(low).all() and np.isnan(high).all()
    low, high = mean_interval([0.1] * 7)
    assert low[0] == high[0] == 0.1


def test_few_values_get_students_interval():
    for values in ([1.0, 2.0], [1.0, 2.0, 4.0]):
        result = stats.t.interval(0.9, len(values) - 1, loc=np.mean(values), scale=stats.sem(values))
        assert np.ravel(mean_interval(values, 0.9)) == pytest.approx(result, rel=1e-9)
    four = [1.0, 2.0, 4.0, 5.0]
    low, high = np.ravel(mean_interval(four, 0.9))
    exact = stats.t.interval(0.9, 3, loc=3.0, scale=stats.sem(four))
    assert low < exact[0] and high > exact[1]


def test_the_same_values_give_the_same_interval_and_others_beside_them_change_nothing():
    values = np.random.default_rng(4).exponential(size=(40, 3))
    first, second = mean_interval(values, 0.9, 5), mean_interval(values, 0.9, 5)
    assert np.array_equal(first, second)
    alone = mean_interval(values[:, 1], 0.9, 5)
    assert alone[0][0] == pytest.approx(first[0][1], rel=1e-9)
    assert not np.array_equal(first, mean_interval(values, 0.9, 6))


def test_turning_the_sign_turns_the_interval():
    values = np.random.default_rng(4).lognormal(0, 1, 50)
    low, high = mean_interval(values, 0.9, 1)
    turned = mean_interval(-values, 0.9, 1)
    assert turned[0][0] == pytest.approx(-high[0], rel=1e-12)
    assert turned[1][0] == pytest.approx(-low[0], rel=1e-12)


def test_near_normal_values_get_nearly_students_interval():
    values = np.random.default_rng(8).normal(10, 3, 400)
    exact = stats.t.interval(0.9, 399, loc=values.mean(), scale=stats.sem(values))
    half = (exact[1] - exact[0]) / 2
    # the ends are quantiles of 9999 resamples: standard error sqrt(.05 * .95 / 9999) / density,
    # .021 of a standard deviation, .013 of the half width; skewness of the sample moves them as much
    assert np.ravel(mean_interval(values, 0.9, 1)) == pytest.approx(exact, abs=0.06 * half)


def test_mostly_equal_values_get_the_bca_interval_of_scipy():
    values = np.zeros(100)
    values[:8] = [1, 2, 2, 3, 5, 8, 9, 14]
    mine = np.ravel(mean_interval(values, 0.9, 3))
    theirs = stats.bootstrap(
        (values,), np.mean, confidence_level=0.9, n_resamples=9999, method="BCa", rng=np.random.default_rng(1)
    ).confidence_interval
    # two independent sets of resamples of a mean in steps of .01
    assert mine == pytest.approx((theirs.low, theirs.high), abs=0.03)
    assert mine[1] - values.mean() > 1.2 * (values.mean() - mine[0])  # longer on the side of the tail


def test_one_value_that_outweighs_all_others_does_not_blow_up_the_interval():
    values = np.append(np.random.default_rng(5).exponential(1, 23), 1000.0)
    low, high = np.ravel(mean_interval(values, 0.9, 3))
    assert 0 < low < values.mean() < high < 6 * values.mean()  # the bootstrap-t alone gives hundreds of means


@pytest.mark.parametrize(("count", "least"), [(30, 0.84), (200, 0.86)])
def test_the_interval_keeps_its_confidence_for_skewed_values(count, least):
    """Of lognormal values (skewness 6.2), the mean is e^(1/2).

    400 sets: the standard error of a coverage of .9 is .015. A bootstrap-t of such values covers a
    little less than it says (Hesterberg 2015, Am. Stat. 69:371, from memory), the plain percentile
    interval clearly less than `least` at 30 values.
    """
    random = np.random.default_rng(11)
    covered = 0
    for number in range(8):
        low, high = mean_interval(random.lognormal(0, 1, (count, 50)), 0.9, number)
        covered += int(np.sum((low <= math.exp(0.5)) & (math.exp(0.5) <= high)))
    assert least < covered / 400 < 0.96
