"""Natives and falling trees of the reference simulator."""

import math

import numpy as np
import pytest

from . import example, natives, trees
from .helpers import ERRORS, world_of
from .world import EMPTY, FALLEN


def test_natives_fall_with_mat_and_come_back_to_their_ceiling():
    world = world_of(example.site(1, 1, 2.0, mat=np.array([[0.95]])))
    cell = world.cells[0]
    assert cell.native == pytest.approx(0.5)
    cell.kind = EMPTY
    for year in range(3):
        natives.change_natives(world, float(year))
    assert cell.native == pytest.approx(0.7 - 0.2 * math.exp(-3 / 4))
    cell.native = 0.9
    natives.change_natives(world, 4.0)
    assert cell.native == 0.9


def test_trees_fall_at_their_rates():
    n = 1500
    rows = [{"x": 1.0, "y": 1.0, "state": 1 if i % 2 else 0} for i in range(n)]
    rows += [{"x": 1.0, "y": 1.0, "kind": "fence", "state": 1}] * 50
    vine = example.vine(impact__tree_failure_base=0.2, impact__tree_failure_factor=3.0)
    world = world_of(example.site(1, 1, 2.0, hosts=rows), vine)
    trees.fail(world, 3)
    fallen = [host.state == FALLEN for host in world.hosts]
    bare, climbed = sum(fallen[0:n:2]), sum(fallen[1:n:2])
    for count, hazard in ((bare, 0.2), (climbed, 0.6)):
        chance = 1.0 - math.exp(-hazard)
        assert abs(count - n / 2 * chance) < ERRORS * math.sqrt(n / 2 * chance)
    assert not any(fallen[n:])


def test_climbed_trees_fall_no_more_often_at_factor_1():
    fallen = {}
    for state, factor in ((0, 1.0), (1, 1.0), (0, 3.0), (1, 3.0)):
        site = example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0, "state": state}] * 300)
        vine = example.vine(impact__tree_failure_base=0.3, impact__tree_failure_factor=factor)
        world = world_of(site, vine)
        trees.fail(world, 3)
        fallen[state, factor] = [host.state == FALLEN for host in world.hosts]
    assert fallen[0, 1.0] == fallen[1, 1.0] == fallen[0, 3.0]
    extra = sum(fallen[1, 3.0]) - sum(fallen[0, 3.0])
    left = 300 - sum(fallen[0, 3.0])
    chance = 1.0 - math.exp(-0.3 * 2)
    assert abs(extra - left * chance) < ERRORS * math.sqrt(left * chance * (1 - chance))
