"""Units against factors worked out elsewhere from the exact definitions."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.errors import InputError
from spreadsim.inputs.units import (
    ACRE,
    HECTARE,
    POUND,
    UNITS,
    US_GALLON,
    convert,
    convertible,
    display,
    from_si,
    to_si,
)


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "truth"),
    [
        (1, "acre", "m2", 4046.8564224),
        (1, "ha", "acre", 2.471053814672),
        (1 / 128, "acre", "ft2", 340.3125),
        (1 / 128, "acre", "m2", 31.616065800),
        (18.5 * 18.5, "ft2", "m2", 342.25 * 0.09290304),
        (924, "ft", "m", 281.6352),
        (1, "mile", "m", 1609.344),
        (1, "yd", "ft", 3),
        (1, "ft/yr", "m/yr", 0.3048),
        (20, "h/100 m2", "h/m2", 0.2),
        (1, "h/acre", "h/ha", 2.471053814672),
        (530, "h/acre", "h/100 m2", 530 * 0.02471053814672),
        (10, "1/acre", "1/ha", 24.71053814672),
        (600, "currency/acre", "currency/ha", 600 * 2.471053814672),
        (15, "min/ha", "min/acre", 15 / 2.471053814672),
    ],
)
def test_conversions(value: float, unit: str, wanted: str, truth: float) -> None:
    assert convert(value, unit, wanted) == pytest.approx(truth, rel=1e-9)


def test_derived_factors() -> None:
    assert pytest.approx(1.120851156194, rel=1e-12) == POUND / ACRE * HECTARE
    assert pytest.approx(9.353956228956, rel=1e-12) == US_GALLON / ACRE * HECTARE
    assert pytest.approx(119.826427317, rel=1e-11) == POUND * 1000 / US_GALLON


@settings(deadline=None)
@given(st.floats(-1e12, 1e12), st.sampled_from(sorted(UNITS)))
def test_there_and_back(value: float, unit: str) -> None:
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-14)
    assert to_si(0.0, unit) == 0.0


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_only_one_dimension_converts(one: str, other: str) -> None:
    same = UNITS[one].dimension == UNITS[other].dimension
    assert convertible(one, other) == same
    if not same:
        with pytest.raises(InputError):
            convert(1.0, one, other)


def test_display() -> None:
    assert display(2000.0, "large area") == (0.2, "ha")
    assert display(ACRE, "large area", "us") == (1.0, "acre")
    assert display(0.3048, "length", "us") == (1.0, "ft")
    for arguments in ((1.0, "mass"), (1.0, "area", "imperial")):
        with pytest.raises(InputError, match="allowed one of"):
            display(*arguments)  # type: ignore[arg-type]


def test_unknown_units_are_refused() -> None:
    with pytest.raises(InputError, match='found "furlong"'):
        to_si(1.0, "furlong")
    assert not convertible("furlong", "m")
