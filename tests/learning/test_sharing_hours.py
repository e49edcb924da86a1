"""Hours shared out: worked numbers, brute force, and a general optimiser."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from spreadsim.learning.next_look.sharing import Terms, gain_of_more, gained, hours_until, share_out, visits


def terms(*rows: tuple[int, float, float], pieces: int | None = None) -> Terms:
    """Make terms of rows (piece, value, rate)."""
    piece, value, rate = (np.array(column) for column in zip(*rows, strict=True))
    return Terms(piece.astype(int), value.astype(float), rate.astype(float), pieces or int(piece.max()) + 1)


some_terms = st.lists(
    st.tuples(st.integers(0, 4), st.floats(0.01, 100.0), st.floats(0.05, 20.0)), min_size=1, max_size=12
)


def test_one_place_until_an_hour_is_worth_no_more() -> None:
    """Derived by hand after Hauser and McCarthy (2009): x* = ln(rate p dC / c) / rate, and none where p is too small."""
    rate, p, found, missed, c = 0.5, 0.1, 1000.0, 10000.0, 50.0
    one = terms((0, p * (missed - found), rate))
    x = hours_until(one, c)
    assert x[0] == pytest.approx(4.394449155, abs=5e-10)
    cost = c * x[0] + p * missed - gained(one, x)[0]
    assert cost == pytest.approx(419.7224577, abs=5e-8)
    assert gained(one, x)[0] / one.value[0] == pytest.approx(8 / 9)
    least = c / (rate * (missed - found))
    assert least == pytest.approx(0.0111, abs=5e-5)
    assert hours_until(terms((0, 0.999 * least * (missed - found), rate)), c)[0] == 0.0
    assert hours_until(terms((0, 1.001 * least * (missed - found), rate)), c)[0] > 0.0


def test_a_budget_over_three_places() -> None:
    """Derived by hand with one multiplier: rates .5, .5, .2, values 900, 180, 1500, 10 hours."""
    three = terms((0, 900.0, 0.5), (1, 180.0, 0.5), (2, 1500.0, 0.2))
    x = share_out(three, 10.0)
    assert x == pytest.approx([3.38804475, 0.16916892, 6.44278633], abs=1e-8)
    assert three.value.sum() - gained(three, x).sum() == pytest.approx(744.304173, abs=1e-6)


def test_random_search() -> None:
    """Koopman 1946, from memory: 1 - exp(-width speed time / area), for 10 m, 3 km/h, 4 h, 100 ha, and whole covers."""
    hours = np.array([4.0])
    assert gained(terms((0, 1.0, 10 * 3000 / 1e6)), hours)[0] == pytest.approx(0.113079563, abs=1e-9)
    for cover, chance in ((1.0, 0.632120559), (2.0, 0.864664717)):
        assert gained(terms((0, 1.0, cover / 4)), hours)[0] == pytest.approx(chance, abs=1e-9)


@pytest.mark.parametrize(("chance", "surveys"), [(0.3, 9), (0.5, 5)])
def test_surveys_that_an_absence_needs(chance: float, surveys: int) -> None:
    """ln(0.05) / ln(1 - chance), rounded up: 9 and 5."""
    one = terms((0, 1.0, -math.log1p(-chance)))
    assert gained(one, [surveys])[0] >= 0.95 > gained(one, [surveys - 1])[0]
    assert math.ceil(hours_until(one, 0.05 * one.rate[0])[0]) == surveys


@settings(max_examples=60, deadline=None)
@given(some_terms, st.floats(0.1, 200.0))
def test_an_hour_more_gains_the_same_wherever_there_are_hours(
    rows: list[tuple[int, float, float]], hours: float
) -> None:
    some = terms(*rows, pieces=5)
    x = share_out(some, hours)
    assert x.sum() == pytest.approx(hours) and (x >= 0).all()
    more = gain_of_more(some, x)
    if more.max() > 1e-200:
        assert np.allclose(more[x > 0], more.max(), rtol=1e-6)
        assert (more[x == 0] <= more.max() * (1 + 1e-9)).all()


def test_no_general_optimiser_finds_better() -> None:
    """Twenty random cases against SLSQP from scipy, which knows nothing of the form of the gains."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        rows = list(zip(rng.integers(0, 4, 9), rng.lognormal(0, 1.5, 9), rng.lognormal(0, 1, 9), strict=True))
        some, hours = terms(*rows, pieces=4), float(rng.uniform(0.5, 12))
        best = minimize(
            lambda x, some=some: -gained(some, x).sum(),
            np.full(4, hours / 4),
            jac=lambda x, some=some: -gain_of_more(some, x),
            bounds=[(0, None)] * 4,
            constraints={"type": "eq", "fun": lambda x, hours=hours: x.sum() - hours, "jac": lambda x: np.ones(4)},
            method="SLSQP",
            options={"ftol": 1e-13, "maxiter": 500},
        )
        ours = gained(some, share_out(some, hours)).sum()
        assert ours >= -best.fun - 1e-7 * abs(best.fun)
        assert ours == pytest.approx(-best.fun, rel=1e-5)


@settings(max_examples=40, deadline=None)
@given(some_terms, st.integers(0, 6), st.sampled_from([1 / 6, 0.5]))
def test_whole_visits_are_the_best_of_all_ways(rows: list[tuple[int, float, float]], count: int, step: float) -> None:
    some = terms(*rows, pieces=5)
    x = visits(some, count * step + 0.4 * step, step)
    assert np.allclose(x / step, np.round(x / step)) and x.sum() <= count * step + 1e-9
    ways = (np.bincount(way, minlength=5) for way in itertools.combinations_with_replacement(range(5), count))
    best = max(gained(some, way * step).sum() for way in ways)
    assert gained(some, x).sum() == pytest.approx(best, rel=1e-12)
    assert gained(some, x).sum() <= gained(some, share_out(some, max(x.sum(), 1e-9))).sum() * (1 + 1e-9) + 1e-12


def test_nothing_to_gain_gets_no_hours() -> None:
    nothing = Terms(np.zeros(0, int), np.zeros(0), np.zeros(0), 3)
    assert share_out(nothing, 5.0).tolist() == visits(nothing, 5.0, 0.5).tolist() == [0.0, 0.0, 0.0]
    worthless = terms((0, 0.0, 1.0), (2, 0.0, 2.0))
    assert share_out(worthless, 5.0).sum() == visits(worthless, 5.0, 0.5).sum() == 0.0
