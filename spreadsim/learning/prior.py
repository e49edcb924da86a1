"""Parameters as normal scores: how far along its range each lies, so that worlds can be drawn near others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Parameter, Treatment, Vine
from spreadsim.learning.overlooked import HOSTS, PATCHES, Overlooked, Rates
from spreadsim.model.parameters import LINKS, SOLVED, quantile

FARTHEST = 1e-12  # share of a range beyond which a score is cut off


class Prior:
    """Turns values of parameters into normal scores and back; under the prior each score is a standard normal number.

    The links from seed to patch are left out: they are drawn together until they are possible, and stay so drawn in
    every world. Parameters that do not differ between worlds have no score.

    Parameters
    ----------
    vine, treatments
        With the ranges.
    overlooked
        What the map lacked: its rates are parameters too.
    """

    def __init__(self, vine: Vine, treatments: Sequence[Treatment], overlooked: Overlooked) -> None:
        every = dict(vine.parameters)
        for treatment in treatments:
            every |= {f"{treatment.name}.{role}": parameter for role, parameter in treatment.parameters.items()}
        drawn = {name: one for name, one in every.items() if one.drawn and name not in (*LINKS, *SOLVED)}
        self._ranges = {name: one for name, one in drawn.items() if float(one.low or 0) < float(one.high or 0)}
        self._rates = dict(zip((PATCHES, HOSTS), overlooked.ranges, strict=True))
        self._overlooked = overlooked

    def scores(self, columns: Mapping[str, Any], rates: Sequence[Rates]) -> dict[str, Any]:
        """Give the scores of worlds.

        Parameters
        ----------
        columns
            Values by name of parameter, each (worlds,).
        rates
            What each world's map lacked.

        Returns
        -------
        dict
            By name, (worlds,); in the same order each time.
        """
        shares = {
            name: share_below(one, columns[name])
            for name, one in self._ranges.items()
            if name in columns and np.ptp(columns[name]) > 0.0
        }
        for (name, (low, high)), values in zip(self._rates.items(), np.array(rates).T, strict=True):
            if low < high and np.ptp(values) > 0.0:
                shares[name] = np.log(values / low) / math.log(high / low)
        return {name: _score(share) for name, share in shares.items()}

    def given(self, scores: Mapping[str, Any], numbers: Sequence[int]) -> tuple[dict[str, Any], list[Rates]]:
        """Give values for scores: parameters by name, (worlds,), and rates, which are as dealt where no score is."""
        from scipy.special import ndtr

        shares = {name: ndtr(column) for name, column in scores.items()}
        values = {
            name: np.array([quantile(self._ranges[name], share) for share in column.tolist()])
            for name, column in shares.items()
            if name in self._ranges
        }
        dealt = np.array([self._overlooked.rates(number) for number in numbers]).reshape(len(numbers), 2)
        for k, (name, (low, high)) in enumerate(self._rates.items()):
            if name in shares:
                dealt[:, k] = low * (high / low) ** shares[name]
        return values, [Rates(*row) for row in dealt.tolist()]


def share_below(parameter: Parameter, values: Any) -> Any:
    """Give the chance of less than some values under a parameter's range: the inverse of `quantile`."""
    low, mode, high = float(parameter.low or 0.0), parameter.number, float(parameter.high or 0.0)
    if parameter.scale != "linear":
        low = mode * mode / high if low <= 0.0 else low
        low, mode, high = math.log(low), math.log(mode), math.log(high)
        values = np.log(values)
    values = np.clip(values, low, high)
    left = (values - low) ** 2 / ((high - low) * max(mode - low, 1e-300))
    right = 1.0 - (high - values) ** 2 / ((high - low) * max(high - mode, 1e-300))
    return np.where(values < mode, left, right)


def _score(share: Any) -> Any:
    from scipy.special import ndtri

    return ndtri(np.clip(share, FARTHEST, 1.0 - FARTHEST))
