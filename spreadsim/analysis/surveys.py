"""What a survey would see of what is there, with the luck of the search in it."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spreadsim.errors import InputError


def survey_finds(
    there: Mapping[str, Any], hours: float, share_an_hour: float, *, seed: int = 0
) -> dict[str, NDArray[np.float64]]:
    """Draw what a search of so many hours would find in each world.

    Parameters
    ----------
    there
        Name to (replicate,): whole numbers of things that are there and not yet known, such as
        fruiting hosts at year 0 less the known ones.
    hours
        Of searching, 0 or more.
    share_an_hour
        Share of the ground that an hour sweeps: speed times width over area. Things are found with
        chance 1 - exp(-hours x share), the formula of random search (Koopman 1956, Oper. Res. 4:503).
    seed
        The same seed gives the same luck for every number of hours: more hours never find less.

    Returns
    -------
    dict
        Name to numbers found, (replicate,), as `survey_value` wants them.

    Raises
    ------
    InputError
        Negative hours or share, or counts that are not whole numbers of 0 or more.
    """
    from scipy.stats import binom

    faults = [
        f"{name}: found {value}, allowed 0 or more"
        for name, value in (("hours", hours), ("share_an_hour", share_an_hour))
        if not (np.isfinite(value) and value >= 0)
    ]
    counts = {name: np.asarray(column, dtype=float) for name, column in there.items()}
    for name, column in counts.items():
        if column.ndim != 1 or not np.isfinite(column).all() or (column < 0).any() or (column % 1 != 0).any():
            faults.append(f"there.{name}: found other numbers, allowed a whole number of 0 or more for each world")
    if faults:
        raise InputError(*faults)
    chance = -np.expm1(-hours * share_an_hour)
    found = {}
    for at, (name, column) in enumerate(counts.items()):
        luck = np.random.Generator(np.random.PCG64([seed, at])).random(len(column))
        found[name] = np.maximum(binom.ppf(luck, column, chance), 0.0)
    return found
