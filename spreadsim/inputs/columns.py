"""Taking columns of equal length out of a mapping."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check

_MOST_NAMED = 5  # entries named one by one before the rest is counted


class Columns:
    """Takes columns of equal length out of a mapping, noting what is wrong.

    Parameters
    ----------
    check : Check
        Where to note problems.
    place : str
        The place named there, such as ``hosts``.
    data : mapping or None
        Columns by name; a single value stands for all entries.
    needed, others : tuples of str
        Columns that must be there, and that may be.
    """

    def __init__(self, check: Check, place: str, data: Any, needed: tuple[str, ...], others: tuple[str, ...]) -> None:
        self.check, self.place = check, place
        if data is not None and not (isinstance(data, Mapping) or hasattr(data, "keys")):
            check.add(place, data, "a mapping of arrays")
            data = None
        self.data: dict[str, Any] = {} if data is None else {str(key): data[key] for key in data.keys()}  # noqa: SIM118
        for key in self.data:
            if key not in needed + others:
                check.add(f"{place}.{key}", Said("this column"), one_of(needed + others))
        if data is not None:
            for key in needed:
                if key not in self.data:
                    check.add(f"{place}.{key}", MISSING, "numbers, always")
        first = np.asarray(self.data.get("x", ()))
        self.length = first.shape[0] if first.ndim == 1 else 0
        if first.ndim != 1:
            check.add(f"{place}.x", Said(f"shape {first.shape}"), "a list of numbers")

    def _array(self, name: str) -> np.ndarray | None:
        if name not in self.data:
            return None
        try:
            array = np.asarray(self.data[name])
        except ValueError:
            self.check.add(f"{self.place}.{name}", Said("lists of unequal length"), f"{self.length} values")
            return None
        if array.ndim == 0:
            array = np.full(self.length, array[()])
        if array.shape != (self.length,):
            self.check.add(f"{self.place}.{name}", Said(f"shape {array.shape}"), f"{self.length} values, as x has")
            return None
        return array

    def note(self, name: str, array: np.ndarray, wrong: np.ndarray, allowed: str) -> None:
        """Note the entries of a column that are wrong, the first few by their place."""
        places = np.flatnonzero(wrong)
        for index in places[:_MOST_NAMED]:
            self.check.add(f"{self.place}.{name}[{index}]", array[index], allowed)
        if len(places) > _MOST_NAMED:
            self.check.problems.say(
                self.check.thing,
                f"{self.place}.{name}",
                f"and {len(places) - _MOST_NAMED} more, allowed {allowed}",
            )

    def numbers(
        self, name: str, default: Any, low: float, high: float, allowed: str, missing: bool = False
    ) -> np.ndarray:
        """Take numbers from low to high; `missing`: NaN is allowed and stands for unknown."""
        array = self._array(name)
        if array is None:
            return np.full(self.length, default, dtype=np.float64)
        try:
            numbers = array.astype(np.float64)
        except (TypeError, ValueError):
            self.check.add(f"{self.place}.{name}", array.tolist(), "numbers")
            return np.full(self.length, default, dtype=np.float64)
        with np.errstate(invalid="ignore"):
            wrong = ~((numbers >= low) & (numbers <= high) & np.isfinite(numbers))
        if missing:
            wrong &= ~np.isnan(numbers)
        self.note(name, numbers, wrong, allowed)
        return np.where(wrong, low if np.isfinite(low) else 0.0, numbers)

    def words(self, name: str, default: str, names: tuple[str, ...]) -> np.ndarray:
        """Take words out of `names`, as their index."""
        array = self._array(name)
        if array is None:
            return np.full(self.length, names.index(default), dtype=np.uint8)
        index = np.array([names.index(v) if isinstance(v, str) and v in names else 255 for v in array], dtype=np.uint8)
        self.note(name, array, index == 255, one_of(names))
        return np.where(index == 255, 0, index).astype(np.uint8)

    def flags(self, name: str, default: bool) -> np.ndarray:
        """Take values of true and false."""
        array = self._array(name)
        if array is None:
            return np.full(self.length, default)
        if array.dtype.kind == "b":
            return array
        right = np.array(
            [isinstance(v, bool | np.bool_) or (v in (0, 1) and not isinstance(v, str)) for v in array],
            dtype=bool,
        )
        self.note(name, array, ~right, "true or false")
        return np.array([bool(v) for v in array], dtype=bool)
