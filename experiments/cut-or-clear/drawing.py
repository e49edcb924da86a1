"""Lines, smooth noise, scattered places and lobed outlines: what `make_site.py` draws its park with.

Only plain uniform draws are used, since numpy promises the same stream from a seed for those, and for little
else, from one version to the next.
"""

from collections.abc import Sequence

import numpy as np

Array = np.ndarray
Line = Sequence[tuple[float, float]]


def curve(points: Line) -> Array:
    """Round the corners of a line (m) by cutting them three times; its ends stay."""
    line = np.array(points, dtype=float)
    for _ in range(3):
        inner = np.stack([0.75 * line[:-1] + 0.25 * line[1:], 0.25 * line[:-1] + 0.75 * line[1:]], axis=1)
        line = np.concatenate([line[:1], inner.reshape(-1, 2), line[-1:]])
    return line


def distance(x: Array, y: Array, points: Line) -> Array:
    """Distance (m) from each place to a rounded line."""
    line = curve(points)
    best = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in zip(line[:-1], line[1:], strict=True):
        ux, uy = bx - ax, by - ay
        along = np.clip(((x - ax) * ux + (y - ay) * uy) / (ux * ux + uy * uy), 0.0, 1.0)
        best = np.minimum(best, (x - ax - along * ux) ** 2 + (y - ay - along * uy) ** 2)
    return np.asarray(np.sqrt(best))


def rise(value: Array, low: float, high: float) -> Array:
    """From 0 at low to 1 at high, smoothly."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def noise(rng: np.random.Generator, x: Array, y: Array, size: float) -> Array:
    """Smooth noise between 0 and 1 with features of a size (m): random knots, blended."""
    knots = rng.random((int(y.max() / size) + 2, int(x.max() / size) + 2))
    i, j = (y / size).astype(int), (x / size).astype(int)
    v, u = rise(y / size - i, 0, 1), rise(x / size - j, 0, 1)
    south = knots[i, j] * (1 - u) + knots[i, j + 1] * u
    north = knots[i + 1, j] * (1 - u) + knots[i + 1, j + 1] * u
    return np.asarray(south * (1 - v) + north * v)


def centres(width: float, height: float, step: float) -> tuple[Array, Array]:
    """Centres x and y (m; y, x) of square cells, row 0 at the north."""
    x = (np.arange(round(width / step)) + 0.5) * step
    y = (np.arange(round(height / step))[::-1] + 0.5) * step
    east, north = np.meshgrid(x, y)
    return east, north


def means(fine: Array, n: int) -> Array:
    """Mean of each block of n x n."""
    return np.asarray(fine.reshape(fine.shape[0] // n, n, fine.shape[1] // n, n).mean(axis=(1, 3)))


def scatter(rng: np.random.Generator, wanted: int, gap: float, weight: Array, cell: float) -> Array:
    """Draw places (m, to 0.1) where the weight (y, x; 0 to 1) lets them, no two nearer than the gap (m)."""
    rows, cols = weight.shape
    places = np.empty((wanted, 2))
    found = 0
    while found < wanted:
        u, v, chance = rng.random(3)
        x, y = round(u * cols * cell, 1), round(v * rows * cell, 1)
        if not (0 < x < cols * cell and 0 < y < rows * cell):
            continue
        clear = chance < weight[rows - 1 - int(y / cell), int(x / cell)]
        if clear and np.all((places[:found, 0] - x) ** 2 + (places[:found, 1] - y) ** 2 >= gap**2):
            places[found] = x, y
            found += 1
    return places


def lobed(rng: np.random.Generator, x: Array, y: Array, stretch: float, degrees: float) -> Array:
    """Measure how far out each place is: 1 is a wavering outline of unit size, stretched and turned."""
    turn = np.deg2rad(degrees)
    u = (x * np.cos(turn) + y * np.sin(turn)) / np.sqrt(stretch)
    v = (y * np.cos(turn) - x * np.sin(turn)) * np.sqrt(stretch)
    edge, angle = np.ones(x.shape), np.arctan2(v, u)
    for k in range(2, 16):  # lobes, ever smaller
        edge += 0.55 * k**-0.9 * rng.random() * np.cos(k * angle + 2 * np.pi * rng.random())
    return np.asarray(np.hypot(u, v) / np.maximum(edge, 0.3))
