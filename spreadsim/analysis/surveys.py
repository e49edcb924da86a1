"""What a survey would see of what is there, with its luck: things found, and facts read."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spreadsim.errors import InputError


@dataclass(frozen=True)
class Looking:
    """What measuring before the first work season would see and take.

    Attributes
    ----------
    hours : tuple of float
        Numbers of hours to try.
    readings_an_hour : float
        How often a fact is read in an hour: a plot counted, a flag at the edge measured again; assumed.
    error : float
        Standard error of one reading, as many times the spread of what is not known of the fact; assumed.
    hour_worth : float or None
        What an hour takes from the score; None: what an hour of the chosen work saves on average.

    Raises
    ------
    InputError
        Numbers that are not above 0 (the worth: below 0).
    """

    hours: tuple[float, ...] = (5.0, 10.0, 20.0, 40.0, 80.0)
    readings_an_hour: float = 1.0
    error: float = 1.0
    hour_worth: float | None = None

    def __post_init__(self) -> None:
        """Check everything."""
        above = {"readings_an_hour": self.readings_an_hour, "error": self.error}
        above |= {f"hours[{at}]": hours for at, hours in enumerate(self.hours)}
        faults = [
            f"{name}: found {value}, allowed above 0"
            for name, value in above.items()
            if not (np.isfinite(value) and value > 0)
        ]
        if not self.hours:
            faults.append("hours: found none, allowed one or more")
        if self.hour_worth is not None and not (np.isfinite(self.hour_worth) and self.hour_worth >= 0):
            faults.append(f"hour_worth: found {self.hour_worth}, allowed 0 or more")
        if faults:
            raise InputError(*faults)


def readings(
    facts: Mapping[str, Any], count: float, error: float = 1.0, *, seed: int = 0
) -> dict[str, NDArray[np.float64]]:
    """Draw the mean of so many readings of each fact in each world.

    Parameters
    ----------
    facts
        Name to (replicate,): what is there. It is read on the scale on which its draws are normal (by rank: van der
        Waerden's scores), so that linear and log ranges are alike.
    count
        Readings of each fact, above 0; a part of one is a rougher one.
    error
        Standard error of one reading, as many times the spread of the fact.
    seed
        The same seed gives the same luck for every count.

    Returns
    -------
    dict
        Name to (replicate,), as `value_of_statistics` wants them.

    Raises
    ------
    InputError
        Count or error not above 0.
    """
    from scipy.stats import norm, rankdata

    given = {"count": count, "error": error}
    if faults := [name for name, value in given.items() if not (np.isfinite(value) and value > 0)]:
        raise InputError(*(f"{name}: found {given[name]}, allowed above 0" for name in faults))
    seen = {}
    for at, (name, column) in enumerate(facts.items()):
        ranks = rankdata(np.asarray(column, dtype=float))
        scores = norm.ppf((ranks - 0.5) / len(ranks))
        luck = np.random.Generator(np.random.PCG64([seed, at, 1])).standard_normal(len(ranks))
        seen[name] = scores + luck * error / np.sqrt(count)
    return seen


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
