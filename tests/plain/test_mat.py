"""The mat of the reference simulator against geometry."""

import math

import numpy as np
import pytest

from . import example, mat
from .helpers import run_park, world_of
from .world import EMPTY, FOUNDER


@pytest.mark.parametrize(("h", "canopy"), [(1.0, 0.0), (2.0, 1.0), (5.0, 0.3)])
def test_a_straight_front_moves_at_front_speed(h, canopy):
    ny, nx, years = 3, 14, 6
    start = np.zeros((ny, nx))
    start[:, 0] = 0.95
    site = example.site(ny, nx, h, mat=start, canopy=np.full((ny, nx), canopy))
    out = run_park(example.Strategy(), years=years, site=site, fixed_parameters=True, processes=["mat"], crews=())
    speed = 0.5 * (1.0 - canopy * 0.5)
    for year in range(years + 1):
        assert out["infested_area"][year] == pytest.approx(ny * h * (h + speed * year), rel=1e-9)


def test_a_disc_grows_by_the_front_speed():
    h, n, radius, speed, years = 2.0, 17, 6.0, 0.5, 8
    fine = (np.arange(n * 20) + 0.5) * h / 20 - n * h / 2
    inside = (fine[:, None] ** 2 + fine[None, :] ** 2 < radius**2).astype(float)
    cover = 0.95 * inside.reshape(n, 20, n, 20).mean(axis=(1, 3))
    out = run_park(
        example.Strategy(),
        years=years,
        site=example.site(n, n, h, mat=cover),
        fixed_parameters=True,
        processes=["mat"],
        crews=(),
    )
    assert out["infested_area"][years] == pytest.approx(math.pi * (radius + speed * years) ** 2, rel=0.05)


@pytest.mark.parametrize(("edge", "expected"), [(None, math.sqrt(5.0)), (0.6, 1.1), (0.0, 0.5)])
def test_full_mapped_mat_is_as_far_behind_as_its_nearest_edge(edge, expected):
    start = np.full((5, 5), 0.95)
    if edge is not None:
        start[2, 3] = 0.95 * edge
        start[1, 3] = 0.95 * edge
    world = world_of(example.site(5, 5, 2.0, mat=start))
    assert world.cells[12].arrival == pytest.approx(-expected * 2.0 / 0.5)


def test_full_mapped_mat_with_an_edge_on_the_diagonal():
    start = np.full((3, 3), 0.95)
    start[0, 0] = 0.0
    world = world_of(example.site(3, 3, 2.0, mat=start))
    assert world.cells[4].arrival == pytest.approx(-math.sqrt(0.5) * 2.0 / 0.5)
    assert world.cells[1].arrival == pytest.approx(-0.5 * 2.0 / 0.5)
    assert world.cells[5].arrival == pytest.approx(-(math.sqrt(5.0) - 1.5 / math.sqrt(5.0)) * 2.0 / 0.5)


def steps_between(a, b):
    """Length in cells of the shortest way by sides, diagonals and knight's moves over open ground."""
    a, b = max(a, b), min(a, b)
    if 2 * b <= a:
        return (a - 2 * b) + b * math.sqrt(5.0)
    return (2 * b - a) * math.sqrt(2.0) + (a - b) * math.sqrt(5.0)


def founder_world(ny, nx, row, column, **layers):
    """A world with one founder cell from time 0."""
    world = world_of(example.site(ny, nx, 2.0, **layers))
    cell = world.cell_at(row, column)
    cell.kind, cell.arrival, cell.push, cell.density, cell.known = FOUNDER, 0.0, 0.0, 0.05, True
    cell.origin = cell.number
    return world


def test_arrivals_from_a_founder_follow_the_metric_of_16_neighbours():
    world = founder_world(9, 9, 4, 4)
    mat.advance(world, 100.0)
    for cell in world.cells:
        steps = steps_between(abs(cell.row - 4), abs(cell.column - 4))
        assert cell.arrival == pytest.approx(steps * 2.0 / 0.5)


def test_advancing_season_by_season_is_advancing_at_once():
    at_once, by_season = founder_world(7, 7, 1, 5), founder_world(7, 7, 1, 5)
    mat.advance(at_once, 20.0)
    for step in range(1, 41):
        mat.advance(by_season, step / 2)
    assert [c.arrival for c in at_once.cells] == [c.arrival for c in by_season.cells]
    assert any(c.infested for c in at_once.cells)


def test_shade_on_both_sides_counts_half_and_half():
    canopy = np.zeros((1, 2))
    canopy[0, 1] = 1.0
    world = founder_world(1, 2, 0, 0, canopy=canopy)
    mat.advance(world, 100.0)
    assert world.cells[1].arrival == pytest.approx(2.0 * (1 / 0.5 + 1 / 0.25) / 2)
    assert world.cells[1].changed == pytest.approx(world.cells[1].arrival - 2.0 / 0.25 / 2)


def test_no_move_passes_through_barriers():
    diagonal = np.ones((2, 2))
    diagonal[0, 1] = diagonal[1, 0] = 0.0
    world = founder_world(2, 2, 0, 0, plantable=diagonal)
    mat.advance(world, 1000.0)
    assert not world.cell_at(1, 1).infested
    diagonal[0, 1] = 1.0
    world = founder_world(2, 2, 0, 0, plantable=diagonal)
    mat.advance(world, 1000.0)
    assert world.cell_at(1, 1).arrival == pytest.approx(math.sqrt(2.0) * 4.0)


@pytest.mark.parametrize("crossed", [(0, 1), (1, 1)])
def test_a_knights_move_needs_both_cells_that_it_crosses(crossed):
    plantable = np.ones((2, 3))
    plantable[crossed] = 0.0
    world = founder_world(2, 3, 0, 0, plantable=plantable)
    assert mat.closed(world, world.cell_at(1, 2), -1, -2)
    assert mat.closed(world, world.cell_at(0, 0), 1, 2)
    other = np.ones((2, 3))
    other[0, 2] = other[1, 0] = 0.0
    world = founder_world(2, 3, 0, 0, plantable=other)
    assert not mat.closed(world, world.cell_at(1, 2), -1, -2)


def test_a_wall_is_gone_round():
    plantable = np.ones((5, 5))
    plantable[0:4, 2] = 0.0
    world = founder_world(5, 5, 0, 1, plantable=plantable)
    mat.advance(world, 1000.0)
    # down to the row beneath the wall, along it and up again: the wall's corners close the knight's moves
    assert world.cell_at(0, 3).arrival == pytest.approx((3 + 2 * math.sqrt(2.0) + 3) * 4.0)


def test_the_mat_returns_at_front_speed_after_clearing():
    world = world_of(example.site(1, 12, 2.0, mat=np.full((1, 12), 0.95)))
    for cell in world.cells[2:]:
        cell.kind, cell.cleared, cell.push = EMPTY, 10.0, math.inf
    mat.advance(world, 100.0)
    for steps, cell in enumerate(world.cells[2:], start=1):
        assert cell.arrival == pytest.approx(10.0 + (steps - 0.5) * 4.0)
    assert world.cells[2].changed == pytest.approx(10.0)


def test_new_mat_is_known_and_named_after_the_neighbour_that_it_came_from():
    world = world_of(example.site(1, 7, 2.0))
    for column, known in ((0, True), (6, False)):
        cell = world.cells[column]
        cell.kind, cell.arrival, cell.push, cell.density = FOUNDER, 0.0, 0.0, 1.0
        cell.known, cell.origin = known, column
    mat.advance(world, 100.0)
    # the middle is a tie, and the west comes first
    assert [c.known for c in world.cells] == [True, True, True, True, False, False, False]
    assert [c.origin for c in world.cells] == [0, 0, 0, 0, 6, 6, 6]


def test_founders_fill_their_cell_as_discs_and_fronts_cross_theirs():
    world = founder_world(1, 3, 0, 1)
    cell = world.cells[1]
    assert mat.share(world, cell, 0.0) == pytest.approx(0.05 / 4.0)
    assert mat.share(world, cell, 1.0) == pytest.approx(math.pi * (math.sqrt(0.05 / math.pi) + 0.5) ** 2 / 4.0)
    assert mat.share(world, cell, 9.0) == 1.0
    mat.advance(world, 3.0)
    east = world.cells[2]
    assert east.arrival == pytest.approx(4.0)
    assert [mat.share(world, east, t) for t in (2.0, 3.0, 4.0, 7.0)] == pytest.approx([0.0, 0.25, 0.5, 1.0])


def test_density_is_logistic_and_faster_after_disturbance():
    world = founder_world(1, 1, 0, 0)
    cell = world.cells[0]
    assert mat.density(world, cell, 0.0) == pytest.approx(0.05)
    odds = 0.05 / 0.95
    assert mat.density(world, cell, 3.0) == pytest.approx(odds * 2**3 / (1 + odds * 2**3))
    cell.disturbed_until = 2.0
    tau = 3.0 + 0.8 * 2.0
    assert mat.density(world, cell, 3.0) == pytest.approx(odds * 2**tau / (1 + odds * 2**tau))
    # the logistic table of the checks: r = 1/2, K = 100, N0 = 10
    cell.density, cell.thickening, cell.disturbed_until = 0.1, 0.5, 0.0
    assert 100 * mat.density(world, cell, 5.0) == pytest.approx(57.5120851365, rel=1e-10)


def test_a_cleared_cell_in_shade_is_entered_no_sooner_than_its_clearing():
    canopy = np.array([[0.0, 1.0]])
    world = world_of(example.site(1, 2, 2.0, mat=np.full((1, 2), 0.95), canopy=canopy))
    cell = world.cells[1]
    cell.kind, cell.cleared = EMPTY, 10.0
    mat.advance(world, 10.0)
    assert cell.arrival == pytest.approx(10.0 + 0.5 * 2.0 * (2.0 + 4.0) / 2)
    assert cell.changed == 10.0
