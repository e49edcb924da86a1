"""Area of the mat from a disc, mapped or founded by seed, against that of a growing circle."""

import math

import numpy as np
import pytest

from . import drivers
from .fronts import area, spread
from .helpers import disc

FOUNDER = 2
PLACES = [(0.0, 0.0), (0.25, 0.1), (0.5, 0.0), (0.5, 0.5)]
OFF = pytest.mark.xfail(strict=True, reason="8 m discs about the centre of a 5 m cell: 5.5 to 10.6 % too large")


def disc_cases():
    """Cell size, radius, bound, place of the centre in its cell (in cell sides), front speed."""
    sizes = [(h, radius, 0.05) for radius in (8.0, 15.0) for h in (1.0, 2.0, 5.0)] + [(10.0, 15.0, 0.1)]
    for size in sizes:
        for place in PLACES:
            for speed in (0.1, 0.5, 1.5):
                off = size[:2] == (5.0, 8.0) and place == (0.5, 0.5) and speed < 1.0
                yield pytest.param(*size, place, speed, marks=OFF if off else ())


@pytest.mark.parametrize(("h", "radius", "bound", "place", "speed"), list(disc_cases()))
def test_the_area_of_a_disc(h, radius, bound, place, speed):
    """Source: pi (r0 + v t)^2 (Skellam's round front); bounds by model.md.

    Sees a front that is slower between the axes by 5 %, a lag or lead of 0.2 m at 8 m, a start that counts
    cells in part infested as whole or as none.
    """
    n = 2 * math.ceil((radius + 30 * speed) / h) + 6
    centre = ((n // 2 + place[0]) * h, (n // 2 + place[1]) * h)
    world, _ = spread(disc(n, h, radius, centre), h, until=30.0, seasons=120, front_speed=speed)
    for years in (10, 30):
        assert area(world, years) == pytest.approx(math.pi * (radius + speed * years) ** 2, rel=bound), years


LAG = pytest.mark.xfail(strict=True, reason="a founder's front lags by its own radius")


@pytest.mark.parametrize("h", [pytest.param(1.0, marks=LAG), 2.0, 5.0])
def test_the_area_of_a_patch_from_seed(h):
    """Source: pi (r0 + v t)^2 of a disc of founder_area; bound as for mapped discs, 5 %.

    Sees founders that start to spread two years late, or only when their cell is full.
    """
    n = 2 * math.ceil(20 / h) + 5
    world, _ = spread(np.zeros((n, n)), h, until=0.5, front_speed=0.5)
    drivers.found(world.ground, world.plan, world.state, world.vines, np.array([n * n // 2]), FOUNDER, 0.0, 0.05)
    for years in (10.0, 30.0):
        drivers.advance(world.ground, world.plan, world.state, world.vines, years)
        truth = math.pi * (math.sqrt(0.05 / math.pi) + 0.5 * years) ** 2
        assert area(world, years) == pytest.approx(truth, rel=0.05), years
