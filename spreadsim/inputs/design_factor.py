"""One thing that a sweep varies, and the values that it takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.parameter import SCALES

MOST_POINTS = 1_000_000


@dataclass(frozen=True)
class Factor:
    """One thing that a sweep varies.

    Attributes
    ----------
    name : str
        Where it stands: ``mat.front_speed`` (vine), ``pull.mat_kill`` (treatment), ``crews.staff.hours``,
        ``crews.staff.hours_factor``, ``strategies.mats only.tasks.pull.share``, ``years``... See `varied`.
    values : tuple or None
        The values to take; else `low` and `high`, or neither for a parameter's own range.
    low, high : float or None
        The range.
    scale : str or None
        ``"linear"`` or ``"log"``: how the range is divided; None: as the parameter's profile says, else linear.
    levels : int or None
        In a grid: how many values a range gives, its ends included.
    beyond_range : bool
        Allow values of a parameter outside the range in its profile.

    Raises
    ------
    InputError
        For everything that is not allowed.
    """

    name: str
    values: tuple[Any, ...] | None = None
    low: float | None = None
    high: float | None = None
    scale: str | None = None
    levels: int | None = None
    beyond_range: bool = False

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check(f'Factor "{self.name}"')
        check.text("name", self.name, empty=False)
        if self.values is not None:
            self._check_values(check)
        for end in ("low", "high"):
            if getattr(self, end) is not None:
                check.number(end, getattr(self, end))
        if (self.low is None) != (self.high is None):
            check.add("low" if self.low is None else "high", None, "both low and high, or neither")
        if self.scale is not None:
            check.choice("scale", self.scale, SCALES)
        if self.levels is not None:
            check.whole("levels", self.levels, 1, MOST_POINTS)
        check.flag("beyond_range", self.beyond_range)
        check.done()
        if self.low is not None and self.high is not None:
            if self.low >= self.high:
                check.add("low", self.low, f"less than high ({self.high:g})")
            elif self.scale == "log" and self.low <= 0:
                check.add("low", self.low, "above 0 on the log scale")
        check.done()

    def _check_values(self, check: Check) -> None:
        given: Any = self.values
        if isinstance(given, str | Mapping) or not hasattr(given, "__iter__"):
            check.add("values", given, "a list of values")
            return
        values = tuple(plain(value) for value in given)
        if not values:
            check.add("values", [], "at least one value")
        if len({repr(value) for value in values}) < len(values):
            check.add("values", list(values), "each only once")
        for name in ("low", "high", "scale", "levels"):
            if getattr(self, name) is not None:
                check.add(name, getattr(self, name), "nothing, since the values are given")
        object.__setattr__(self, "values", values)


def count_of(factor: Factor) -> int:
    """Give how many values a factor takes in a grid."""
    return factor.levels or 1 if factor.values is None else len(factor.values)


def plain(value: Any) -> Any:
    """Give a value as Python has it: numpy's scalars and arrays become numbers and tuples."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    return tuple(value) if isinstance(value, list) else value
