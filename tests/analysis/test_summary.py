"""The summary by measure."""

import numpy as np
import pytest

from spreadsim import schema
from spreadsim.analysis import contrast
from spreadsim.analysis.outcomes import by_year
from spreadsim.analysis.summary import summarise
from spreadsim.errors import InputError
from tests.analysis.synthetic import NAMES, outcomes


@pytest.fixture(scope="module")
def dataset():
    return outcomes(noise=0.3)


@pytest.fixture(scope="module")
def summary(dataset):
    return summarise(dataset)


def test_states_are_those_of_the_last_year(dataset, summary):
    last = dataset["infested_area"].sel(year=30)
    row = summary.sel(measure="infested_area")
    assert row["mean"].values == pytest.approx(last.mean("replicate").values)
    assert row["world_low"].values == pytest.approx(last.quantile(0.05, "replicate").values)
    assert row["median"].values == pytest.approx(last.median("replicate").values)
    assert (row["mean_low"] < row["mean"]).all() and (row["mean"] < row["mean_high"]).all()
    assert str(row["unit"].values) == "m2"
    # ranks of 60 values that enclose the median at 90 %: binom.cdf(23, 60, .5) = .0462, cdf(24) = .0775
    ordered = np.sort(last.sel(strategy="mats first").values)
    median = row.sel(strategy="mats first")
    assert (float(median["median_low"]), float(median["median_high"])) == (ordered[23], ordered[36])


def test_seed_is_added_up_and_hours_are_averaged_over_the_years(dataset, summary):
    total = dataset["seeds_exported"].sel(year=slice(1, 30)).sum("year").mean("replicate")
    assert summary["mean"].sel(measure="seeds_exported").values == pytest.approx(total.values)
    assert list(summary["mean"].sel(measure="hours").values) == [0, 300, 300, 300]
    assert list(summary["mean"].sel(measure="cost").values) == [0, 6000, 6000, 6000]
    units = dict(zip(summary["measure"].values, summary["unit"].values, strict=True))
    assert units["seeds_exported"] == "1" and units["hours"] == "h year-1" and units["cost"] == "year-1"


def test_an_earlier_year_ends_the_count_there(dataset):
    ten = summarise(dataset, year=10)
    total = dataset["seeds_exported"].sel(year=slice(1, 10)).sum("year").mean("replicate")
    assert ten["mean"].sel(measure="seeds_exported").values == pytest.approx(total.values)
    assert ten.attrs["year"] == 10
    start = summarise(dataset, year=0)
    assert list(start["measure"].values) == [
        "infested_area",
        "fruiting_hosts",
        "climbed_hosts",
        "native_cover",
    ]


def test_pairs_agree_with_contrast(dataset, summary):
    for measure, better in (("infested_area", "lower"), ("native_cover", "higher")):
        pair = summary.sel(measure=measure, strategy="mats first", other="stems first")
        alone = contrast(dataset, measure, "mats first", "stems first")
        assert float(pair["difference"]) == pytest.approx(float(alone["mean"]))
        assert float(pair["difference_low"]) == pytest.approx(float(alone["low"]), rel=1e-9)
        assert float(pair["difference_high"]) == pytest.approx(float(alone["high"]), rel=1e-9)
        assert float(pair["better"]) == float(alone[better])
        assert float(pair["better_low"]) < float(pair["better"]) <= float(pair["better_high"])


def test_a_strategy_against_itself_differs_in_nothing(summary):
    for name in NAMES:
        own = summary.sel(strategy=name, other=name)
        assert (own["difference"] == 0).all() and (own["difference_low"] == 0).all()
        assert (own["equal"] == 1).all() and (own["better"] == 0).all()


def test_worlds_without_a_value_are_left_out():
    values = np.arange(12.0).reshape(2, 3, 2)
    values[1, 2] = np.nan
    coords = {"strategy": ["a", "b"], "replicate": range(3), "year": [0, 1]}
    summary = summarise(schema.build_dataset({"infested_area": values}, coords))
    assert summary.attrs["worlds"] == 2
    assert float(summary["mean"].sel(measure="infested_area", strategy="a")) == 2.0


def test_work_is_missing_only_where_nothing_is_known():
    dataset = outcomes(("no action",), replicates=2, years=2)
    hours = by_year(dataset, "hours").sel(strategy="no action")
    assert hours.sel(year=0).isnull().all()
    assert (hours.sel(year=[1, 2]) == 0).all()


@pytest.mark.parametrize("arguments", [{"year": 99}, {"confidence": 0}, {"confidence": 1}, {"confidence": "a"}])
def test_bad_arguments_are_refused(dataset, arguments):
    with pytest.raises(InputError, match="allowed"):
        summarise(dataset, **arguments)
