"""A fund: money that may be spent in some years, by some crews."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.times import Years, span_of_years


@dataclass(frozen=True, init=False)
class Fund:
    """Dated money, such as a grant.

    In an experiment with any fund, the hours of paid crews, their minimum charges and all material are paid from the
    funds that are open in the year, and work stops where they are empty. Without funds money is no limit.

    Attributes
    ----------
    name : str
        Short name, such as ``"grant"``.
    amount : float
        What there is in all its years together, currency.
    years : tuple of (int, int or None), or None
        First and last year in which it may be spent, from 1, both included; None: all years, or no end.
    crews : tuple of str
        Crews that it may pay, with the material that they use; none: any.
    """

    name: str
    amount: float
    years: Years = None
    crews: tuple[str, ...] = ()

    def __init__(
        self, name: str, amount: float, *, years: Sequence[int | None] | None = None, crews: Iterable[str] = ()
    ) -> None:
        """Check and freeze a fund; what is not allowed is an `InputError`."""
        check = Check(f'Fund "{name}"')
        values = {
            "name": check.text("name", name, empty=False),
            "amount": check.number("amount", amount, 0),
            "years": span_of_years(check, years),
            "crews": check.words("crews", crews),
        }
        check.done()
        for key, value in values.items():
            object.__setattr__(self, key, value)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        years = None if self.years is None else list(self.years)
        return {"name": self.name, "amount": self.amount, "years": years, "crews": list(self.crews)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Fund:
        """Make a fund of what `to_dict` gave."""
        return cls(**data)
