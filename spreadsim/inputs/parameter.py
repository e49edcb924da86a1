"""A parameter: a value with its range, unit, trust and source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from spreadsim.inputs.checks import Check, is_number

Value = float | str | tuple[float, ...] | tuple[str, ...]

SCALES = ("linear", "log")
CONFIDENCE = MappingProxyType(
    {
        "R": "read in the source",
        "M": "from memory",
        "P": "a proxy: another species or place",
        "C": "calculated from read figures",
        "A": "assumed",
    }
)


@dataclass(frozen=True)
class Parameter:
    """One value that the model uses, and how far to trust it.

    Attributes
    ----------
    name : str
        ``process.name`` for a vine, the role alone for a treatment.
    value : float, str, tuple or None
        The default; None only where `solved`.
    low, high : float or None
        What is thought possible of the mean; None where it is not drawn.
    unit : str
        Never empty: ``"1"`` for shares and factors.
    scale : str
        ``"linear"`` or ``"log"``: how it is drawn between low and high.
    confidence : str
        One of the letters of `CONFIDENCE`.
    source : str
        Where the value comes from; never empty.
    note : str
        What else to know.
    solved : bool
        Solved from other parameters: never drawn, has no value of its own.

    Raises
    ------
    InputError
        If unit or source are missing, a number is not finite or the value is outside its range.
    """

    name: str
    value: Value | None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    scale: str = "linear"
    confidence: str = "A"
    source: str = ""
    note: str = ""
    solved: bool = False

    def __post_init__(self) -> None:
        """Check everything and put numbers and lists in their proper types."""
        check = Check(f'Parameter "{self.name}"')
        check.text("name", self.name, empty=False)
        for field in ("unit", "source"):
            check.text(field, getattr(self, field), empty=False)
        check.text("note", self.note)
        check.choice("scale", self.scale, SCALES)
        check.choice("confidence", self.confidence, tuple(CONFIDENCE))
        check.flag("solved", self.solved)
        value = self._checked_value(check)
        low, high = self._checked_range(check, value)
        check.done()
        for field, fixed in (("value", value), ("low", low), ("high", high)):
            object.__setattr__(self, field, fixed)

    def _checked_value(self, check: Check) -> Value | None:
        value = self.value
        if self.solved is True:
            if value is not None:
                check.add("value", value, "none, since it is solved from other parameters")
            return None
        if isinstance(value, str):
            return check.text("value", value, empty=False)
        if isinstance(value, list | tuple):
            if value and all(is_number(item) for item in value):
                return tuple(float(item) for item in value)
            if value and all(isinstance(item, str) and item for item in value):
                return tuple(str(item) for item in value)
            check.add("value", value, "a list of numbers or of texts, not empty")
            return None
        return check.number("value", value)

    def _checked_range(self, check: Check, value: Value | None) -> tuple[float | None, float | None]:
        if self.low is None and self.high is None:
            return None, None
        if not isinstance(value, float):
            check.add("low", self.low, "no low and high, since the value is not a single number")
            return None, None
        low, high = check.number("low", self.low), check.number("high", self.high)
        if low > high:
            check.add("low", low, f"at most high ({high:g})")
        elif not low <= value <= high:
            check.add("value", value, f"{low:g} to {high:g}")
        elif self.scale == "log" and (low < 0 or value <= 0):
            check.add("value", value, "low at least 0 and value above 0 on the log scale")
        return low, high

    @property
    def drawn(self) -> bool:
        """Whether a replicate draws it: it has a range with some width."""
        return self.low is not None and self.high is not None and self.low < self.high

    @property
    def number(self) -> float:
        """The value, where it is a single number."""
        if not isinstance(self.value, float):
            raise TypeError(f"{self.name} is {self.value!r}, not a single number")
        return self.value

    def with_value(self, value: object, *, check_ranges: bool = True) -> Parameter:
        """Give the same parameter with another value.

        Parameters
        ----------
        value : float, str, list or Mapping
            The new value, or a mapping with any of ``value``, ``low`` and ``high``.
        check_ranges : bool
            Refuse a value outside low to high; if false, the range is widened to hold it.

        Raises
        ------
        InputError
            If the value is outside the range, of another kind, or the parameter is a solved one.
        """
        check = Check(f'Parameter "{self.name}"')
        changes: dict[str, Any] = dict(value) if isinstance(value, Mapping) else {"value": value}
        for key in changes:
            if key not in ("value", "low", "high"):
                check.add(str(key), changes[key], "only value, low and high")
        if self.solved:
            check.add("value", changes.get("value"), "none, since it is solved from other parameters")
        check.done()
        new: Any = changes.get("value", self.value)
        if not _same_kind(self.value, new):
            check.add("value", new, _kind(self.value))
            check.done()
        if not check_ranges and self.low is not None and self.high is not None and is_number(new):
            changes.setdefault("low", min(self.low, float(new)))
            changes.setdefault("high", max(self.high, float(new)))
        return replace(self, **changes)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain: dict[str, Any] = {}
        if not self.solved:
            plain["value"] = list(self.value) if isinstance(self.value, tuple) else self.value
        if self.low is not None:
            plain |= {"low": self.low, "high": self.high}
        plain |= {
            "unit": self.unit,
            "scale": self.scale,
            "confidence": self.confidence,
            "source": self.source,
        }
        if self.note:
            plain["note"] = self.note
        if self.solved:
            plain["solved"] = True
        return plain


def _same_kind(old: object, new: object) -> bool:
    if isinstance(old, float):
        return is_number(new)
    if isinstance(old, tuple):
        if not isinstance(new, list | tuple) or not new:
            return False
        return all(isinstance(item, str) if isinstance(old[0], str) else is_number(item) for item in new)
    return isinstance(new, type(old))


def _kind(old: object) -> str:
    if isinstance(old, float):
        return "a finite number"
    if isinstance(old, tuple):
        return f"a list of {'texts' if isinstance(old[0], str) else 'numbers'}, not empty"
    return "a text"
