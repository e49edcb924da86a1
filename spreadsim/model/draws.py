"""Keyed random draws: Philox 4x32-10 (Salmon et al. 2011, SC11), one block for each thing that is decided.

The generator is a published counter-based one with known answers. Key words are (seed, replicate), counter words
(entity, season, number, process): two different decisions can't share a block, nothing has to be stored between
draws, and any replicate can be run alone.
"""

import math
from typing import Any

import numpy as np
from numba import njit

PARAMETER, WAIT, EVER, AGE, CLIMB, CROP, LANDING, KEEP, LIFE, ROUNDING = range(1, 11)
KILL, CLEAR, KILL_SEEDLING, CUT, BASE, FIND_MAT, FIND_HOST, FAIL, WEATHER, CANDIDATES = range(11, 21)
LANDING_BENEATH, FALLING, TURNOUT, EVENT, EVENT_FALL, CONSENT = range(21, 27)

SOURCE_ENTITY = 2**31
EVENT_ENTITY = 2**31 + 2**30
BACKGROUND_ENTITY = 2**32 - 1
TREES_ENTITY = 2**32 - 2
BENEATH = 2**16
MOST_PER_PART = 500.0

_LOW = np.uint64(0xFFFFFFFF)
_HALF_WORD = np.uint64(32)
_M0 = np.uint64(0xD2511F53)
_M1 = np.uint64(0xCD9E8D57)
_W0 = np.uint64(0x9E3779B9)
_W1 = np.uint64(0xBB67AE85)
_DROP = np.uint64(12)


@njit("UniTuple(u8, 4)(u8, u8, u8, u8, u8, u8)", nogil=True, cache=True)
def philox4x32(c0: Any, c1: Any, c2: Any, c3: Any, k0: Any, k1: Any) -> Any:
    """One block of Philox 4x32-10: four counter words and two key words to four words, all uint64 below 2**32."""
    for _ in range(10):
        p0 = _M0 * c0
        p1 = _M1 * c2
        c0, c1, c2, c3 = (p1 >> _HALF_WORD) ^ c1 ^ k0, p1 & _LOW, (p0 >> _HALF_WORD) ^ c3 ^ k1, p0 & _LOW
        k0 = (k0 + _W0) & _LOW
        k1 = (k1 + _W1) & _LOW
    return c0, c1, c2, c3


@njit("UniTuple(f8, 2)(u8, u8, u8, u8, u8, u8)", nogil=True, cache=True)
def _two(c0: Any, c1: Any, c2: Any, c3: Any, k0: Any, k1: Any) -> Any:
    w0, w1, w2, w3 = philox4x32(c0, c1, c2, c3, k0, k1)
    first = (np.float64(((w0 << _HALF_WORD) | w1) >> _DROP) + 0.5) * 2.0**-52
    second = (np.float64(((w2 << _HALF_WORD) | w3) >> _DROP) + 0.5) * 2.0**-52
    return first, second


@njit("UniTuple(f8, 2)(u8[::1], u8, u8, u8, u8)", nogil=True, cache=True)
def pair(key: Any, process: Any, entity: Any, season: Any, number: Any) -> Any:
    """Two uniforms in the open interval (0, 1), 52 bits each; `key` begins with two words (seed, replicate)."""
    return _two(entity, season, number, process, key[0], key[1])


@njit("UniTuple(f8, 2)(u8[::1], u8, u8, u8)", nogil=True, cache=True)
def trait(key: Any, process: Any, entity: Any, number: Any) -> Any:
    """The pair of a lasting trait: of no season, by the last two words of the key.

    A world whose coming seasons get other luck has a key of four words: theirs, then those by which its traits showed.
    """
    return _two(entity, np.uint64(0), number, process, key[key.size - 2], key[key.size - 1])


@njit("f8(u8[::1], u8, u8, u8, u8)", nogil=True, cache=True)
def uniform(key: Any, process: Any, entity: Any, season: Any, number: Any) -> Any:
    """The first of the pair."""
    return pair(key, process, entity, season, number)[0]


@njit("i8(f8, f8)", nogil=True, cache=True)
def poisson_quantile(u: Any, mean: Any) -> Any:
    """Least k with F(k) >= u for a Poisson mean of at most 500 (above, exp(-mean) loses digits)."""
    term = math.exp(-mean)
    total = term
    k = 0
    # past the far tail the sum can stick a rounding below u: the term is then too small to matter
    while total < u and (k < mean or term > 1e-18):
        k += 1
        term *= mean / k
        total += term
    return k


@njit("i8(u8[::1], u8, u8, u8, f8)", nogil=True, cache=True)
def poisson(key: Any, entity: Any, season: Any, number: Any, mean: Any) -> Any:
    """Keyed Poisson count by inversion; means over 500 are split into equal parts."""
    if mean <= 0.0:
        return 0
    parts = math.ceil(mean / MOST_PER_PART)
    count = 0
    for part in range(parts):
        count += poisson_quantile(uniform(key, CANDIDATES, entity, season, number + 1000 * part), mean / parts)
    return count
