"""Paired differences with known answers."""

import math

import numpy as np
import pytest

from spreadsim import schema, store
from spreadsim.analysis import contrast
from spreadsim.errors import InputError
from tests.analysis.synthetic import outcomes


def pair(first, second, **attrs):
    """Make a dataset of infested area at years 0 and 1 from two lists of worlds."""
    values = np.zeros((2, len(first), 2))
    values[0, :, 1], values[1, :, 1] = first, second
    coords = {"strategy": ["a", "b"], "replicate": np.arange(len(first)), "year": [0, 1]}
    return schema.build_dataset({"infested_area": values}, coords, attrs)


def test_mean_shares_and_range_of_the_worlds():
    result = contrast(pair([1, 2, 3, 4, 10], [2, 2, 1, 1, 1]), "infested_area", "a", "b", confidence=0.5)
    assert float(result["mean"]) == pytest.approx((-1 + 0 + 2 + 3 + 9) / 5)
    assert float(result["lower"]) == pytest.approx(0.2)
    assert float(result["equal"]) == pytest.approx(0.2)
    assert float(result["higher"]) == pytest.approx(0.6)
    assert float(result["world_low"]) == 0 and float(result["world_high"]) == 3  # quartiles of five
    assert float(result["low"]) < float(result["mean"]) < float(result["high"])
    for name in ("mean", "low", "high", "world_low", "world_high"):
        assert result[name].attrs["units"] == "m2" and result[name].attrs["long_name"]
    assert result["lower"].attrs["units"] == "1"


def test_it_is_the_paired_difference_that_is_judged():
    """Standard deviations 3 and 4, correlation .8: variance of the difference 5.8, not 25.

    Values of the catalogue of outside checks, section 10.
    """
    count = 4000
    normal = np.random.default_rng(2).standard_normal((2, count))
    first = 3 * normal[0]
    second = 4 * (0.8 * normal[0] + 0.6 * normal[1])
    result = contrast(pair(first, second), "infested_area", "a", "b")
    half = (float(result["high"]) - float(result["low"])) / 2
    variance = (half * math.sqrt(count) / 1.6448536) ** 2
    # standard error of a variance: 5.8 sqrt(2 / 4000) = .13; of the bootstrap's ends: 2.6 % = .15
    assert variance == pytest.approx(5.8, abs=4.9 * 0.2)


def test_the_other_way_round_is_the_negative():
    dataset = outcomes(noise=0.4)
    one = contrast(dataset, "infested_area", "mats first", "stems first", year=12)
    two = contrast(dataset, "infested_area", "stems first", "mats first", year=12)
    for name, other in (("mean", "mean"), ("low", "high"), ("world_low", "world_high")):
        assert float(one[name]) == pytest.approx(-float(two[other]), rel=1e-12)
    assert float(one["lower"]) == float(two["higher"])


def test_it_repeats_and_does_not_depend_on_who_else_is_compared(tmp_path):
    dataset = outcomes(noise=0.4)
    names = ("infested_area", "mats first", "stems first")
    one = contrast(dataset, *names)
    assert one.identical(contrast(dataset, *names))
    fewer = dataset.sel(strategy=["stems first", "mats first"])
    assert one.identical(contrast(fewer, *names))
    opened = store.open_outcomes(store.write(dataset, tmp_path / "outcomes.nc"))
    assert one.identical(contrast(opened, *names))


def test_equal_worlds_leave_an_interval_without_width():
    result = contrast(pair([2.5, 3.5, 9], [2.5, 3.5, 9]), "infested_area", "a", "b")
    assert [float(result[name]) for name in ("mean", "low", "high", "world_low", "world_high")] == [0] * 5
    assert float(result["equal"]) == 1
    shifted = contrast(pair([3, 4, 9], [2, 3, 8]), "infested_area", "a", "b")
    assert float(shifted["low"]) == float(shifted["high"]) == float(shifted["mean"]) == 1


def test_one_world_has_a_difference_and_no_interval():
    result = contrast(pair([3], [1]), "infested_area", "a", "b")
    assert float(result["mean"]) == 2 and float(result["higher"]) == 1
    assert math.isnan(float(result["low"])) and math.isnan(float(result["high"]))


def test_years_are_named_or_counted_from_the_last():
    dataset = outcomes()
    args = (dataset, "infested_area", "no action", "mats first")
    assert contrast(*args).identical(contrast(*args, year=30))
    assert contrast(*args, year=-31)["mean"] == 0
    assert contrast(*args, year=-2).attrs["year"] == 29


def test_work_is_summed_over_seasons_and_tasks_and_no_task_is_no_hour():
    result = contrast(outcomes(), "hours", "mats first", "no action")
    assert float(result["mean"]) == 300  # (50 + 25) x 4 seasons
    assert result["mean"].attrs["units"] == "h"


def test_everything_wrong_is_told_at_once_with_what_is_allowed():
    with pytest.raises(InputError) as caught:
        contrast(outcomes(), "area", "nothing", "mats", year=31, confidence=90)
    told = str(caught.value)
    assert len(caught.value.problems) == 5
    for part in (
        'outcome: found "area", allowed one of "mat_area", "infested_area"',
        'first: found "nothing", allowed one of "no action", "stems first"',
        'second: found "mats", allowed one of',
        "year: found 31, allowed 0 to 30",
        "confidence: found 90, allowed a number above 0 and below 1",
    ):
        assert part in told


@pytest.mark.parametrize("year", [-32, 1.5, True, None, "last"])
def test_years_that_are_none(year):
    with pytest.raises(InputError, match="year: found"):
        contrast(outcomes(), "infested_area", "no action", "mats first", year=year)


def test_maps_and_parameters_are_no_outcomes():
    for name in ("occupancy", "mat.front_speed"):
        with pytest.raises(InputError, match=f'outcome: found "{name}"'):
            contrast(outcomes(replicates=2, years=2, shape=(2, 2)), name, "no action", "mats first")


def test_flows_are_missing_at_the_start():
    with pytest.raises(InputError, match="year: found 0, for which seeds_exported is missing"):
        contrast(outcomes(), "seeds_exported", "no action", "mats first", year=0)


def test_outcomes_without_strategies_are_refused():
    with pytest.raises(InputError, match="no dimension strategy"):
        contrast(outcomes().isel(strategy=0, drop=True), "mat_area", "a", "b")
