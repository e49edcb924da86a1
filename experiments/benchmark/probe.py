"""What this machine can do: the floors that the engine's costs are held against.

Each probe is a bare loop, compiled by numba, over the engine's own records and draws, with nothing of the model
around it: no order of events, no clearing, no lists.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from clock import now
from numba import njit

from spreadsim.model.compiled import layout, pair

Array = np.ndarray


@njit(nogil=True)
def gather(kinds: Any, pushes: Any, slow: Any, order: Any, offsets: Any, reach: Any) -> float:
    """For each cell of the order, the least arrival over its 16 neighbours: a byte and two words read for each."""
    total = 0.0
    for i in range(order.size):
        c = order[i]
        least = np.inf
        for k in range(offsets.size):
            n = c + offsets[k]
            if kinds[n] != 0:
                least = min(least, pushes[n] + reach[k] * (slow[n] + slow[c]))
        total += least
    return total


@njit(nogil=True)
def chase(links: Any, steps: int) -> int:
    """Follow links, each known only when the one before has been read."""
    at = 0
    for _ in range(steps):
        at = links[at]
    return at


@njit(nogil=True)
def draw(key: Any, number: int) -> float:
    """Keyed pairs of uniforms."""
    total = 0.0
    for i in range(number):
        total += pair(key, 8, i, 3, 1)[0]
    return total


@njit(nogil=True)
def land(key: Any, number: int) -> float:
    """Two keyed pairs and a landing (a power, a root, a sine and a cosine) each."""
    total = 0.0
    for i in range(number):
        first, second = pair(key, 7, i, 3, 1)
        luck = pair(key, 8, i, 3, 1)[0]
        r = math.sqrt(7790.0 * (math.exp(-math.log(1.0 - first) / 1.42) - 1.0))
        total += r * math.cos(6.28 * second) + r * math.sin(6.28 * second) + luck
    return total


@njit(nogil=True)
def risk(key: Any, hosts: Any, number: int) -> float:
    """One host record read, one keyed pair and a comparison each."""
    total = 0.0
    for i in range(number):
        j = i % hosts.size
        if pair(key, 5, j, i, 0)[0] < hosts[j].ring:
            total += 1.0
    return total


@njit(nogil=True)
def survey(stands: Any) -> float:
    """Density of each row in turn: one record read and written, a product and a division."""
    total = 0.0
    for i in range(stands.size):
        stand = stands[i]
        stand.odds = stand.odds * stand.step
        total += stand.area / (1.0 + stand.odds)
    return total


def best(call: Callable[[], Any], number: int, times: int = 7) -> float:
    """Least time of a call by the number of things that it does, ns."""
    call()
    took = []
    for _ in range(times):
        start = now()
        call()
        took.append(now() - start)
    return 1e9 * min(took) / number


def gather_ns(rows: int, columns: int, number: int) -> float:
    """Reading of 16 neighbours and taking the least, ns a cell; cells in rows, near one another as at a front."""
    kinds = np.zeros(rows * columns, np.uint8)
    kinds[::2] = 1
    pushes, slow = np.zeros(kinds.size), np.ones(kinds.size)
    inner = np.arange(rows * columns).reshape(rows, columns)[2:-2, 2:-2].ravel()[:number]
    offsets = np.array([r * columns + q for r in (-2, -1, 0, 1, 2) for q in (-2, -1, 0, 1, 2)
                        if (r or q) and abs(r) + abs(q) != 4 and (abs(r), abs(q)) not in ((0, 2), (2, 0))])  # fmt: skip
    reach = np.sqrt(np.arange(1.0, 1.0 + offsets.size))
    return best(lambda: gather(kinds, pushes, slow, inner, offsets, reach), inner.size)


def latency_ns(size: int) -> float:
    """Time until a word anywhere in so many bytes is there, ns."""
    order = np.random.default_rng(1).permutation(size // 64) * 8  # one word in each line of 64 bytes
    links = np.zeros(size // 8, np.int64)
    links[order] = np.roll(order, -1)
    return best(lambda: chase(links, 200_000), 200_000)


def bandwidth(size: int) -> float:
    """Bytes a second that numpy copies, read and written, GB/s."""
    source, target = np.ones(size // 8), np.empty(size // 8)
    return 2.0 / best(lambda: np.copyto(target, source), size)


def draw_ns() -> float:
    """One keyed pair, ns."""
    key = np.array([1, 2], dtype=np.uint64)
    return best(lambda: draw(key, 100_000), 100_000)


def land_ns() -> float:
    """One candidate's draws and landing, ns."""
    key = np.array([1, 2], dtype=np.uint64)
    return best(lambda: land(key, 100_000), 100_000)


def risk_ns(hosts: int) -> float:
    """One host's record and draw, ns."""
    key = np.array([1, 2], dtype=np.uint64)
    records = np.zeros(hosts, layout.HOST_STATE)
    return best(lambda: risk(key, records, 100_000), 100_000)


def survey_ns(number: int) -> float:
    """One cell's record and its cover, ns."""
    stands = np.zeros(number, layout.STAND)
    stands["odds"], stands["step"], stands["area"] = 1.0, 1.0, 4.0
    return best(lambda: survey(stands), number)
