"""Frozen objects that hold arrays: read-only, and equal if all arrays are."""

from __future__ import annotations

from typing import Any

import numpy as np


class Frozen:
    """Dataclasses of arrays: equal if all arrays are, missing numbers included."""

    def __eq__(self, other: object) -> bool:
        """Compare all fields."""
        if type(self) is not type(other):
            return NotImplemented
        return all(_same(getattr(self, name), getattr(other, name)) for name in self.__dataclass_fields__)  # type: ignore[attr-defined]

    def __hash__(self) -> int:
        """Hash by the plain fields; equal objects have equal ones."""
        values = (getattr(self, name) for name in self.__dataclass_fields__)  # type: ignore[attr-defined]
        return hash(tuple(v.shape if isinstance(v, np.ndarray) else v for v in values))


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, np.ndarray):
        exact = one.dtype.kind != "f"
        return one.dtype == other.dtype and np.array_equal(one, other, equal_nan=not exact)
    return bool(one == other)


def freeze(array: Any, dtype: Any = None) -> np.ndarray:
    """Copy into a read-only array."""
    copy = np.array(array, dtype=dtype, order="C")
    copy.setflags(write=False)
    return copy
