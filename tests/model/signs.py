"""Which way an outcome goes when one parameter goes up, in paired worlds."""

from collections.abc import Callable
from typing import Any

import numpy as np
import xarray as xr

from .helpers import ERRORS, assert_same

REPLICATES = 60
Scene = Callable[..., xr.Dataset]
Measure = str | Callable[[xr.Dataset], Any]


def measured(data: xr.Dataset, outcome: Measure) -> Any:
    """One number by replicate: an outcome's mean over years from the first on, summed over seasons and tasks."""
    if callable(outcome):
        return np.asarray(outcome(data), "f8")
    values = data[outcome]
    for dim in ("season", "task"):
        if dim in values.dims:
            values = values.sum(dim)
    return values.values[:, 1:].astype("f8").mean(axis=1)


def assert_responds(low: xr.Dataset, high: xr.Dataset, outcome: Measure | None, sign: str) -> None:
    """Paired differences lie on the side expected by 4.9 standard errors; "none": the same bits in everything.

    A false alarm of about 1e-6, were the seeds not fixed.
    """
    if sign == "none":
        assert_same(low, high, [name for name in low.data_vars if "." not in str(name) and "year" in low[name].dims])
        return
    assert outcome is not None
    difference = measured(high, outcome) - measured(low, outcome)
    if sign == "-":
        difference = -difference
    error = difference.std(ddof=1) / np.sqrt(difference.size)
    assert difference.mean() > 0 and difference.mean() >= ERRORS * error, f"{difference.mean():g} +- {error:g}"
