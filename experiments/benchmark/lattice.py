"""The other side of `mat_alone`: the same ground as a lattice, every cell in every season, vectorised in numpy.

What it does: cover C of a cell, relative to closed mat, grows logistically and is pressed on by its eight neighbours,

    C += (1 - C) x f x growth share of the season x (r C + k x sum of C over the eight neighbours),

f being the light factor of the cell (0 on barriers), r = ln 2 / cover_doubling_time. k is solved so that a front of this
equation in full light runs at the vine's front_speed: the speed of a pulled front is the least over w of

    sum over the seasons of ln(1 + share x (r + k (e^wh + e^-wh) 3 + 2 k)) / w

(rows of three cells before and behind, two beside). So thickening and front are the vine's own, and like ours it notes
the area infested by year: cells with at least the vine's density_on_arrival.

How it is written: float32; one flat array with an empty border, so that every step is a sweep over contiguous
memory (the border's rate is 0, so nothing is carried round its ends); the eight neighbours and the cell itself by two
sums of three; all buffers made beforehand, out= everywhere, the rates of the four seasons as maps made beforehand, and
setting up a replicate is not counted. Ten sweeps a season, one more in the last of a year. Free ground starts at 1e-24,
so that no number becomes too small for the processor's fast way; for 30 years that stays far below what counts, and a
run in which it would not is refused.
"""

import math
from typing import Any

import numpy as np
from clock import now

Array = np.ndarray
FLOOR = 1e-24


def pressure_rate(front_speed: float, doubling_time: float, shares: tuple[float, ...], side: float) -> float:
    """Rate k of a neighbour's pressure, 1/yr, that gives a front this speed (m/yr); 0 if thickening alone does."""
    r = math.log(2.0) / doubling_time
    steepness = np.geomspace(0.02, 40.0, 2000) / side

    def speed(k: float) -> float:
        rate = r + k * (3.0 * (np.exp(steepness * side) + np.exp(-steepness * side)) + 2.0)
        return float(np.min(sum(np.log1p(share * rate) for share in shares) / steepness))

    low, high = 0.0, 1.0
    while speed(high) < front_speed:
        high *= 2.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if speed(middle) < front_speed else (low, middle)
    return high


class Lattice:
    """A site as a lattice.

    Parameters
    ----------
    canopy, plantable, cover
        Layers (y, x); cover relative to closed mat, 0 to 1, at the start.
    side
        Of a cell, m.
    shares
        Of a year's growth by season.
    """

    def __init__(self, canopy: Array, plantable: Array, cover: Array, side: float, shares: tuple[float, ...]) -> None:
        self.ny, self.nx = canopy.shape
        self.shares = shares
        self.side = side
        self.canopy = self._bordered(canopy)
        self.open = self._bordered(plantable > 0)
        self.start = np.maximum(self._bordered(cover), np.float32(FLOOR)) * self.open
        size = self.start.size
        self.cover = np.empty(size, np.float32)
        self.rows, self.around, self.work = (np.zeros(size, np.float32) for _ in range(3))
        self.infested = np.empty(size, bool)
        self.rates = np.empty((len(shares), size), np.float32)
        self.weight = np.float32(0.0)
        self.threshold = np.float32(0.0)
        self.most = 1.0

    def _bordered(self, layer: Array) -> Array:
        return np.pad(np.asarray(layer, np.float32), 1).ravel()

    def prepare(self, vine: Any) -> None:
        """Take a replicate's numbers (a record with front_speed, cover_doubling_time, shade_factor...)."""
        k = pressure_rate(vine["front_speed"], vine["cover_doubling_time"], self.shares, self.side)
        r = math.log(2.0) / vine["cover_doubling_time"]
        light = self.open * (1.0 - self.canopy * (1.0 - vine["shade_factor"]))
        for rate, share in zip(self.rates, self.shares, strict=True):
            rate[:] = light * (k * share)
        self.weight = np.float32(r / k - 1.0)  # the sum of nine holds the cell itself once
        self.threshold = np.float32(vine["density_on_arrival"])
        self.most = float(np.prod([1.0 + share * (r + 8.0 * k) for share in self.shares]))

    def run(self, years: int) -> Array:
        """Run one replicate; cells infested by year (years + 1).

        ValueError for so many years that the ground's first cover could come to count.
        """
        if FLOOR * self.most**years > 0.01 * float(self.threshold):
            raise ValueError(f"years: found {years}, allowed fewer: cover of {FLOOR:g} would grow to what counts")
        cover, rows, around, work, infested = self.cover, self.rows, self.around, self.work, self.infested
        width = self.nx + 2
        # views made once: cells, and those to the west, east, north and south of them
        inner_rows, west, here, east = rows[1:-1], cover[:-2], cover[1:-1], cover[2:]
        inner, north, middle, south = around[width:-width], rows[: -2 * width], rows[width:-width], rows[2 * width :]
        one = np.float32(1.0)
        cover[:] = self.start
        count = np.empty(years + 1)
        count[0] = np.count_nonzero(np.greater_equal(cover, self.threshold, out=infested))
        for year in range(years):
            for rate in self.rates:
                np.add(west, here, out=inner_rows)
                np.add(inner_rows, east, out=inner_rows)
                np.add(north, middle, out=inner)
                np.add(inner, south, out=inner)
                np.multiply(cover, self.weight, out=work)
                np.add(around, work, out=around)
                np.multiply(around, rate, out=around)
                np.subtract(one, cover, out=work)
                np.multiply(around, work, out=around)
                np.add(cover, around, out=cover)
            count[year + 1] = np.count_nonzero(np.greater_equal(cover, self.threshold, out=infested))
        return count

    def timed(self, years: int) -> tuple[Array, float]:
        """Run one replicate; cells infested by year, and the seconds that it took."""
        start = now()
        counts = self.run(years)
        return counts, now() - start
