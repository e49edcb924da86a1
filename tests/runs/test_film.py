"""The film: the same worlds as a comparison, season by season."""

import dataclasses
from functools import cache

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim.schema_film import COVER_UNIT, FATES, FILM_VARIABLES, HOST_LOOKS, MARKS

from .small import YEARS, assert_same_bits, experiment

REPLICATES = (1, 4, 7)
ENDS = np.arange(0, 4 * YEARS + 1, 4)
CLIMBED = [HOST_LOOKS.index("climbing"), HOST_LOOKS.index("fruiting")]


@cache
def stormy() -> spreadsim.Experiment:
    """With a storm, so that trees fall."""
    storm = spreadsim.Event("storm", year=3, season="summer", x=25.0, y=45.0, radius=25.0, trees_fall=0.5)
    return dataclasses.replace(experiment(), events=(storm,))


@cache
def filmed() -> xr.Dataset:
    return spreadsim.film(stormy(), replicates=REPLICATES)


@cache
def compared() -> xr.Dataset:
    return spreadsim.compare(stormy(), replicates=REPLICATES)


def at_ends(name: str) -> np.ndarray:
    return filmed()[name].isel(step=ENDS).values


def bit(name: str) -> int:
    return 1 << MARKS.index(name)


def test_year_ends_are_those_of_the_comparison() -> None:
    outcomes = compared()
    assert np.array_equal(at_ends("mat_area"), outcomes["mat_area"])
    states = at_ends("host_state")
    assert np.array_equal(np.isin(states, CLIMBED).sum(-1), outcomes["climbed_hosts"])
    assert np.array_equal((states == HOST_LOOKS.index("fallen")).sum(-1), outcomes["fallen_hosts"])
    assert np.array_equal((at_ends("host_marks") & bit("bore") > 0).sum(-1), outcomes["fruiting_hosts"])
    assert outcomes["fruiting_hosts"].max() >= 4 and outcomes["fallen_hosts"].max() > 0


def test_hours_of_the_seasons_are_those_of_the_comparison() -> None:
    for name in ("hours", "follow_up_hours"):
        film = filmed()[name].values[:, :, 1:].reshape(4, len(REPLICATES), YEARS, 4, -1)
        assert np.array_equal(film, compared()[name].values[:, :, 1:], equal_nan=True), name
    assert np.nansum(filmed()["follow_up_hours"]) > 0


def test_seeds_that_rooted_are_the_new_patches() -> None:
    film, outcomes = filmed(), compared()
    rooted = (film["landing_fate"] == FATES.index("rooted")) & (film["landing_step"] >= 0)
    by_bird = (rooted & (film["landing_by_bird"] == 1)).values
    years = (film["landing_fate_step"].values + 3) // 4
    for year in range(1, YEARS + 1):
        assert np.array_equal((by_bird & (years == year)).sum(-1), outcomes["new_patches"].sel(year=year))
    fates = film["landing_fate"].values[film["landing_step"].values >= 0]
    assert set(fates) == set(range(len(FATES)))


def test_cover_in_a_byte_is_the_mat() -> None:
    film = filmed()
    area = film["cover"].astype("f8").sum(["y", "x"]) * COVER_UNIT * 4.0
    mapped = (film["cover"] > 0).sum(["y", "x"]) * 4.0
    site = stormy().site
    assert float(film["cover"].units) == COVER_UNIT
    # a barrier column lies in the site, so area and cover differ by rounding only where ground is whole
    assert np.all(site.plantable[film["cover"].values.max((0, 1, 2)) > 0] == 1.0)
    assert np.all(np.abs(area - film["mat_area"]) <= COVER_UNIT * mapped)
    ends = film["cover"].isel(step=ENDS)
    assert np.allclose((ends > 0).mean("replicate"), compared()["occupancy"], atol=1e-6)


def test_marks_say_where_work_was_done_and_what_was_found() -> None:
    film = filmed()
    for marks in ("ground_marks", "host_marks"):
        worked = film[marks] & bit("worked") > 0
        assert not worked.sel(strategy="no action").any() and worked.any()
        assert not worked.isel(step=0).any()
        found = film[marks] & bit("found") > 0
        assert found.sel(strategy="stems first").any() and not found.sel(strategy="no action").any()
    hours = film["hours"].sum("task").isel(step=slice(1, None)).values
    busy = (film["ground_marks"] & bit("worked") > 0).any(["y", "x"]) | (film["host_marks"] & bit("worked") > 0).any(
        "host"
    )
    assert np.all(hours[busy.isel(step=slice(1, None)).values] > 0)


def test_seeds_come_from_hosts_that_bear_or_from_outside() -> None:
    film = filmed()
    for s in range(film.sizes["strategy"]):
        one = film.isel(strategy=s, replicate=0)
        steps, hosts = one["landing_step"].values, one["landing_from"].values
        bore = one["host_marks"].values & bit("bore") > 0
        assert all(bore[step, host] for step, host in zip(steps, hosts, strict=True) if step >= 0 and host >= 0)
    assert (film["landing_from"].values[film["landing_step"].values >= 0] == -1).any()


def test_one_strategy_and_any_number_of_threads_give_the_same_bits() -> None:
    one = spreadsim.film(stormy(), replicates=[4], strategies=["mats only"], workers=1)
    whole = filmed().sel(strategy=["mats only"], replicate=[4])
    names = [name for name, about in FILM_VARIABLES.items() if not {"landing", "task"} & set(about.dims)]
    assert_same_bits(one, whole, names)
    n = int((one["landing_step"] >= 0).sum())
    assert n == int((whole["landing_step"] >= 0).sum())
    assert_same_bits(one.isel(landing=slice(n)), whole.isel(landing=slice(n)), ["landing_cell", "landing_fate"])


def test_another_seed_gives_other_worlds() -> None:
    other = spreadsim.film(stormy(), replicates=[4], strategies=["no action"], seed=6)
    assert not np.array_equal(other["cover"], filmed().sel(strategy=["no action"], replicate=[4])["cover"])


@pytest.mark.parametrize(
    ("given", "found"),
    [
        ({"strategies": ["cutting"]}, "strategies: found 'cutting', allowed no action, stems first"),
        ({"strategies": "no action"}, "strategies: found 'no action', allowed a list"),
        ({"strategies": []}, r"strategies: found \[\], allowed a list"),
        ({"replicates": [1, 1]}, "replicates: found"),
        ({"workers": 0}, "workers: found 0"),
    ],
)
def test_what_cannot_be_filmed_is_said(given: dict, found: str) -> None:
    with pytest.raises(spreadsim.InputError, match=found):
        spreadsim.film(experiment(), **given)
