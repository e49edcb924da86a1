"""A design: which values of which factors a sweep goes through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spreadsim.inputs.checks import Check
from spreadsim.inputs.design_factor import MOST_POINTS, Factor, count_of
from spreadsim.inputs.design_fractions import hypercube, sobol_sequence
from spreadsim.inputs.settings import LARGEST_SEED

MOST_FACTORS = 1000
KINDS = MappingProxyType(
    {
        "grid": "every combination of the values",
        "latin hypercube": "each factor's range in as many slices as points, one point in each",
        "sobol": "a Sobol sequence, shifted at random",
        "listed": "points written out one by one",
    }
)


@dataclass(frozen=True)
class Design:
    """The points of a sweep; made by `grid`, `latin_hypercube`, `sobol` or `listed`.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    factors : tuple of Factor
        What varies.
    points : int
        How many points.
    seed : int
        Of a Latin hypercube and of the shift of a Sobol sequence; the worlds have the experiment's.
    rows : tuple of tuple of int
        Of points written out: which value each factor takes.

    Raises
    ------
    InputError
        For everything that is not allowed.
    """

    kind: str
    factors: tuple[Factor, ...]
    points: int
    seed: int = 0
    rows: tuple[tuple[int, ...], ...] = ()

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check("sweep")
        check.choice("kind", self.kind, KINDS)
        factors = check.instances("factors", self.factors, Factor)
        if not 1 <= len(factors) <= MOST_FACTORS and not len(check.problems):
            check.add("factors", len(factors), f"1 to {MOST_FACTORS}")
        for k, factor in enumerate(factors):
            if factor.name in [other.name for other in factors[:k]]:
                check.add(f"factors[{k}]", factor.name, "each only once")
        check.whole("points", self.points, 1, MOST_POINTS)
        check.whole("seed", self.seed, 0, LARGEST_SEED)
        if self.kind == "sobol" and isinstance(self.points, int) and self.points & (self.points - 1):
            check.add("points", self.points, "a power of two (64, 128, ...), for which the sequence is balanced")
        check.done()
        object.__setattr__(self, "factors", factors)

    def fractions(self) -> NDArray[np.float64]:
        """Give where each point lies in the range of each factor, 0 to 1, (points, factors).

        A factor with `values` takes the one whose slice of 0 to 1 holds the fraction.
        """
        width = len(self.factors)
        if self.kind == "grid":
            counts = [count_of(factor) for factor in self.factors]
            places = np.indices(counts).reshape(width, -1).T
            inner = [(places[:, k] + 0.5) / counts[k] for k in range(width)]
            ends = [places[:, k] / max(1, counts[k] - 1) for k in range(width)]
            return np.stack([inner[k] if f.values is not None else ends[k] for k, f in enumerate(self.factors)], axis=1)
        if self.kind == "listed":
            return (np.array(self.rows) + 0.5) / [count_of(factor) for factor in self.factors]
        return (hypercube if self.kind == "latin hypercube" else sobol_sequence)(self.points, width, self.seed)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        factors = [{key: getattr(one, key) for key in Factor.__dataclass_fields__} for one in self.factors]
        rows = [list(row) for row in self.rows]
        return {"kind": self.kind, "points": self.points, "seed": self.seed, "factors": factors, "rows": rows}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Design:
        """Make a design of what `to_dict` gave."""
        factors = tuple(Factor(**one) for one in data["factors"])
        return cls(data["kind"], factors, data["points"], data["seed"], tuple(tuple(row) for row in data["rows"]))
