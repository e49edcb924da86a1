"""In which order targets are taken: a small heap of candidates."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    QUEUE,
)


@inner
def enqueue(state: Any, n: Any, number: Any, first: Any, second: Any) -> None:
    """Put a candidate, a cell or host by number, at place n of the queue, with its two keys."""
    state.lists[QUEUE, n] = number
    state.keys[n, 0] = first
    state.keys[n, 1] = second


@inner
def _before(state: Any, place: Any, number: Any, first: Any, second: Any) -> Any:
    """Whether the candidate at a place comes before another: first key, second key, number."""
    if state.keys[place, 0] != first:
        return state.keys[place, 0] < first
    if state.keys[place, 1] != second:
        return state.keys[place, 1] < second
    return state.lists[QUEUE, place] < number


@inner
def _sink(state: Any, n: Any, place: Any, number: Any, first: Any, second: Any) -> None:
    while True:
        below = 2 * place + 1
        if below >= n:
            break
        if below + 1 < n:
            right = below + 1
            if _before(state, right, state.lists[QUEUE, below], state.keys[below, 0], state.keys[below, 1]):
                below = right
        if not _before(state, below, number, first, second):
            break
        enqueue(state, place, state.lists[QUEUE, below], state.keys[below, 0], state.keys[below, 1])
        place = below
    enqueue(state, place, number, first, second)


@inner
def heapify(state: Any, n: Any) -> None:
    """Order the first n of the queue as a heap."""
    for place in range(n // 2 - 1, -1, -1):
        _sink(state, n, place, state.lists[QUEUE, place], state.keys[place, 0], state.keys[place, 1])


@inner
def take_first(state: Any, n: Any) -> Any:
    """Take the first of the n candidates off; n - 1 remain."""
    first = state.lists[QUEUE, 0]
    last = n - 1
    if last > 0:
        _sink(state, last, 0, state.lists[QUEUE, last], state.keys[last, 0], state.keys[last, 1])
    return first
