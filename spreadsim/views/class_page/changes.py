"""Changes from season to season as short bytes: a film on the page is a few tens of kilobytes."""

import zlib
from base64 import b64encode
from collections.abc import Sequence
from typing import Any

import numpy as np

_LEAST_BITS = 7


def numbers(values: Any) -> bytes:
    """Whole numbers from 0 as bytes, seven bits each, least first; the eighth says that more follow."""
    rest = np.asarray(values, "u8")
    columns, more = [], np.ones(rest.size, bool)
    kept = []
    while more.any():
        columns.append((rest & 127).astype("u1"))
        kept.append(more)
        rest = rest >> _LEAST_BITS
        more = more & (rest > 0)
    if not columns:
        return b""
    table, used = np.stack(columns, axis=1), np.stack(kept, axis=1)
    follows = np.concatenate([used[:, 1:], np.zeros((rest.size, 1), bool)], axis=1)
    return bytes((table | np.where(follows, 128, 0).astype("u1"))[used])


def changes(states: Any) -> list[bytes]:
    """What changes from one step to the next, step 0 from nothing at all.

    Parameters
    ----------
    states
        u1 (steps, places).

    Returns
    -------
    list of bytes
        How many places change in each step; the way from each to the next, from 0 in each step; what they become.
    """
    before = np.zeros_like(states)
    before[1:] = states[:-1]
    return _listed(states != before, states)


def marks(states: Any) -> list[bytes]:
    """What is marked in each step, for that step alone; as `changes`."""
    return _listed(states > 0, states)


def _listed(chosen: Any, states: Any) -> list[bytes]:
    steps, places = np.nonzero(chosen)
    gaps = np.diff(places, prepend=0)
    first = np.diff(steps, prepend=-1) > 0
    gaps[first] = places[first]
    return [numbers(chosen.sum(axis=1)), numbers(gaps), states[chosen].tobytes()]


def as_text(parts: Sequence[bytes]) -> str:
    """Parts, each behind its length (four bytes, least first), deflated, as base64."""
    whole = b"".join(len(part).to_bytes(4, "little") + part for part in parts)
    return b64encode(zlib.compress(whole, 9)).decode("ascii")
