"""In which order targets are taken: a small heap of candidates, and the patches that some orders need."""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    EMPTY,
    INFESTED,
    N_INFESTED,
    QUEUE,
)


@inner
def _before(state: Any, a: Any, b: Any) -> Any:
    """Whether candidate a comes before b: first key, second key, number."""
    if state.keys[a, 0] != state.keys[b, 0]:
        return state.keys[a, 0] < state.keys[b, 0]
    if state.keys[a, 1] != state.keys[b, 1]:
        return state.keys[a, 1] < state.keys[b, 1]
    return a < b


@inner
def _sink(state: Any, n: Any, place: Any) -> None:
    item = state.lists[QUEUE, place]
    while True:
        below = 2 * place + 1
        if below >= n:
            break
        if below + 1 < n and _before(state, state.lists[QUEUE, below + 1], state.lists[QUEUE, below]):
            below += 1
        if not _before(state, state.lists[QUEUE, below], item):
            break
        state.lists[QUEUE, place] = state.lists[QUEUE, below]
        place = below
    state.lists[QUEUE, place] = item


@inner
def heapify(state: Any, n: Any) -> None:
    """Order the first n of the queue as a heap; its keys are by cell or host number."""
    for place in range(n // 2 - 1, -1, -1):
        _sink(state, n, place)


@inner
def take_first(state: Any, n: Any) -> Any:
    """Take the first of the n candidates off; n - 1 remain."""
    first = state.lists[QUEUE, 0]
    state.lists[QUEUE, 0] = state.lists[QUEUE, n - 1]
    if n > 1:
        _sink(state, n - 1, 0)
    return first


@inner
def find_patches(ground: Any, state: Any) -> None:
    """Label known infested cells by the least cell of their 8-connected patch, and count its cells there."""
    columns = ground.shape[1]
    rows = ground.shape[0]
    for i in range(state.count[N_INFESTED]):
        state.cells[state.lists[INFESTED, i]].patch = -1
    for i in range(state.count[N_INFESTED]):
        start = state.lists[INFESTED, i]
        if state.cells[start].patch != -1 or state.cells[start].known == 0:
            continue
        state.cells[start].patch = -2
        state.lists[QUEUE, 0] = start
        n = 1
        least = start
        at = 0
        while at < n:
            c = state.lists[QUEUE, at]
            at += 1
            least = min(least, c)
            row = c // columns
            column = c - row * columns
            for r in range(max(0, row - 1), min(rows, row + 2)):
                for q in range(max(0, column - 1), min(columns, column + 2)):
                    other = r * columns + q
                    cell = state.cells[other]
                    if cell.kind != EMPTY and cell.known and state.cells[other].patch == -1:
                        state.cells[other].patch = -2
                        state.lists[QUEUE, n] = other
                        n += 1
        for at in range(n):
            state.cells[state.lists[QUEUE, at]].patch = least
        state.cells[least].patch_size = n
