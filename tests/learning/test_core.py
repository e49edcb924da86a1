"""The weighting core against known posteriors, counts against brute force, ranges and checks on plain numbers."""

import itertools

import numpy as np
import pytest
from scipy import stats

from spreadsim.learning.finding import MISTAKEN, counts_found
from spreadsim.learning.fit import fit_of
from spreadsim.learning.measure import Area, Count
from spreadsim.learning.ranges import LEVELS, fair_quantiles, quantiles, ranges_of
from spreadsim.learning.weights import effective, pareto_k, weigh

NO_LOOK_ALIKES = {"misidentified": 0.0}
SIGMAS = 4.9  # standard errors: a false alarm of about 1e-6


def error_of_mean(values, weights) -> float:
    """Standard error of a weighted mean, by the delta method for ratios."""
    apart = values - values @ weights
    return float(np.sqrt(np.sum((weights * apart) ** 2)))


@pytest.mark.parametrize(
    ("prior", "log_likelihood", "posterior"),
    [
        # the conjugate cases of the catalogue of checks, section 14: 5 Poisson counts that sum to 13; 7 of 20; normal
        (stats.gamma(2.0), lambda v: stats.poisson.logpmf(13, 5 * v), stats.gamma(15.0, scale=1 / 6)),
        (stats.uniform(), lambda v: stats.binom.logpmf(7, 20, v), stats.beta(8.0, 14.0)),
        (stats.norm(0.0, 10.0), lambda v: stats.norm.logpdf(4.0, v, 1.0), stats.norm(3.9603960396, 0.9950371902)),
    ],
)
def test_weights_give_the_known_posterior(prior, log_likelihood, posterior):
    values = prior.rvs(15_000, random_state=np.random.default_rng(3))
    weights = weigh(log_likelihood(values))
    assert not weights.tempered and weights.effective > 500
    for power in (1, 2):
        error = error_of_mean(values**power, weights.values)
        assert abs(values**power @ weights.values - posterior.moment(power)) < SIGMAS * error
    ranges = ranges_of(values[None], weights.before, weights.values, weights.effective, 1)
    exact = posterior.ppf(LEVELS)
    assert (np.abs(posterior.cdf(ranges.after[0]) - LEVELS) < SIGMAS * np.sqrt(0.25 / weights.effective)).all()
    assert (np.abs(ranges.after[0] - exact) < 6 * ranges.error[0]).all()
    assert ranges.learned[0]


def test_tempering_is_the_known_posterior_of_a_power_of_the_likelihood():
    """A Poisson likelihood to the power b, under a gamma prior, is a gamma of its own."""
    values = stats.gamma(2.0).rvs(15_000, random_state=np.random.default_rng(4))
    weights = weigh(stats.poisson.logpmf(200, 20 * values), wanted=1500.0)
    assert weights.tempered and weights.effective == pytest.approx(1500, rel=1e-3)
    assert weights.full_effective < 1500
    power = weights.power
    posterior = stats.gamma(2.0 + 200 * power, scale=1 / (1 + 20 * power))
    assert abs(values @ weights.values - posterior.mean()) < SIGMAS * error_of_mean(values, weights.values)


def test_equal_likelihoods_change_nothing():
    values = np.random.default_rng(5).normal(size=(3, 500))
    weights = weigh(np.full(500, -7.3))
    assert (weights.values == 1 / 500).all() and weights.power == 1 and weights.effective == 500
    ranges = ranges_of(values, weights.before, weights.values, weights.effective, 1)
    assert np.array_equal(ranges.before, ranges.after) and not ranges.learned.any()


def test_one_world_alone_is_said_and_tempered():
    weights = weigh(np.append(np.full(399, -400.0) + np.arange(399) / 10, 0.0))
    assert weights.full_effective == pytest.approx(1.0, abs=1e-6)
    assert weights.tempered and weights.effective == pytest.approx(100, rel=1e-3)


def test_counts_are_those_of_all_outcomes_written_out():
    chances = np.array([0.9, 0.2, 0.2, 0.55])
    exact = np.zeros(5)
    for outcome in itertools.product((0, 1), repeat=4):
        exact[sum(outcome)] += np.prod(np.where(outcome, chances, 1 - chances))
    whole = np.convolve(exact, stats.poisson.pmf(np.arange(40), MISTAKEN))
    np.testing.assert_allclose(counts_found(chances, NO_LOOK_ALIKES)[:12], whole[:12], rtol=1e-12)
    more = np.convolve(exact, stats.poisson.pmf(np.arange(60), MISTAKEN + 2.5 + 0.1 * (chances.sum() + 2.5)))
    got = counts_found(chances, {"misidentified": 0.1}, 2.5)
    np.testing.assert_allclose(got[:20], more[:20], rtol=1e-10)
    assert got.sum() == pytest.approx(1, abs=1e-12)


def test_counts_of_many_things_agree_with_scipy():
    chances = np.random.default_rng(1).random(300)
    ours = counts_found(chances, NO_LOOK_ALIKES)
    theirs = np.convolve(stats.poisson_binom.pmf(np.arange(301), chances), stats.poisson.pmf(np.arange(40), MISTAKEN))
    np.testing.assert_allclose(ours[:340], theirs[:340], rtol=1e-8, atol=1e-13)
    assert ours[20] > 0, "a small chance is no zero"


def test_draws_follow_the_chances():
    count = Count(counts_found(np.array([0.3, 0.8]), NO_LOOK_ALIKES))
    luck = (np.arange(20_000) + 0.5) / 20_000
    shares = np.bincount([int(count.draw(u)) for u in luck], minlength=4)[:4] / 20_000
    np.testing.assert_allclose(shares, count.chances[:4], atol=1e-4)
    assert count.below(1) == pytest.approx(count.chances[0] + count.chances[1] / 2)
    assert count.log_likelihood(10_000) == pytest.approx(np.log(1e-300))
    area = Area(40.0, 5.0)
    assert area.log_likelihood(47.0) == pytest.approx(stats.norm.logpdf(47, 40, 5))
    assert area.below(47.0) == pytest.approx(stats.norm.cdf(1.4)) and area.draw(0.5) == 40


def test_quantiles_are_those_of_numpy():
    rng = np.random.default_rng(2)
    values, weights = rng.normal(size=400), rng.random(400)
    theirs = np.quantile(values, LEVELS, weights=weights, method="inverted_cdf")
    assert np.array_equal(quantiles(values, weights / weights.sum(), LEVELS), theirs)


def test_fair_quantiles_are_those_of_numpy_and_hold_another_value_as_often_as_they_say():
    rng = np.random.default_rng(2)
    values = rng.normal(size=37)
    theirs = np.quantile(values, LEVELS, method="weibull")
    np.testing.assert_allclose(fair_quantiles(values, np.full(37, 1 / 37), LEVELS), theirs, rtol=1e-12)
    twice = fair_quantiles(np.repeat(values, 2), np.tile([1 / 37, 0.0], 37), LEVELS)
    np.testing.assert_allclose(twice, theirs, rtol=1e-12)
    table = rng.normal(size=(4000, 21))
    ends = np.array([fair_quantiles(row[:20], np.full(20, 0.05), (0.05, 0.95)) for row in table])
    held = int(((ends[:, 0] <= table[:, 20]) & (table[:, 20] <= ends[:, 1])).sum())
    assert stats.binomtest(held, 4000, 0.9).pvalue > 1e-6


def test_a_parameter_that_had_no_say_is_hardly_ever_called_learned():
    """Of 20 such parameters at least one is called learned in about 1 of 100 surveys; in 40 surveys never above 5."""
    rng = np.random.default_rng(6)
    told, noticed = 0, 0
    for _ in range(40):
        values = rng.normal(size=(21, 150))
        weights = weigh(-0.5 * (values[0] - 1.0) ** 2 / 0.6**2)
        learned = ranges_of(values, weights.before, weights.values, weights.effective, 3).learned
        told += learned[1:].any()
        noticed += learned[0]
    assert noticed == 40
    assert told <= stats.binom.ppf(1 - 1e-6, 40, 0.01)


def test_pareto_k_is_that_of_the_tail():
    """Weights u^-k have a Pareto tail of shape k; the estimate of 4,000 has an error of about 0.1."""
    luck = np.random.default_rng(7).random(4000)
    for k in (0.3, 1.0):
        assert abs(pareto_k(-k * np.log(luck)) - k) < 0.25
    assert np.isnan(pareto_k(np.zeros(400))) and np.isnan(pareto_k(np.arange(30.0)))


def test_an_impossible_finding_is_called_unexplained_and_a_likely_one_is_not():
    rng = np.random.default_rng(9)
    means = rng.gamma(4.0, 1.0, 500)
    counts = [Count(stats.poisson.pmf(np.arange(200), mean)) for mean in means]

    def fit(observed):
        likelihood = np.array([[one.log_likelihood(observed) for one in counts]])
        drawn = np.array([[one.draw(u) for one, u in zip(counts, rng.random(500), strict=True)]])
        drawn_likelihood = np.array([[one.log_likelihood(k) for one, k in zip(counts, drawn[0], strict=True)]])
        weights = weigh(likelihood.sum(axis=0))
        below = np.array([[one.below(observed) for one in counts]])
        return fit_of(below, drawn, drawn_likelihood, likelihood, weights.before, weights.values)

    usual, strange = fit(4), fit(90)
    assert not usual.unexplained.any() and not usual.surprising.any() and usual.overall > 0.05
    assert strange.unexplained.all() and strange.surprising.all() and strange.overall < 0.01


def test_effective_number_of_worlds():
    assert effective(np.array([0.5, 0.5, 0.0])) == 2
