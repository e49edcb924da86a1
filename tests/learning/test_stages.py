"""Worlds drawn near those that explain a survey: scores, proposals, and weights against a known posterior."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from spreadsim import Experiment, load_vine
from spreadsim.inputs.survey import Event, Record, Survey
from spreadsim.learning.from_survey import LEFT_OUT, learn, that_count
from spreadsim.learning.overlooked import HOSTS, PATCHES, Overlooked
from spreadsim.learning.prior import Prior, share_below
from spreadsim.learning.proposal import DEFENSIVE, MOST, Proposal, near
from spreadsim.learning.stages import rounds
from spreadsim.learning.task import Said, task_of
from spreadsim.learning.weights import weigh
from spreadsim.learning.worlds import Worlds
from spreadsim.model.parameters import LINKS, quantile

from .inventing import DAY, Inventor
from .small import MAPPED, YEARS, experiment, site

DRAWN = sorted(name for name, one in load_vine("wintercreeper").parameters.items() if one.drawn)


@given(st.sampled_from(DRAWN), st.floats(1e-6, 1 - 1e-6))
def test_a_share_is_turned_into_a_value_and_back(name, share):
    parameter = load_vine("wintercreeper")[name]
    value = quantile(parameter, share)
    assert share_below(parameter, np.array([value]))[0] == pytest.approx(share, abs=1e-9)


def small_prior() -> tuple[Prior, Worlds, Overlooked]:
    survey = Survey("made.csv", (Event("made", 2.0, None, "", (Record("line 1", "made", False, (DAY, DAY), "east"),)),))
    said = Said("a little", 1.0, MAPPED, None, False, False, None, None, None, 0.2)
    overlooked = task_of(experiment(), survey, said, range(20), None).measure.overlooked
    runs = Worlds(experiment(), experiment().strategies[1], 4 * YEARS, range(400))
    return Prior(runs.engine.world.vine, runs.engine.world.treatments, overlooked), runs, overlooked


def test_scores_of_worlds_from_the_prior_are_standard_normal_and_come_back_as_the_same_values():
    prior, runs, overlooked = small_prior()
    rates = [overlooked.rates(number) for number in runs.numbers]
    scores = prior.scores(runs.columns, rates)
    assert {PATCHES, HOSTS, "mat.front_speed", "seed.patches_founded", "pull.mat_kill"} <= set(scores)
    assert not set(LINKS) & set(scores) and "birds.kernel_u" not in scores
    assert min(stats.kstest(column, "norm").pvalue for column in scores.values()) > 1e-6 / len(scores)
    values, again = prior.given(scores, runs.numbers)
    for name, column in values.items():
        np.testing.assert_allclose(column, runs.columns[name], rtol=1e-9)
    np.testing.assert_allclose(again, rates, rtol=1e-9)
    untouched, dealt = prior.given({}, runs.numbers)
    assert untouched == {} and dealt == rates


def test_a_proposal_has_the_density_of_its_draws():
    """Its mean under the prior is 1; draws are the prior's or the normal one's, by the share that is said."""
    spread = np.linalg.cholesky(np.array([[0.3, 0.2], [0.2, 0.5]]))
    proposal = Proposal(("a", "b"), np.array([1.5, -1.0]), spread)
    grid = np.linspace(-8, 8, 321)
    a, b = (axis.ravel() for axis in np.meshgrid(grid, grid))
    even = stats.norm.pdf(a) * stats.norm.pdf(b) * (grid[1] - grid[0]) ** 2
    density = proposal.density({"a": a, "b": b, "c": np.zeros(a.size)})
    assert density @ even == pytest.approx(1.0, abs=1e-6)
    drawn = proposal.draw(4, range(20_000))
    for name, column in (("a", a), ("b", b)):
        for power in (1, 2):
            error = np.sqrt(np.var(drawn[name] ** power) / 20_000)
            assert abs((drawn[name] ** power).mean() - (density * even) @ column**power) < 4.9 * error
    product = drawn["a"] * drawn["b"]
    assert abs(product.mean() - (density * even) @ (a * b)) < 4.9 * product.std() / np.sqrt(20_000)
    assert np.array_equal(proposal.draw(4, [7])["a"], drawn["a"][7:8]), "luck is that of the number"


def two_stages(log_likelihood, first: int, more: int, parameters: int, seed: int):
    """Worlds that are numbers, by the same steps as `run_stages`."""
    rng = np.random.default_rng(seed)
    table = {f"p{k}": rng.normal(size=first) for k in range(parameters)}
    start = weigh(log_likelihood(table), 0.25 * first)
    proposal = near(table, start.values)
    numbers = range(seed * 10_000, seed * 10_000 + more)
    moved = proposal.draw(1, numbers)
    added = {name: moved.get(name, rng.normal(size=more)) for name in table}
    table = {name: np.concatenate([column, added[name]]) for name, column in table.items()}
    share = more / (first + more)
    log_prior = -np.log(1 - share + share * proposal.density(table))
    return table, proposal, weigh(log_likelihood(table), 100.0, log_prior)


def test_two_stages_give_the_known_posterior_and_more_worlds_that_count():
    """Two scores seen with errors of 0.2 and 0.3 at 2.2 and -1.5, each a normal posterior, eighteen not seen at all."""

    def log_likelihood(table):
        return stats.norm.logpdf(2.2, table["p3"], 0.2) + stats.norm.logpdf(-1.5, table["p7"], 0.3)

    table, proposal, weights = two_stages(log_likelihood, 4000, 4000, 20, 3)
    assert set(proposal.names) == {"p3", "p7"} and not weights.tempered
    start = weigh(log_likelihood({name: column[:4000] for name, column in table.items()}))
    assert weights.full_effective > 10 * start.full_effective
    exact = {"p3": (2.2 / 1.04, 0.04 / 1.04), "p7": (-1.5 / 1.09, 0.09 / 1.09), "p0": (0.0, 1.0)}
    for name, (mean, variance) in exact.items():
        got = table[name] @ weights.values
        error = np.sqrt(np.sum((weights.values * (table[name] - got)) ** 2))
        assert abs(got - mean) < 4.9 * error
        apart = (table[name] - mean) ** 2
        error = np.sqrt(np.sum((weights.values * (apart - variance)) ** 2))
        assert abs(apart @ weights.values - variance) < 4.9 * error
    before = table["p3"] @ weights.before
    assert abs(before) < 4.9 * np.sqrt(np.sum((weights.before * (table["p3"] - before)) ** 2))


def test_luck_is_averaged_and_not_learned_from():
    """The likelihood has luck of its own in each world; the posterior is that of its average over the luck."""
    rng = np.random.default_rng(8)

    def log_likelihood(table):
        luck = rng.normal(0, 0.8, len(table["p0"]))
        return stats.norm.logpdf(1.5, table["p0"] + luck, 0.3)

    means = []
    for seed in range(1, 61):
        table, _, weights = two_stages(log_likelihood, 500, 500, 6, seed)
        means.append(table["p0"] @ weights.values)
    exact = 1.5 / (1 + 0.8**2 + 0.3**2)  # a normal number with an error of both
    assert abs(np.mean(means) - exact) < 4.9 * np.std(means) / np.sqrt(60) + 0.01


def test_only_what_moved_clearly_is_moved_and_no_more_than_a_few():
    rng = np.random.default_rng(2)
    told = 0
    for _ in range(60):
        table = {f"p{k}": rng.normal(size=400) for k in range(50)}
        told += len(near(table, weigh(rng.normal(size=400) * 1.5, 50.0).values).names)
    assert told <= stats.poisson(3000 / 300).ppf(1 - 1e-6), "3,000 scores that nothing speaks of, 1 in 400 each or so"
    table = {f"p{k}": rng.normal(size=4000) for k in range(20)}
    every = near(table, weigh(sum(table.values()) - 0.0, 200.0).values)
    assert 0 < len(every.names) <= MOST
    assert near(table, np.full(4000, 1 / 4000)).names == () and 0 < DEFENSIVE < 1


def test_rounds_hold_every_number_once():
    for count in (20, 21, 47, 2000):
        parts = list(rounds(list(range(count))))
        assert [number for part in parts for number in part] == list(range(count))
        assert len(parts[0]) == round(count / 2)


def test_worlds_left_out_of_the_maps_hold_a_millionth_of_the_weight():
    weights = np.array([1e-9, 0.3, 4e-7, 0.5, 5e-7, 0.2 - 9.01e-7, 0.0])
    assert that_count(weights) == [1, 3, 5]
    assert weights[[0, 2, 4, 6]].sum() < LEFT_OUT
    assert that_count(np.full(5, 0.2)) == [0, 1, 2, 3, 4]


def test_every_world_can_be_run_again_from_its_number_and_its_values():
    """What is learned names all that a world is made of, also where its parameters were moved."""
    runs = Worlds(experiment(), experiment().strategies[1], 4 * YEARS, [9008])
    world = next(runs.each(lambda one: one, 1))
    survey = Inventor(site(), 1.2, error=0.2).survey(world, np.random.default_rng(2))
    told = learn(experiment(), survey, strategy="a little", since=MAPPED, replicates=600)
    assert np.ptp(told["weight_before"].values) > 0, "worlds that were moved are to be tried"
    names = [name for name in told["parameter"].values if not name.startswith("map.")]
    given_values = {name: told["value"].sel(parameter=name).values for name in names}
    again = runs.others(told["replicate"].values.tolist(), given_values)
    said = Said("a little", 1.0, MAPPED, None, False, False, None, None, None, 0.2)
    task = task_of(experiment(), survey, said, 600, None)
    rates = dict(zip(again.numbers, told["value"].sel(parameter=[PATCHES, HOSTS]).values.T, strict=True))
    exact = told["log_likelihood"].values.T

    def total(one):
        given_rates = type(task.measure.overlooked.rates(0))(*rates[one.number])
        return task.measure.statistics(one, task.measure.chances(one), given_rates, task.findings.statistics)

    observed = [one.observed for one in task.findings.statistics]
    for row, counts in zip(exact[-20:], list(again.each(total, 2))[-20:], strict=True):
        ours = [one.log_likelihood(value) for one, value in zip(counts, observed, strict=True)]
        np.testing.assert_allclose(ours, row, rtol=1e-9)


def test_parameters_that_are_fixed_stay_so():
    fixed = Experiment.from_dict(experiment().to_dict() | {"fixed_parameters": True}, site())
    runs = Worlds(fixed, fixed.strategies[1], 4 * YEARS, [9008])
    survey = Inventor(site(), 1.2).survey(next(runs.each(lambda one: one, 1)), np.random.default_rng(2))
    told = learn(fixed, survey, strategy="a little", since=MAPPED, replicates=200)
    assert set(told["parameter"].values) == {PATCHES, HOSTS}
    again = Worlds(fixed, fixed.strategies[1], 4 * YEARS, range(200)).columns
    assert all(np.ptp(column) == 0 for column in again.values())
