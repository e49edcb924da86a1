"""Draws and parameters of the reference simulator: known answers and distributions."""

import math

import numpy as np
import pytest

from . import example
from .draws import KEEP, WEATHER, Draws, least_count, philox, uniform
from .helpers import ERRORS
from .parameters import draw, draw_vine, triangular

ONES = 0xFFFFFFFF
PI = (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344, 0xA4093822, 0x299F31D0)


@pytest.mark.parametrize(
    ("counter", "key", "expected"),
    [
        ((0, 0, 0, 0), (0, 0), (0x6627E8D5, 0xE169C58D, 0xBC57AC4C, 0x9B00DBD8)),
        ((ONES, ONES, ONES, ONES), (ONES, ONES), (0x408F276D, 0x41C83B0E, 0xA20BC7C6, 0x6D5451FD)),
        (PI[:4], PI[4:], (0xD16CFE09, 0x94FDCCEB, 0x5001E420, 0x24126EA1)),
    ],
)
def test_philox_gives_the_published_words(counter, key, expected):
    assert philox(counter, key) == expected


def test_uniforms_lie_strictly_between_0_and_1():
    assert uniform(0, 0) == 2.0**-53
    assert uniform(ONES, ONES) == 1.0 - 2.0**-53
    assert uniform(0x80000000, 0) == 0.5 + 2.0**-53


def test_draw_words_are_in_the_order_of_the_page():
    w0, w1, w2, w3 = philox((11, 22, 33, 8), (5, 6))
    assert Draws(5, 6).pair(KEEP, 11, 22, 33) == (uniform(w0, w1), uniform(w2, w3))


@pytest.mark.parametrize(("u", "k"), [(0.0301, 0), (0.0302, 1), (0.5, 3), (0.9, 6), (0.99, 8), (0.999, 11)])
def test_poisson_inversion(u, k):
    assert least_count(3.5, u) == k


@pytest.mark.parametrize("k", [0, 1, 2, 3])
def test_poisson_inversion_at_its_steps(k):
    below = (0.030197383422, 0.135888225400, 0.320847198862, 0.536632667901)[k]
    assert least_count(3.5, below - 1e-11) == k
    assert least_count(3.5, below + 1e-11) == k + 1


def test_poisson_ends_at_the_largest_uniform():
    assert least_count(0.0, 1.0 - 2.0**-53) == 0
    assert 4.0 < least_count(0.3, 1.0 - 2.0**-53) < 20
    assert 500 + 7 * math.sqrt(500) < least_count(500.0, 1.0 - 2.0**-53) < 500 + 10 * math.sqrt(500)


def test_large_poisson_is_taken_in_parts():
    draws = Draws(1, 2)
    parts = [least_count(1200.0 / 3, draws.first(WEATHER, 5, 6, 7 + 1000 * i)) for i in range(3)]
    assert draws.poisson(1200.0, WEATHER, 5, 6, 7) == parts[0] + parts[1] + parts[2]
    counts = [draws.poisson(1200.0, WEATHER, entity, 0, 0) for entity in range(60)]
    assert abs(np.mean(counts) - 1200.0) < ERRORS * math.sqrt(1200.0 / 60)


def test_triangular_quantiles():
    assert triangular(0.0, 1.0, 4.0, 0.25) == pytest.approx(1.0)
    assert triangular(0.0, 1.0, 4.0, 0.0625) == pytest.approx(0.5)
    assert triangular(2.0, 2.0, 4.0, 0.75) == pytest.approx(3.0)
    n = 2000
    values = [triangular(0.0, 1.0, 4.0, (i + 0.5) / n) for i in range(n)]
    assert np.mean(values) == pytest.approx(5.0 / 3.0, abs=1e-3)


def test_drawn_parameters_keep_their_ranges_and_the_seed_chain_adds_up():
    for replicate in range(30):
        values = draw_vine(example.vine(), Draws(3, replicate), False)
        for name, (_, low, high, _scale) in example.VINE.items():
            if low is not None:
                assert low <= values[name] <= high, name
        assert 0.0 < values["seed.microsite_share"] <= 1.0
        links = [values[f"seed.{link}"] for link in ("germination", "first_winter_survival")]
        links += [values["seed.seedling_to_rooted_patch"], values["seed.share_taken_by_birds"]]
        seeds = values["seed.fruits_per_host"] * values["seed.seeds_per_fruit"]
        founded = seeds * math.prod(links) * values["seed.microsite_share"]
        assert founded == pytest.approx(values["seed.patches_founded"])


def test_log_scale_draws_have_the_default_as_the_mode_of_the_logs():
    logs = [math.log(draw_vine(example.vine(), Draws(3, r), False)["mat.front_speed"]) for r in range(600)]
    low, mode, high = (math.log(v) for v in (0.15, 0.5, 1.5))
    spread = math.sqrt((low**2 + mode**2 + high**2 - low * mode - low * high - mode * high) / 18)
    assert abs(np.mean(logs) - (low + mode + high) / 3) < ERRORS * spread / math.sqrt(600)


def test_a_low_of_0_on_the_log_scale_stands_for_the_default_squared_over_the_high():
    parameter = example.Parameter(0.001, 0.0, 0.01, "log")
    logs = [math.log(draw("birds.share_far", parameter, 0, Draws(3, r), False)) for r in range(600)]
    low, high = math.log(0.0001), math.log(0.01)
    assert low < min(logs) < max(logs) < high
    assert abs(np.mean(logs) - math.log(0.001)) < ERRORS * (high - low) / math.sqrt(24 * 600)


def test_fixed_parameters_are_the_defaults_and_the_kernel_is_solved():
    values = draw_vine(example.vine(), Draws(3, 1), True)
    assert values["mat.front_speed"] == 0.5
    assert values["seed.microsite_share"] == pytest.approx(0.1)
    assert values["birds.kernel_u"] == pytest.approx(7790, rel=1e-3)


def test_a_seed_chain_that_cannot_reach_the_founding_rate_is_refused():
    vine = example.vine(seed__patches_founded=30.0)
    with pytest.raises(ValueError, match="30"):
        draw_vine(vine, Draws(1, 1), True)
