"""Patches of known mat: which cells hang together, found from a bit for each cell, row by row.

Known mat is kept as words of 32 cells, and a bit for each word that is not empty, so that empty ground costs next to
nothing. Cells side by side in a row are a run; runs that touch those of the row above, corners included, are joined.
"""

from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    AS_OF,
    CHANGES,
    KNOWN_WORDS,
    N_RUNS,
    PATCH,
    PATCH_SIZE,
    RUN_LAST,
    RUN_LENGTH,
    RUN_NEXT,
    RUN_ROOT,
    RUN_SIZE,
    RUN_START,
    WORDS_USED,
)

BITS = 32
FULL = 2**BITS - 1


@inner
def word_and_bit(ground: Any, c: Any) -> Any:
    """Word of the map of known mat that a cell lies in, and its bit there."""
    columns = ground.shape[1]
    row = c // columns
    column = c - row * columns
    return row * ((columns + BITS - 1) // BITS) + column // BITS, 1 << (column % BITS)


@inner
def mark_known(ground: Any, state: Any, c: Any) -> None:
    """Put a cell on the map of known mat."""
    word, bit = word_and_bit(ground, c)
    state.lists[KNOWN_WORDS, word] |= bit
    state.lists[WORDS_USED, word // BITS] |= 1 << (word % BITS)
    state.count[CHANGES] += 1


@inner
def mark_gone(ground: Any, state: Any, c: Any) -> None:
    """Take a cell off the map of known mat, where it may not be."""
    word, bit = word_and_bit(ground, c)
    left = state.lists[KNOWN_WORDS, word] & ~bit
    state.lists[KNOWN_WORDS, word] = left
    if left == 0:
        state.lists[WORDS_USED, word // BITS] &= ~(1 << (word % BITS))
    state.count[CHANGES] += 1


@inner
def find_patches(ground: Any, state: Any) -> None:
    """Find the runs of known mat in order, join those that touch, and count a patch's cells at its first run."""
    if state.count[AS_OF] == state.count[CHANGES]:
        return
    state.count[AS_OF] = state.count[CHANGES]
    _find_runs(ground, state)
    _join_runs(ground, state)
    for i in range(state.count[N_RUNS]):
        root = _root(state, i)
        state.lists[RUN_ROOT, i] = root
        state.lists[RUN_NEXT, i] = -1
        if root == i:
            state.lists[RUN_SIZE, i] = 0
        else:
            state.lists[RUN_NEXT, state.lists[RUN_LAST, root]] = i
        state.lists[RUN_LAST, root] = i
        state.lists[RUN_SIZE, root] += state.lists[RUN_LENGTH, i]


@inner
def _find_runs(ground: Any, state: Any) -> None:
    columns = ground.shape[1]
    across = (columns + BITS - 1) // BITS
    words = ground.shape[0] * across
    n = 0
    end = -1  # past the last cell of the run at hand
    for block in range((words + BITS - 1) // BITS):
        used = state.lists[WORDS_USED, block]
        word = block * BITS
        while used != 0:
            if used & 1:
                row = word // across
                first = row * columns + (word - row * across) * BITS
                if first == row * columns:
                    end = -1  # a run doesn't go on in the next row
                bits = state.lists[KNOWN_WORDS, word]
                c = first
                while bits != 0:
                    step = BITS if bits == FULL else bits & 1
                    if step:
                        if c == end:
                            state.lists[RUN_LENGTH, n - 1] += step
                        else:
                            state.lists[RUN_START, n] = c
                            state.lists[RUN_LENGTH, n] = step
                            n += 1
                        end = c + step
                    step = max(1, step)
                    bits >>= step
                    c += step
            used >>= 1
            word += 1
    state.count[N_RUNS] = n


@inner
def _join_runs(ground: Any, state: Any) -> None:
    columns = ground.shape[1]
    above = 0  # first run that may touch the one at hand from the row above
    for i in range(state.count[N_RUNS]):
        state.lists[RUN_ROOT, i] = i
        start = state.lists[RUN_START, i]
        row = start // columns
        # what touches it lies between these cells of the row above
        first = max(start - 1, row * columns) - columns
        last = min(start + state.lists[RUN_LENGTH, i], (row + 1) * columns - 1) - columns
        while state.lists[RUN_START, above] + state.lists[RUN_LENGTH, above] <= first:
            above += 1
        k = above
        while k < i and state.lists[RUN_START, k] <= last:
            a = _root(state, k)
            b = _root(state, i)
            state.lists[RUN_ROOT, max(a, b)] = min(a, b)
            k += 1


@inner
def _root(state: Any, i: Any) -> Any:
    """First run of the patch, as far as joined; ways there are halved as they are gone."""
    while state.lists[RUN_ROOT, i] != i:
        state.lists[RUN_ROOT, i] = state.lists[RUN_ROOT, state.lists[RUN_ROOT, i]]
        i = state.lists[RUN_ROOT, i]
    return i


@inner
def note_patches(state: Any) -> None:
    """Note for each known cell the least cell of its patch, and how many cells that has."""
    for i in range(state.count[N_RUNS]):
        root = state.lists[RUN_ROOT, i]
        start = state.lists[RUN_START, i]
        for c in range(start, start + state.lists[RUN_LENGTH, i]):
            state.lists[PATCH, c] = state.lists[RUN_START, root]
            state.lists[PATCH_SIZE, c] = state.lists[RUN_SIZE, root]
