"""The smallest of many values at which something holds, with what is run kept small; and how sure of it one can be."""

from collections.abc import Callable
from typing import NamedTuple

STEP = 1.1  # from one value of a scale to the next


class Crossing(NamedTuple):
    """Places in a list of values, the smallest at which it holds; None: at none."""

    at: int | None  # as far as the worlds that were run say
    maybe: int | None  # it may hold from here on: the lower end of the interval
    surely: int | None  # it surely holds from here on: the upper end


def crossing(
    count: int, at: Callable[[int], bool], maybe: Callable[[int], bool], surely: Callable[[int], bool]
) -> Crossing:
    """Find the smallest place at which something holds, by halving, and its interval by inverting tests.

    Parameters
    ----------
    count
        How many values.
    at, maybe, surely
        Whether it holds at a place; whether it cannot be ruled out there; whether it holds there beyond doubt. Each is
        taken to hold at all places after the first at which it does.
    """
    return Crossing(first_true(count, at), first_true(count, maybe), first_true(count, surely))


def first_true(count: int, test: Callable[[int], bool]) -> int | None:
    """Give the first place at which a test holds that holds from some place on; None: not even at the last."""
    if not test(count - 1):
        return None
    if test(0):
        return 0
    low, high = 0, count - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if test(middle) else (middle, high)
    return high


def factors(least: float, most: float) -> list[float]:
    """Give 0 and factors on a scale of tenths from `least` to `most`, 1 among them if it lies between."""
    found = [1.0]
    while found[0] / STEP >= least:
        found.insert(0, found[0] / STEP)
    while found[-1] * STEP <= most:
        found.append(found[-1] * STEP)
    inside = [value for value in found if value < most / (1 + 1e-9)]
    return [0.0, *inside, most]
