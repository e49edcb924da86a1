"""Fronts of the mat against plain geometry: speed, direction, walls, and the return after clearing."""

import math

import numpy as np
import pytest

from spreadsim import Site, load_vine, simulate

from . import drivers
from .fronts import METRIC, area, arrivals, spread
from .helpers import mapped

SIDES = [(0, 1), (1, 0), (0, -1), (-1, 0)]
DIAGONALS = [(1, 1), (1, -1), (-1, 1), (-1, -1)]


def half_plane(n, direction, behind):
    """Shares of a mat that ends in a straight edge, `behind` cell sides past the grid's corner or side.

    Along a diagonal the cells on the edge are halves.
    """
    y, x = np.mgrid[0:n, 0:n]
    y, x = (y if direction[0] >= 0 else n - 1 - y), (x if direction[1] >= 0 else n - 1 - x)
    place = y * abs(direction[0]) + x * abs(direction[1])
    if 0 in direction:
        return np.where(place < behind, 1.0, 0.0), place - (behind - 0.5)
    return np.where(place < behind, 1.0, np.where(place == behind, 0.5, 0.0)), (place - behind) / math.sqrt(2.0)


@pytest.mark.parametrize("direction", SIDES + DIAGONALS)
@pytest.mark.parametrize("h", [1.0, 2.0, 5.0, 10.0])
@pytest.mark.parametrize(("speed", "canopy"), [(0.5, 0.0), (0.15, 1.0), (1.5, 0.3)])
def test_a_straight_front_moves_at_front_speed(direction, h, speed, canopy):
    """Source: distance = speed x time.

    Arrivals equal distance / speed to 1e-9, whatever the cell, light and direction. Sees any slowing by the
    lattice: hazards from neighbours' cover were 5 to 44 % slow (model.md).
    """
    n = 25
    shares, distance = half_plane(n, direction, 8)
    ways = {"until": 4000.0, "years": 4000}
    _, arrival = spread(shares, h, **ways, canopy=np.full((n, n), canopy), front_speed=speed, shade_factor=0.5)
    expected = distance * h / (speed * (1.0 - canopy / 2.0))
    # near the sides of the site the edge of a slanting mat is not straight
    inner = np.zeros((n, n), dtype=bool)
    inner[8:-8, 8:-8] = True
    ahead = inner & (shares == 0)
    assert ahead.sum() >= 9
    np.testing.assert_allclose(arrival[ahead], expected[ahead], rtol=1e-9)


@pytest.mark.parametrize("shares_of_seasons", [(0.05, 0.45, 0.4, 0.1), (0.0, 1.0, 0.0, 0.0), (0.7, 0.1, 0.1, 0.1)])
def test_a_year_of_growth_is_front_speed_however_it_falls_into_seasons(shares_of_seasons):
    """Source: common practice, no source; model.md: a year's advance is front_speed whatever the shares."""
    shares = np.zeros((4, 40))
    shares[:, :5] = 1.0
    shares[:, 5] = 0.25
    vine = load_vine("wintercreeper").replace({"mat.growth_share_by_season": shares_of_seasons})
    site = Site.from_arrays(2.0, mat=mapped(shares))
    out = simulate(site, vine, years=30, replicates=1, seed=1, fixed_parameters=True, maps="none", processes=["mat"])
    expected = 4 * 2.0 * (5.25 * 2.0 + 0.5 * np.arange(31))
    np.testing.assert_allclose(out.infested_area[0], expected, rtol=1e-9)


def test_the_front_goes_round_a_wall():
    """Source: the shortest way round two corners, by Pythagoras.

    Bound: the metric's 2.75 % and a cell at each corner above; never below, for no way may cut a corner. Sees
    a front that leaks through a wall, at its joints or by a knight's move.
    """
    n, top, bottom, wall, start = 61, 15, 45, 30, (35, 20)
    ground = np.ones((n, n))
    ground[top : bottom + 1, wall] = 0.0
    shares = np.zeros((n, n))
    shares[start] = 1.0
    _, arrival = spread(shares, 1.0, plantable=ground, front_speed=1.0)
    for row in range(top + 1, bottom):
        for column in (31, 34, 40):
            ways = []
            for corner, turn in ((top - 0.5, -1), (bottom + 0.5, 1)):
                near = math.hypot(corner - start[0], wall - 0.5 - start[1])
                if (row - corner) * turn > 0:
                    continue
                ways.append(near + 1.0 + math.hypot(row - corner, column - wall - 0.5))
            truth = min(ways)
            took = arrival[row, column] - arrival[start]
            assert truth - 1e-9 <= took <= METRIC * truth + 2.0, (row, column)


def test_a_slanting_wall_of_touching_corners_is_closed():
    """Source: model.md, no move passes through a barrier. Sees diagonals that slip between two corners."""
    n = 21
    ground = 1.0 - np.eye(n)
    shares = np.zeros((n, n))
    shares[n - 1, 0] = 1.0
    _, arrival = spread(shares, 2.0, plantable=ground, front_speed=1.0)
    assert np.isfinite(arrival[np.tril_indices(n, -1)]).all()
    assert np.isinf(arrival[np.triu_indices(n)]).all()


@pytest.mark.parametrize(
    ("h", "clearings"),
    [
        (1.0, 1),
        (2.0, 1),
        (5.0, 1),
        (10.0, 1),
        (1.0, 3),
        (2.0, 3),
        (5.0, 3),
        (10.0, 3),
    ],
)
def test_the_front_comes_back_at_front_speed(h, clearings):
    """Source: distance = speed x time from the clearing and the edge of what was left; once and thrice.

    Sees a return at twice the speed (model.md: half a cell gained at every step), or at the first clearing's
    date.
    """
    canopy = 0.6
    speed = 0.5 * (1.0 - canopy / 2.0)
    n, left = 24, 8
    shares = np.zeros((n, n))
    shares[:, :16] = 1.0
    numbers = {"canopy": np.full((n, n), canopy), "front_speed": 0.5, "shade_factor": 0.5}
    world, _ = spread(shares, h, until=3.7, **numbers)
    beyond = np.flatnonzero(np.tile(np.arange(n) >= left, n))
    for again in range(clearings):
        now = 3.7 + 2.3 * again
        drivers.clear(world.ground, world.plan, world.state, world.vines, beyond, now)
        assert area(world, now) == pytest.approx(n * h * left * h, rel=1e-9)
        for years in (0.4, 1.1, 2.3):
            drivers.advance(world.ground, world.plan, world.state, world.vines, now + years)
            assert area(world, now + years) == pytest.approx(n * h * (left * h + speed * years), rel=1e-9)
    if clearings > 1:
        return  # what comes after meets the leap of test_a_strip_kept_clear_is_not_crossed
    drivers.advance(world.ground, world.plan, world.state, world.vines, 900.0)
    expected = now + (np.arange(n - left) + 0.5) * h / speed
    np.testing.assert_allclose(arrivals(world)[n // 2, left:], expected, rtol=1e-9)


@pytest.mark.parametrize("width", [(1), 2])
def test_a_strip_kept_clear_is_not_crossed(width):
    """Source: common practice, no source: clearing more than a year's advance every year holds the mat.

    4 m wide in all; the front advances 0.5 m a year. Sees moves that pass over cells which were cleared
    since.
    """
    n, left = 20, 6
    shares = np.zeros((n, n))
    shares[:, :left] = 1.0
    world, _ = spread(shares, 4.0 / width, until=1.0, front_speed=0.5)
    strip = np.flatnonzero(np.isin(np.tile(np.arange(n), n), left + np.arange(width)))
    for year in range(2, 41):
        drivers.clear(world.ground, world.plan, world.state, world.vines, strip, year - 1.0)
        drivers.advance(world.ground, world.plan, world.state, world.vines, float(year))
    assert not np.isfinite(arrivals(world)[:, left + width :]).any()


def test_the_front_comes_back_from_a_slanting_edge_at_front_speed():
    """Source: distance = speed x time, counted from the mean line of the steps that clearing leaves.

    Bound: every second cell exactly front_speed apart; the steps let single cells be early or late by less
    than a fifth of a cell, for good. Sees gains or losses that add up with every move.
    """
    n, h, speed = 41, 2.0, 0.5
    world, _ = spread(np.ones((n, n)), h, until=1.0, front_speed=speed)
    y, x = np.mgrid[0:n, 0:n]
    drivers.clear(world.ground, world.plan, world.state, world.vines, np.flatnonzero(x + y >= n - 1), 1.0)
    drivers.advance(world.ground, world.plan, world.state, world.vines, 900.0)
    steps = np.arange(20)
    row = arrivals(world)[n // 2, n // 2 + steps] - 1.0
    np.testing.assert_allclose(np.diff(row[2::2]), math.sqrt(2.0) * h / speed, rtol=1e-9)
    np.testing.assert_allclose(np.diff(row[1::2]), math.sqrt(2.0) * h / speed, rtol=1e-9)
    assert (np.abs(row * speed - (steps + 0.5) / math.sqrt(2.0) * h) < 0.2 * h).all()
