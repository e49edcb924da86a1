"""Points spread over the unit cube: a Latin hypercube, and a Sobol sequence."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from spreadsim.errors import InputError

_SOBOL_BITS = 32


def _words(seed: int, stream: int, shape: tuple[int, ...]) -> NDArray[np.uint64]:
    """Random words; the raw stream of a generator is the same in every version of numpy."""
    raw = np.random.PCG64([seed, stream]).random_raw(math.prod(shape))
    return np.asarray(raw, dtype=np.uint64).reshape(shape)


def hypercube(points: int, width: int, seed: int) -> NDArray[np.float64]:
    """Give a point in each slice of each column, (points, width)."""
    slices = np.argsort(_words(seed, 1, (width, points)), axis=1, kind="stable").T
    within = (_words(seed, 2, (points, width)) >> np.uint64(11)) * 2.0**-53
    return (slices + within) / points


def sobol_sequence(points: int, width: int, seed: int) -> NDArray[np.float64]:
    """Give the first points of a Sobol sequence with its digits flipped by a random word a column, (points, width)."""
    try:
        from scipy.stats import qmc
    except ImportError as error:
        raise InputError(
            "sweep: kind: found a Sobol design, which needs the package scipy, and it is not installed; install it "
            "with: python -m pip install 'spreadsim[analysis]', or take a Latin hypercube, which needs nothing"
        ) from error
    plain = qmc.Sobol(width, scramble=False, bits=_SOBOL_BITS).random(points)
    digits = np.asarray(plain * 2.0**_SOBOL_BITS).astype(np.uint64)
    flips = _words(seed, 3, (width,)) >> np.uint64(64 - _SOBOL_BITS)
    return np.asarray(((digits ^ flips) + 0.5) / 2.0**_SOBOL_BITS)
