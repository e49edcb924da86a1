"""The engine and the plain simulator, which was written from the model's page alone, give the same numbers."""

from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from plain import run as run_plain

import spreadsim
from spreadsim.inputs import Weather

from .plain_cases import Case, cases, few, numbered_case

DEFAULT_EXAMPLES = 25
SLOW_EXAMPLES = 400
CLOSE = 1e-12

COUNTS = (
    "climbed_hosts",
    "fruiting_hosts",
    "fallen_hosts",
    "known_fruiting_hosts",
    "seeds_produced",
    "seeds_exported",
    "new_patches",
    "hosts_treated",
)
AMOUNTS = (
    "mat_area",
    "infested_area",
    "known_area",
    "native_cover",
    "hours",
    "follow_up_hours",
    "hours_available",
    "area_treated",
)


def engine(case: Case, **changes: Any) -> xr.Dataset:
    """Run a case with the engine."""
    return spreadsim.simulate(
        case.site,
        case.vine,
        changes.get("strategy", case.strategy),
        crews=case.crews,
        years=case.years,
        replicates=[case.replicate],
        seed=case.seed,
        fixed_parameters=case.fixed_parameters,
        maps="replicate",
        processes=changes.get("processes"),
        treatments=case.treatments,
        weather=Weather(case.fit_days),
    ).isel(replicate=0)


def plain(case: Case, **changes: Any) -> dict[str, Any]:
    """Run a case with the plain simulator."""
    return run_plain(
        case.site,
        case.vine,
        case.treatments_by_name(),
        case.strategy,
        case.crews,
        case.fit_days,
        case.years,
        case.seed,
        case.replicate,
        fixed_parameters=case.fixed_parameters,
        **changes,
    )


def differences(data: xr.Dataset, expected: dict[str, Any]) -> list[str]:
    """What differs between the engine's dataset and the plain simulator's arrays, in words."""
    found: list[tuple[int, str]] = []
    for name in (*COUNTS, *AMOUNTS, "mat_cover"):
        a, b = data[name].values, expected["cover"].astype("f4") if name == "mat_cover" else expected[name]
        allowed = CLOSE * np.maximum(1.0, np.abs(b)) if name in AMOUNTS else 0.0
        if a.shape != b.shape or not np.array_equal(np.isnan(a), np.isnan(b)):
            found.append((0, f"{name}: shapes {a.shape} and {b.shape}, or not the same values missing"))
        elif (wrong := np.abs(np.nan_to_num(a - b)) > allowed).any():
            place = tuple(int(n) for n in np.argwhere(wrong)[0])
            found.append((place[0], f"{name}{list(place)}: engine {a[place]!r}, plain {b[place]!r}"))
    for name, value in expected["parameters"].items():
        if name in data and abs(data[name].item() - value) > CLOSE * abs(value):
            found.append((0, f"{name}: engine {data[name].item()!r}, plain {value!r}"))
    return [text for _, text in sorted(found)]


def assert_equal(case: Case) -> None:
    """The engine gives what the plain simulator gives."""
    found = differences(engine(case), plain(case))
    assert not found, "\n".join(["", *found, repr(case)])


@pytest.mark.parametrize("number", range(DEFAULT_EXAMPLES))
def test_engine_equals_plain(number: int) -> None:
    assert_equal(numbered_case(number))


@pytest.mark.slow
@few(SLOW_EXAMPLES)
@given(cases())
def test_engine_equals_plain_in_many_cases(case: Case) -> None:
    assert_equal(case)
