"""What several tests of the model use.

Statistical tests allow 4.9 standard errors: a false alarm of about 1e-6 for each, were the seeds not fixed.
"""

from collections.abc import Iterable
from typing import Any

import numpy as np
import xarray as xr

from spreadsim import simulate
from spreadsim.inputs import Strategy

from .strategies import Case

ERRORS = 4.9
ROUNDING = 1e-9  # of sums of hours and areas, relative
STATES = ("mat_area", "infested_area", "climbed_hosts", "fruiting_hosts", "fallen_hosts", "native_cover")
FLOWS = ("seeds_produced", "seeds_exported", "new_patches")
MAT_AND_HOSTS = (*STATES, *FLOWS)
WORK = ("hours", "follow_up_hours", "cost", "area_treated", "hosts_treated")


def run(
    case: Case, strategy: Strategy | None = None, *, replicates: Any = 3, maps: str = "replicate", **more: Any
) -> xr.Dataset:
    """Simulate a case under its own strategy, or another."""
    return simulate(
        case.site,
        case.vine,
        strategy or case.strategy,
        crews=case.crews,
        years=case.years,
        replicates=replicates,
        seed=case.seed,
        maps=maps,
        **more,
    )


def untreated(case: Case, **options: Any) -> xr.Dataset:
    """The same case under no action."""
    return run(case, Strategy("no action"), **options)


def assert_same(first: xr.Dataset, second: xr.Dataset, names: Iterable[str] = (*MAT_AND_HOSTS, "mat_cover")) -> None:
    """The same bits in every variable named, missing values included."""
    for name in names:
        a, b = first[name].values, second[name].values
        assert a.shape == b.shape, name
        different = (a != b) & ~(np.isnan(a) & np.isnan(b))
        assert not different.any(), f"{name} differs in {different.sum()} places, first at {np.argwhere(different)[0]}"


def assert_within(smaller: Any, larger: Any) -> None:
    """Not above, but for the rounding of sums."""
    smaller, larger = np.asarray(smaller), np.asarray(larger)
    too_much = smaller - larger - ROUNDING * np.maximum(1.0, np.abs(larger))
    assert (too_much <= 0).all(), (
        f"too much by {too_much.max()} at {np.unravel_index(too_much.argmax(), too_much.shape)}"
    )


def drawn(data: xr.Dataset, name: str) -> Any:
    """A parameter's values by replicate, for a start with the dimension `replicate`."""
    return data[name].values


def assert_no_bias(differences: Any, what: str) -> None:
    """The mean of paired differences is nil within `ERRORS` standard errors; they must vary."""
    differences = np.asarray(differences, "f8")
    error = differences.std(ddof=1) / np.sqrt(differences.size)
    assert error > 0, f"{what} never differs"
    assert abs(differences.mean()) <= ERRORS * error, f"{what}: {differences.mean() / error:.1f} standard errors"
