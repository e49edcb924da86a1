"""Worlds picked by their weights, and luck of their own for each pick."""

from __future__ import annotations

from typing import Any

import numpy as np

_PICKING, _AMENDING = 3, 2  # what luck is for, beside that of `from_survey` and `overlooked`


def picked(weights: Any, count: int, seed: int) -> Any:
    """Pick worlds so that each is expected as often as it weighs: systematic resampling.

    One number at random and equal steps from it through the sums of the weights: a world of weight w is picked at
    least floor(count w) and at most ceil(count w) times, on average count w (Carpenter, Clifford and Fearnhead 1999,
    IEE Proc. Radar Sonar Navig. 146:2, from memory).

    Parameters
    ----------
    weights
        (worlds,), 0 or more, some above 0.
    count
        How many to pick.
    seed
        Same seed, same picks.

    Returns
    -------
    array of int
        (count,), places of the worlds, in order; a place may come several times.
    """
    start = np.random.Generator(np.random.PCG64([seed, _PICKING])).random()
    sums = np.cumsum(weights)
    places = np.searchsorted(sums / sums[-1], (np.arange(count) + start) / count, side="right")
    return np.minimum(places, int(np.flatnonzero(weights)[-1]))


def repeats(picks: Any) -> Any:
    """Count how often each pick came before in the list, (count,)."""
    seen: dict[int, int] = {}
    out = []
    for place in picks.tolist():
        out.append(seen.get(place, 0))
        seen[place] = out[-1] + 1
    return np.array(out, dtype="i8")


def luck_of(seed: int, number: int, repeat: int) -> np.random.Generator:
    """Give the luck by which a picked world is amended; it depends on the world and on which repeat of it this is."""
    return np.random.Generator(np.random.PCG64([seed, number, _AMENDING, repeat]))
