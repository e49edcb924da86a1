"""Hosts of the reference simulator: waits, light, climbing, how they start."""

import math

import numpy as np
import pytest

from . import example, hosts
from .draws import WAIT
from .helpers import ERRORS, run_park, world_of
from .world import BARE, CLIMBING


@pytest.mark.parametrize("shape", [1.0, 4.0, 5.0])
def test_waits_are_gammas_of_mean_1(shape):
    n = 1500
    row = [{"x": 1.0, "y": 1.0}] * n
    world = world_of(example.site(1, 1, 2.0, hosts=row), example.vine(climb__wait_shape=shape))
    waits = [hosts.wait(world, host) for host in world.hosts]
    assert abs(np.mean(waits) - 1.0) < ERRORS / math.sqrt(shape * n)
    kurtosis_term = (2.0 + 6.0 / shape) / n
    assert abs(np.var(waits) * shape - 1.0) < ERRORS * math.sqrt(kurtosis_term)


def test_each_try_of_a_wait_has_draws_of_its_own():
    world = world_of(example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0}]))
    uniforms = world.draws.pair(WAIT, 0, 0, 6) + world.draws.pair(WAIT, 0, 0, 7)
    assert hosts.wait(world, world.hosts[0], 3) == pytest.approx(-math.log(math.prod(uniforms)) / 4)


@pytest.mark.parametrize(
    ("canopy", "top", "height", "expected"),
    [
        (0.0, 1.0, 18.0, 0.0),
        (1.0, 0.8, 20.0, 5.0),
        (0.9, 0.9, 18.0, 2.25),
        (1.0, 0.1, 20.0, math.inf),
        (1.0, 0.25, 20.0, math.inf),
    ],
)
def test_height_with_light(canopy, top, height, expected):
    host = {"x": 1.0, "y": 1.0, "top_light": top, "height": height}
    world = world_of(example.site(1, 1, 2.0, hosts=[host], canopy=np.full((1, 1), canopy)))
    assert hosts.height_with_light(world, world.hosts[0]) == pytest.approx(expected)
    assert hosts.time_to_light(world, world.hosts[0]) == pytest.approx(expected / 0.6)


def test_hosts_start_as_mapped():
    rows = [{"x": 1.0, "y": 1.0, "state": 2, "top_light": 0.0}]
    rows += [{"x": 1.0, "y": 1.0, "state": 1, "years_climbing": 5.0} for _ in range(40)]
    rows += [{"x": 1.0, "y": 1.0, "state": 1} for _ in range(40)]
    rows += [{"x": 1.0, "y": 1.0}]
    world = world_of(example.site(1, 1, 2.0, hosts=rows))
    fruiting, aged, unknown, bare = world.hosts[0], world.hosts[1:41], world.hosts[41:81], world.hosts[81]
    assert fruiting.state == CLIMBING
    assert fruiting.fruiting(0.0)
    assert hosts.time_to_light(world, fruiting) == 0.0
    assert bare.state == BARE
    for host in aged:
        if hosts.ever_fruits(world, host):
            assert host.first_fruit > 0.0
            assert any(
                host.first_fruit == max(0.0, -5.0 + 6.0 * hosts.wait(world, host, attempt)) for attempt in range(64)
            )
        else:
            assert host.first_fruit == math.inf
    for host in unknown:
        if hosts.ever_fruits(world, host):
            assert host.first_fruit - host.climbed == pytest.approx(6.0 * hosts.wait_when_met(world, host))
    never = sum(1 for host in aged + unknown if host.first_fruit == math.inf)
    assert abs(never - 40) < ERRORS * math.sqrt(80 * 0.25)


def test_a_host_met_at_a_random_moment_has_a_wait_of_one_term_more():
    world = world_of(example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0}]))
    host, draws = world.hosts[0], world.draws
    for shape, numbers in ((1, (1,)), (2, (1, 2)), (4, (1, 2, 3)), (5, (1, 2, 3))):
        world.p["climb.wait_shape"] = float(shape)
        product = math.prod([u for n in numbers for u in draws.pair(4, 0, 0, n)][: shape + 1])
        assert hosts.wait_when_met(world, host) == pytest.approx(-math.log(product) / shape)


def test_hosts_in_mat_are_climbed_at_their_hazard():
    n, years = 300, 3
    rows = [{"x": 1.0, "y": 1.0} for _ in range(n)]
    site = example.site(1, 2, 2.0, mat=np.array([[0.95, 0.0]]), hosts=[*rows, {"x": 3.0, "y": 1.0}])
    out = run_park(example.Strategy(), years=years, site=site, fixed_parameters=True, processes=["climbing"], crews=())
    chance = 1.0 - math.exp(-0.15 * 0.95 * years)
    climbed = out["climbed_hosts"][years]
    assert abs(climbed - n * chance) < ERRORS * math.sqrt(n * chance * (1 - chance))
    assert out["host_state"][years, n] == 0  # outside the mat


def test_who_ever_fruits_is_a_share_of_the_hosts():
    n = 1000
    site = example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0}] * n)
    world = world_of(site, example.vine(climb__share_of_mature_climbers_fruiting=0.2))
    count = sum(1 for host in world.hosts if hosts.ever_fruits(world, host))
    assert abs(count - 200) < ERRORS * math.sqrt(160)
