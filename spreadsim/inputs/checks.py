"""Checks of single values, shared by all that is read or made in a script."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from numbers import Integral, Real
from typing import Any

from spreadsim.errors import Problems, one_of

_LARGEST_INTEGER = 2**63 - 1  # what TOML, netCDF and numpy can all hold


class Check:
    """Checks values and notes what is wrong with them.

    A method returns the value in its proper type, or a harmless stand-in where the value is no good,
    so that checking can go on and find the rest.

    Parameters
    ----------
    thing : str
        The file or object named in messages, such as ``Crew "staff"``.
    problems : Problems, optional
        Where to note; a new collector if there is none.
    """

    def __init__(self, thing: str, problems: Problems | None = None) -> None:
        self.thing = thing
        self.problems = Problems() if problems is None else problems

    def add(self, place: str, found: object, allowed: str) -> None:
        """Note a value that is not allowed."""
        self.problems.add(self.thing, place, found, allowed)

    def remark(self, place: str, text: str) -> None:
        """Note what does not stop the work but should be looked at."""
        self.problems.remark(self.thing, place, text)

    def done(self) -> None:
        """Raise `InputError` if anything was noted."""
        self.problems.raise_if_any()

    def number(
        self,
        place: str,
        value: object,
        low: float = -math.inf,
        high: float = math.inf,
        *,
        above: bool = False,
    ) -> float:
        """Check a finite number from `low` to `high` (`above`: more than `low`)."""
        if is_number(value):
            number = float(value)  # type: ignore[arg-type]
            if low <= number <= high and not (above and number == low):
                return number
        self.add(place, value, number_allowed(low, high, above))
        return low if math.isfinite(low) else 0.0

    def whole(self, place: str, value: object, low: int, high: int = _LARGEST_INTEGER) -> int:
        """Check a whole number from `low` to `high`."""
        if isinstance(value, Integral) and not isinstance(value, bool) and low <= int(value) <= high:
            return int(value)
        self.add(
            place,
            value,
            f"a whole number, at least {low}" if high == _LARGEST_INTEGER else f"{low} to {high}, whole",
        )
        return low

    def text(self, place: str, value: object, *, empty: bool = True) -> str:
        """Check a text (with `empty` false: one that says something)."""
        if isinstance(value, str) and (empty or value.strip()):
            return value
        self.add(place, value, "a text" if empty else "a text that is not empty")
        return ""

    def flag(self, place: str, value: object) -> bool:
        """Check a yes or no."""
        if isinstance(value, bool) or type(value).__name__ == "bool_" or type(value).__name__ == "bool":
            return bool(value)
        self.add(place, value, "true or false")
        return False

    def choice(self, place: str, value: object, names: Collection[str]) -> str:
        """Check a word that must be one of some."""
        if isinstance(value, str) and value in names:
            return value
        self.add(place, value, one_of(names))
        return next(iter(names))

    def words(self, place: str, values: object, names: Collection[str] | None = None) -> tuple[str, ...]:
        """Check a list of different texts, each one of `names` if these are given."""
        if isinstance(values, str) or not isinstance(values, Iterable) or isinstance(values, Mapping):
            self.add(place, values, "a list of texts")
            return ()
        kept: list[str] = []
        for index, value in enumerate(values):
            at = f"{place}[{index}]"
            if not isinstance(value, str) or not value.strip():
                self.add(at, value, "a text that is not empty")
            elif names is not None and value not in names:
                self.add(at, value, one_of(names))
            elif value in kept:
                self.add(at, value, "each only once")
            else:
                kept.append(value)
        return tuple(kept)

    def instances(self, place: str, values: object, kind: type[Any]) -> tuple[Any, ...]:
        """Check a list of objects of one kind."""
        if isinstance(values, str | Mapping) or not isinstance(values, Iterable):
            self.add(place, values, f"a list of {kind.__name__} objects")
            return ()
        kept = []
        for index, value in enumerate(values):
            if isinstance(value, kind):
                kept.append(value)
            else:
                self.add(f"{place}[{index}]", value, f"{'an' if kind.__name__[0] in 'AEIOU' else 'a'} {kind.__name__}")
        return tuple(kept)


def is_number(value: object) -> bool:
    """Tell whether a value is a finite number that a float can hold (true and false are none)."""
    if not isinstance(value, Real) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(float(value))
    except OverflowError:  # an integer beyond the largest float
        return False


def number_allowed(low: float, high: float, above: bool = False) -> str:
    """Word a range of numbers: ``0 to 1``, ``a number, at least 0``."""
    if math.isfinite(low) and math.isfinite(high):
        return f"{'more than ' if above else ''}{low:g} to {high:g}"
    if math.isfinite(low):
        return f"a number{', more than' if above else ', at least'} {low:g}"
    if math.isfinite(high):
        return f"a number, at most {high:g}"
    return "a finite number"
