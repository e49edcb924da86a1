"""The mat's arrival times against general least-time solvers and against Fermat's principle."""

import math

import numpy as np
import pytest
import skfmm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter
from scipy.optimize import minimize_scalar
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from .fronts import METRIC, spread
from .helpers import disc

SPEED = 0.5
SHADE = 0.4


def slowness_of(canopy):
    """Years per metre in shade, as the profile's words have it: growth and front speed relative to a gap."""
    return 1.0 / (SPEED * (1.0 - canopy * (1.0 - SHADE)))


def least_times(first, slow, ground, h):
    """Arrivals by scipy's Dijkstra on sides, diagonals and knight's moves, written from the model's page.

    `first` (y, x) holds arrivals of mapped cells, infinite elsewhere; nothing leads into a mapped cell.
    """
    ny, nx = slow.shape
    rows, columns, lengths = [], [], []

    def open_ground(y, x):
        return 0 <= y < ny and 0 <= x < nx and ground[y, x]

    for y in range(ny):
        for x in range(nx):
            for dy in range(-2, 3):
                for dx in range(-2, 3):
                    if dy * dy + dx * dx not in (1, 2, 5) or not (open_ground(y, x) and open_ground(y + dy, x + dx)):
                        continue
                    half = (int(dy / 2), int(dx / 2))
                    between = [(y + half[0], x + half[1]), (y + dy - half[0], x + dx - half[1])]
                    if dy * dy + dx * dx == 2 and not (open_ground(y + dy, x) or open_ground(y, x + dx)):
                        continue
                    if dy * dy + dx * dx == 5 and not all(open_ground(*cell) for cell in between):
                        continue
                    if np.isfinite(first[y + dy, x + dx]):
                        continue
                    rows.append(y * nx + x)
                    columns.append((y + dy) * nx + x + dx)
                    lengths.append(math.hypot(dy, dx) * h * (slow[y, x] + slow[y + dy, x + dx]) / 2.0)
    n = ny * nx
    # a root is joined to every mapped cell; its start is early enough for all to be later
    mapped = np.flatnonzero(np.isfinite(first.ravel()))
    root = first.ravel()[mapped].min() - 1.0
    rows, columns = rows + [n] * mapped.size, columns + list(mapped)
    lengths += list(first.ravel()[mapped] - root)
    graph = coo_matrix((lengths, (rows, columns)), shape=(n + 1, n + 1)).tocsr()
    return dijkstra(graph, indices=n)[:n].reshape(ny, nx) + root


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 2**32 - 1),
    n=st.integers(3, 17),
    h=st.sampled_from([1.0, 2.0, 5.0, 10.0]),
    barriers=st.floats(0.0, 0.5),
    sources=st.integers(1, 6),
    seasons=st.sampled_from([1, 7, 100]),
)
def test_arrivals_are_those_of_dijkstra_on_the_same_graph(seed, n, h, barriers, sources, seasons):
    """Source: scipy.sparse.csgraph.dijkstra.

    Sees any arrival that is not the least over chains of neighbours. Such as a move through a wall, one
    neighbour forgotten, a mean of speeds instead of slownesses (several per cent), a cell settled too early
    at a season's end. What mapped cells start with is taken as it is: see test_fronts.
    """
    rng = np.random.default_rng(seed)
    canopy = rng.random((n, n))
    ground = rng.random((n, n)) >= barriers
    shares = np.zeros((n, n))
    y, x = rng.integers(0, n, (2, sources))
    shares[y, x] = rng.choice([0.2, 0.7, 1.0], sources)
    ground[y, x] = True
    world, arrival = spread(
        shares,
        h,
        until=100.0 * h,
        seasons=seasons,
        canopy=canopy,
        plantable=ground * 1.0,
        front_speed=SPEED * 10,
        shade_factor=SHADE,
    )
    slow = slowness_of(canopy) / 10  # for the speed is ten times as high
    expected = least_times(np.where(shares > 0, arrival, np.inf), slow, ground, h)
    assert (np.isfinite(arrival) == np.isfinite(expected)).all()
    assert (world.state.kinds.reshape(n, n)[~ground] == 0).all()
    reached = np.isfinite(expected)
    np.testing.assert_allclose(arrival[reached], expected[reached], rtol=1e-9, atol=1e-9 * h * slow.min())


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("start", ["edge", "disc"])
def test_arrivals_agree_with_fast_marching_on_smooth_light(seed, start):
    """Source: scikit-fmm (fast marching, second order), a library of its own.

    Bound: ways of 16 directions are 0 to 2.75 % too long. Discretisation: 0.05 of a cell's crossing from a
    straight edge, whose start is exact, and half a crossing from a disc, whose edge lies in its cells'
    shares. Sees eight directions instead of sixteen (8 %), light taken from the wrong end of a move, front
    speed off by 3 %.
    """
    n, h = 81, 2.0
    rng = np.random.default_rng(seed)
    rough = gaussian_filter(rng.normal(size=(n, n)), 8.0, mode="nearest")
    canopy = (rough - rough.min()) / np.ptp(rough)
    centre = n * h / 2
    x = (np.arange(n) + 0.5) * h
    if start == "edge":
        shares = np.zeros((n, n))
        shares[:, :5] = 1.0
        distance = np.tile(x - 5 * h, (n, 1))
    else:
        shares = disc(n, h, 10.0, (centre, centre))
        distance = np.hypot(x[None, :] - centre, x[::-1, None] - centre) - 10.0
    slow = slowness_of(canopy)
    truth = skfmm.travel_time(distance, 1.0 / slow, dx=h, order=2)
    _, arrival = spread(shares, h, canopy=canopy, front_speed=SPEED, shade_factor=SHADE)
    crossing = (0.05 if start == "edge" else 0.5) * h * slow
    outside = distance > 0
    assert (arrival >= truth - crossing)[outside].all()
    assert (arrival <= METRIC * truth + crossing)[outside].all()


def fermat(a, b, along, slow_a, slow_b):
    """Least time from a point a metres before a straight edge of light to one b metres beyond it.

    Returns the time and where the way crosses the edge, counted along it.
    """

    def time(crossing):
        return slow_a * math.hypot(a, crossing) + slow_b * math.hypot(b, along - crossing)

    found = minimize_scalar(time, bounds=(0.0, along), method="bounded", options={"xatol": 1e-9})
    return found.fun, found.x


@pytest.mark.parametrize("along", [0.0, 20.0, 60.0, 120.0])
def test_an_edge_of_light_refracts_the_front(along):
    """Source: Fermat's least time; its crossing keeps Snell's law (textbook).

    1 m cells, shade at 0.4 of the speed. Bound: 2.75 % of the metric and one crossing in shade for the edge,
    which lies between cell centres. Sees a front that goes straight on (8 to 22 % late), or meets the edge a
    few cells off.
    """
    n, a, b = 161, 30, 30
    canopy = np.zeros((n, n))
    canopy[:, 80:] = 1.0
    shares = np.zeros((n, n))
    shares[10, 80 - a] = 1.0
    _, arrival = spread(shares, 1.0, canopy=canopy, front_speed=SPEED, shade_factor=SHADE)
    light, shade = slowness_of(0.0), slowness_of(1.0)
    # the edge lies half a cell from the centres beside it
    truth, crossing = fermat(a - 0.5, b + 0.5, along, light, shade)
    if along > 0:
        sines = (
            crossing / math.hypot(a - 0.5, crossing),
            (along - crossing) / math.hypot(b + 0.5, along - crossing),
        )
        assert sines[0] / sines[1] == pytest.approx(shade / light, rel=1e-4)
    took = arrival[10 + int(along), 80 + b] - arrival[10, 80 - a]
    assert truth - shade <= took <= METRIC * truth + shade
    if along >= 60:
        straight = math.hypot(a + b, along) * ((a - 0.5) * light + (b + 0.5) * shade) / (a + b)
        assert METRIC * truth + shade < straight  # going straight on would be seen


def test_the_way_along_a_lit_edge_overtakes_the_way_through_shade():
    """Source: head wave at the critical angle (textbook, from memory): x / v1 + 2 a cos(angle) / v2.

    Two points in shade, each a = 10 m from a lit half: the front takes the lit side. Bound as above.
    """
    n, a = 161, 10
    canopy = np.zeros((n, n))
    canopy[:, 80:] = 1.0
    shares = np.zeros((n, n))
    shares[10, 80 + a] = 1.0
    _, arrival = spread(shares, 1.0, canopy=canopy, front_speed=SPEED, shade_factor=SHADE)
    light, shade = slowness_of(0.0), slowness_of(1.0)
    for along in (60, 100, 140):
        truth = along * light + 2.0 * (a + 0.5) * math.sqrt(shade**2 - light**2)
        assert truth < along * shade
        took = arrival[10 + along, 80 + a] - arrival[10, 80 + a]
        assert truth - shade <= took <= METRIC * truth + shade
