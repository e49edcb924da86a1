"""What treatments do in the reference simulator."""

import math

import numpy as np
import pytest

from . import birds, example, hosts, mat, treat
from .helpers import ERRORS, world_of
from .parameters import numbers_at_work
from .world import BARE, CLIMBING, CUT, EMPTY, FRONT

CUT_ROW = example.treatments()["cut"]


@pytest.mark.parametrize(("pieces", "k"), [(0.3, 0.6), (4.0, 0.9), (12.0, 0.99)])
def test_chance_of_clearing_is_that_of_a_poisson_number_that_was_not_nil(pieces, k):
    terms = [math.exp(-pieces) * pieces**n / math.factorial(n) * k**n for n in range(1, 80)]
    expected = math.fsum(terms) / (1.0 - math.exp(-pieces))
    assert treat.chance_of_clearing(pieces, k) == pytest.approx(expected, rel=1e-9)


def test_chance_of_clearing_at_its_ends():
    assert treat.chance_of_clearing(50.0, 1.0) == 1.0
    assert treat.chance_of_clearing(0.0, 0.6) == 0.6
    assert treat.chance_of_clearing(1e-6, 0.6) == pytest.approx(0.6, rel=1e-5)
    assert treat.chance_of_clearing(400.0, 0.5) < 1e-80


@pytest.mark.parametrize(("mean", "half_width"), [(0.6, math.sqrt(3) * 0.15), (0.9, 0.1), (0.05, 0.05), (0.0, 0.0)])
def test_kill_varies_around_its_mean(mean, half_width):
    world = world_of(example.site(30, 30, 2.0))
    numbers = {"mat_kill": mean, "kill_variation": 0.15}
    kills = [treat.kill_of_visit(world, cell, numbers, 3, True) for cell in world.cells]
    assert mean - half_width - 1e-12 <= min(kills) <= max(kills) <= mean + half_width + 1e-12
    assert abs(np.mean(kills) - mean) <= ERRORS * half_width / math.sqrt(3 * 900) + 1e-12
    assert np.std(kills) == pytest.approx(half_width / math.sqrt(3), rel=0.1, abs=1e-12)


def test_material_left_on_wet_ground_takes_root_again():
    world = world_of(example.site(1, 1, 2.0, wetness=np.full((1, 1), 0.5)))
    numbers = {"mat_kill": 0.6, "reroots": 0.2}
    assert treat.kill_of_visit(world, world.cells[0], numbers, 3, True) == pytest.approx(0.6)
    assert treat.kill_of_visit(world, world.cells[0], numbers, 3, False) == pytest.approx(0.6 * 0.9)


def test_a_thinned_cell_is_held_up_until_half_its_density():
    world = world_of(example.site(1, 1, 2.0, mat=np.array([[0.95]])))
    cell, pull = world.cells[0], example.treatments()["pull"]
    treat.treat_cell(world, cell, pull, {"mat_kill": 0.8}, 4, 1.0, True)
    assert cell.kind == FRONT
    assert mat.density(world, cell, 1.0) == pytest.approx(0.2)
    assert cell.push == pytest.approx(1.0 + 2.0)  # odds from 1/4 to 1 at a doubling a year
    assert cell.disturbed_until == pytest.approx(4.0)
    treat.treat_cell(world, cell, pull, {"mat_kill": 1.0}, 5, 1.05, True)
    assert cell.kind == EMPTY
    assert cell.cleared == 1.05


def test_native_harm_goes_by_season():
    world = world_of(example.site(1, 1, 2.0))
    numbers = {"native_loss_dormant": 0.1, "native_loss_growing": 0.5}
    spray = example.treatments()["spray"]
    treat.treat_cell(world, world.cells[0], spray, numbers, 4, 1.0, True)
    assert world.cells[0].native == pytest.approx(0.9)
    treat.treat_cell(world, world.cells[0], spray, numbers, 7, 1.0, True)
    assert world.cells[0].native == pytest.approx(0.45)


def climbed_host():
    """A world with one host mapped fruiting, in mat."""
    row = {"x": 1.0, "y": 1.0, "state": 2}
    world = world_of(example.site(1, 1, 2.0, mat=np.array([[0.95]]), hosts=[row]))
    return world, world.hosts[0]


def test_a_cut_host_sprouts_again_and_waits_for_its_fruit():
    world, host = climbed_host()
    treat.treat_host(world, host, {"stem_kill": 1.0, "crop_prevented_ripe": 0.1}, 7, 1.9, False)
    assert host.state == CUT
    assert host.first_fruit == pytest.approx(1.9 + 4.0 * hosts.wait(world, host))
    assert birds.share_borne(host, 2.0) == pytest.approx(0.9)
    hosts.climb(world, 7, 1.9, 2.0)
    assert host.state == CUT
    hosts.climb(world, 11, 2.85, 2.95)
    assert host.state == CLIMBING
    assert host.known


def test_a_dead_base_leaves_a_bare_host_and_a_ring_keeps_it_so():
    world, host = climbed_host()
    treat.treat_host(world, host, {"base_kill": 1.0}, 7, 1.9, False)
    assert host.state == CLIMBING  # not cut: the base is not reached
    treat.treat_host(world, host, {"stem_kill": 1.0, "base_kill": 1.0, "ring_radius": 1.5}, 7, 1.9, False)
    assert host.state == BARE
    assert host.ring_until == pytest.approx(1.9 + 3.0)
    world.p["climb.climb_rate"] = 1e6
    hosts.climb(world, 8, 2.0, 2.45)
    assert host.state == BARE
    hosts.climb(world, 20, 5.0, 5.45)
    assert host.state == CLIMBING
    assert not host.known


def test_volunteers_have_a_stem_kill_of_their_own():
    numbers = {"stem_kill": 0.98, "stem_kill_volunteers": 0.5}
    assert treat.stem_kill_of(numbers, True) == 0.5
    assert treat.stem_kill_of(numbers, False) == 0.98
    assert treat.stem_kill_of(numbers_at_work(CUT_ROW, {"stem_kill": 0.98}), True) == 0.98


def test_seedlings_die_as_the_mat_does_unless_the_treatment_does_not_act_on_them():
    pull = example.treatments()["pull"]
    assert numbers_at_work(pull, {"mat_kill": 0.6})["seedling_kill"] == 0.6
    assert numbers_at_work(pull, {"mat_kill": 0.6, "seedling_kill": 0.3})["seedling_kill"] == 0.3
    mat_only = example.treatment("mow", ["mat"], {})
    assert numbers_at_work(mat_only, {"mat_kill": 0.6, "seedling_kill": 0.3})["seedling_kill"] == 0.0


def test_a_disturbing_treatment_disturbs_ground_without_mat_too():
    world = world_of(example.site(1, 1, 2.0))
    cell, pull = world.cells[0], example.treatments()["pull"]
    treat.treat_cell(world, cell, pull, {"mat_kill": 0.0}, 4, 1.0, True)
    assert cell.disturbed_until == -math.inf
    treat.treat_cell(world, cell, pull, {"mat_kill": 0.5}, 4, 1.0, True)
    assert cell.disturbed_until == pytest.approx(4.0)
    assert not cell.infested


def test_a_ring_alone_changes_no_times_of_a_cut_host_but_may_kill_its_base():
    world, host = climbed_host()
    treat.treat_host(world, host, {"stem_kill": 1.0}, 4, 1.0, False)
    before = (host.state, host.last_cut, host.first_fruit)
    treat.treat_host(world, host, {"ring_radius": 1.5}, 5, 1.2, False)
    assert (host.state, host.last_cut, host.first_fruit) == before
    assert host.ring_until == pytest.approx(1.2 + 3.0)
    treat.treat_host(world, host, {"base_kill": 1.0}, 6, 1.5, False)
    assert host.state == BARE
