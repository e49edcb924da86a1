"""Storms and gaps in the reference simulator, by values worked out by hand."""

import math

import numpy as np
import pytest

from . import birds, events, example, mat
from .example import Event
from .helpers import ERRORS, world_of
from .world import BARE, CLIMBING, FALLEN, LONG_AGO

YEARS = 3.0  # of release


def disturbed(world):
    """Numbers of the disturbed cells."""
    return [cell.number for cell in world.cells if cell.disturbed_until > LONG_AGO]


def test_cells_with_their_centres_in_the_circle_are_disturbed_and_barriers_are_not():
    plantable = np.ones((3, 3))
    plantable[1, 1] = 0.0
    world = world_of(example.site(3, 3, 2.0, plantable=plantable))
    # about the centre of the middle cell: the four beside it are 2 m away, those across 2.83 m
    events.befall(world, Event(radius=2.0), 3.0, 3.0, 4, 1.0)
    assert disturbed(world) == [1, 3, 5, 7]
    assert world.cells[1].disturbed_until == 1.0 + YEARS
    events.befall(world, Event(radius=2.9), 3.0, 3.0, 4, 0.5)
    assert disturbed(world) == [0, 1, 2, 3, 5, 6, 7, 8]
    assert world.cells[1].disturbed_until == 1.0 + YEARS  # never shortened
    assert world.cells[0].disturbed_until == 0.5 + YEARS


def test_thickening_is_faster_from_the_event_on():
    start = np.full((1, 1), 0.95)
    world = world_of(example.site(1, 1, 2.0, mat=start))
    cell = world.cells[0]
    cell.density, cell.changed = 0.2, 0.0
    events.befall(world, Event(radius=5.0), 1.0, 1.0, 8, 2.0)
    # odds 1 : 4, doubled twice, are even; then 1.8 times as fast
    assert cell.density == pytest.approx(0.5)
    assert cell.changed == 2.0
    assert mat.density(world, cell, 3.0) == pytest.approx(1.0 / (1.0 + 2.0**-1.8))
    assert mat.density(world, cell, 7.0) == pytest.approx(1.0 / (1.0 + 2.0 ** -(5.0 + 0.8 * YEARS)))


def test_mat_under_a_cover_is_left_as_it_is():
    world = world_of(example.site(1, 1, 2.0, mat=np.full((1, 1), 0.95)))
    cell = world.cells[0]
    cell.density, cell.changed = 0.3, 2.5  # bare then
    events.befall(world, Event(radius=5.0), 1.0, 1.0, 8, 2.0)
    assert (cell.density, cell.changed) == (0.3, 2.5)
    assert cell.disturbed_until == 2.0 + YEARS


def test_a_planned_event_strikes_once_in_its_year_and_season():
    event = Event(year=2, season="autumn", x=1.0, y=1.0, radius=1.0)
    world = world_of(example.site(2, 2, 2.0))
    for year in range(3):
        for index, name in enumerate(example.SEASONS):
            assert len(events.places(world, event, 0, year, 4 * year + index)) == (year == 1)
            events.events(world, [event], year, index, name, year + index / 4)
    assert disturbed(world) == [2]  # in the south west
    assert world.cells[2].disturbed_until == 1.75 + YEARS


def test_random_events_come_so_often_a_year_and_all_over():
    """Poisson and uniform, 4.9 standard errors."""
    world = world_of(example.site(10, 30, 2.0))
    event = Event(per_year=1.5)
    found = [events.places(world, event, 0, year, 4 * year + 1) for year in range(1000)]
    counts = np.array([len(places) for places in found])
    assert abs(counts.mean() - 1.5) < ERRORS * math.sqrt(1.5 / 1000)
    assert abs(counts.var(ddof=1) - 1.5) < ERRORS * math.sqrt((1.5 + 2 * 1.5**2) / 1000)
    x, y = np.array([place for places in found for place in places]).T
    for values, length in ((x, 60.0), (y, 20.0)):
        assert values.min() > 0.0
        assert values.max() < length
        assert abs(values.mean() - length / 2) < ERRORS * length / math.sqrt(12 * values.size)
    others = [events.places(world, event, 1, year, 4 * year + 1) for year in range(1000)]
    assert others != found  # each event of the list has its own luck


def test_trees_fall_in_the_circle_by_their_chance():
    """Binomial, 4.9 standard errors."""
    n = 400
    rows = [{"x": 1.0, "y": 1.0, "state": 1} for _ in range(n)]
    rows += [{"x": 1.0, "y": 1.0, "kind": "fence"}] * 20 + [{"x": 9.0, "y": 1.0}] * 20
    world = world_of(example.site(1, 5, 2.0, hosts=rows))
    events.befall(world, Event(radius=1.0, trees_fall=0.3), 1.0, 1.0, 5, 1.05)
    fallen = sum(1 for host in world.hosts[:n] if host.state == FALLEN)
    assert abs(fallen - 0.3 * n) < ERRORS * math.sqrt(n * 0.21)
    assert all(host.state == CLIMBING for host in world.hosts[:n] if host.state != FALLEN)
    assert all(host.state == BARE for host in world.hosts[n:])
    for chance, all_of_them in ((0.0, False), (1.0, True)):
        world = world_of(example.site(1, 5, 2.0, hosts=rows))
        events.befall(world, Event(radius=1.0, trees_fall=chance), 1.0, 1.0, 5, 1.05)
        assert all((host.state == FALLEN) == all_of_them for host in world.hosts[:n])


def test_disturbed_ground_takes_seed_by_the_release_until_it_ends():
    world = world_of(example.site(1, 1, 2.0))
    cell = world.cells[0]
    quiet = birds.local_factors(world, cell, 1.5)
    events.befall(world, Event(radius=5.0), 1.0, 1.0, 4, 1.0)
    assert birds.local_factors(world, cell, 3.9) == pytest.approx(1.8 * quiet)
    assert birds.local_factors(world, cell, 4.0) == pytest.approx(quiet)
