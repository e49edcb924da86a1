"""Storms and gaps do what they do where they strike and for as long as told; mat comes in over the boundary."""

from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import Event, Task, load_vine

from .helpers import ERRORS
from .small import at_end, go, meadow, steady, still
from .strategies import NIL, with_values

RELEASE, FOR_YEARS = 2.5, 3.0
NO_FALLS = {"impact__tree_failure_base": NIL}


def moving(**values: float) -> Any:
    """A vine whose mat goes 2 m/yr in full light and thickens slowly."""
    given = {
        "mat__front_speed": 2.0,
        "mat__cover_doubling_time": 2.0,
        "disturbance__release_factor": RELEASE,
        "disturbance__release_years": FOR_YEARS,
    }
    return with_values(load_vine("wintercreeper"), **(given | values))


def circle(x: float, y: float, radius: float, rows: int, columns: int, side: float = 2.0) -> Any:
    """Cells with their centres in the circle."""
    north, east = np.indices((rows, columns))
    return np.hypot((east + 0.5) * side - x, (rows - north - 0.5) * side - y) <= radius


def test_a_planned_event_quickens_thickening_in_its_circle_for_its_years_and_nowhere_else():
    mat = np.zeros((20, 20))
    mat[:, 0] = 1.0
    storm = Event("storm", year=4, season="winter", x=13.0, y=21.0, radius=7.0)
    quiet, struck = (
        go(meadow(mat=mat), years=9, vine=moving(), processes=("events", "mat"), maps="replicate", events=events)[
            "mat_cover"
        ].values.astype("f8")
        for events in ([], [storm])
    )
    inside = circle(13.0, 21.0, 7.0, 20, 20)
    assert (struck[:, :, ~inside] == quiet[:, :, ~inside]).all()
    assert (struck[:, :4] == quiet[:, :4]).all()
    # the log odds of density gain the rate times the extra growth time: from the event, or from the front's entry
    cover = load_vine("wintercreeper")["mat.max_cover"].number
    entry = np.indices((20, 20))[1] - 1.0  # column k is reached by 2 m/yr after k - 1 years, whole after k
    for year in (6, 9):
        full = inside & (entry + 1.0 <= year)
        density = [values[0, year][full] / cover for values in (quiet, struck)]
        gained = np.diff([np.log(d / (1 - d)) for d in density], axis=0)[0]
        released = np.clip(min(year, 3.0 + FOR_YEARS) - np.maximum(3.0, entry[full]), 0.0, None)
        np.testing.assert_allclose(gained, np.log(2) / 2.0 * (RELEASE - 1) * released, atol=2e-3)
        assert (gained > 0.1).any()


def founded(release: float, years: int, event_year: int = 1) -> tuple[Any, Any]:
    """Patches of background seed within and outside a gap over half the site, by replicate."""
    vine = still(
        seed__seed_bank_life=0.0,
        seed__years_seed_to_patch=1.0,
        disturbance__release_factor=release,
        disturbance__release_years=2.0,
        birds__perch_bias_open=1.0,
        birds__perch_bias_forest=1.0,
    )
    site = meadow(20, 40, cover=0.0, background_seed=2e6)
    gap = Event("gap", year=event_year, season="winter", x=0.0, y=20.0, radius=40.0)
    data = go(
        site,
        years=years,
        vine=vine,
        events=[gap],
        replicates=200,
        maps="replicate",
        processes=("events", "birds", "seedlings"),
    )
    there = data["mat_cover"].values[:, -1] > 0
    inside = circle(0.0, 20.0, 40.0, 20, 40)
    return there[:, inside].sum(axis=1) / inside.sum(), there[:, ~inside].sum(axis=1) / (~inside).sum()


@pytest.mark.parametrize("years", [2, 3, 5])
def test_patches_are_founded_faster_where_it_struck_and_no_longer_than_release_lasts(years: int):
    # fruit of the autumn of year k roots at the end of year k + 1; of those crops that of year 1 alone falls on
    # disturbed ground: release ends with year 2, when its crop falls
    inside, outside = founded(3.0, years)
    assert outside.mean() > 0.002
    ratio = (3.0 + (years - 2)) / (years - 1)
    # a cell that has a patch takes no other, so that logarithms of empty shares add up
    difference = -np.log1p(-inside) - ratio * -np.log1p(-outside)
    assert abs(difference.mean()) <= ERRORS * difference.std(ddof=1) / np.sqrt(difference.size)


def test_a_gap_without_release_changes_nothing():
    inside, outside = founded(1.0, 3)
    difference = inside - outside
    assert abs(difference.mean()) <= ERRORS * difference.std(ddof=1) / np.sqrt(difference.size)


def wood(trees: int, kind: str = "tree", **layers: Any) -> Any:
    """A site of 40 m x 40 m with trees at random."""
    rng = np.random.default_rng(5)
    hosts = {"x": rng.uniform(0, 40, trees), "y": rng.uniform(0, 40, trees), "kind": [kind] * trees}
    return meadow(20, 20, cover=0.0, hosts=hosts, **layers)


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_trees_in_the_circle_fall_with_the_share_given(share: float):
    site = wood(800)
    cells = circle(20.0, 20.0, 12.0, 20, 20)
    inside = cells.ravel()[site.hosts.cell].sum()
    storm = Event("storm", year=2, x=20.0, y=20.0, radius=12.0, trees_fall=share)
    fallen = go(site, years=3, vine=still(**NO_FALLS), events=[storm], replicates=50)["fallen_hosts"].values
    assert 100 < inside < 400 and not fallen[:, :2].any()
    assert (fallen[:, 2] == fallen[:, 3]).all()
    if share in (0.0, 1.0):
        assert (fallen[:, 2] == share * inside).all()
    error = np.sqrt(share * (1 - share) / (inside * 50))
    assert abs(fallen[:, 2].mean() / inside - share) <= ERRORS * error
    fences = go(wood(50, "fence"), years=3, events=[storm], vine=still(**NO_FALLS))
    assert not fences["fallen_hosts"].values.any()


@pytest.mark.parametrize("per_year", [0.2, 1.0, 3.0])
def test_random_events_come_as_often_as_told(per_year: float):
    # each strikes all of the site and fells a tree with a small chance, once at most
    share, trees = 0.05, 400
    storm = Event("storm", per_year=per_year, radius=60.0, trees_fall=share)
    fallen = go(wood(trees), years=4, vine=still(**NO_FALLS), events=[storm], replicates=400)["fallen_hosts"].values
    for year in range(1, 5):
        # several in one season share their luck for each tree, so years without any tell the rate
        none = (fallen[:, year] == fallen[:, year - 1]).mean()
        chance = np.exp(-per_year)
        assert abs(none - chance) <= ERRORS * np.sqrt(chance * (1 - chance) / 400), year


def test_random_events_strike_evenly_over_the_site():
    storm = Event("storm", per_year=2.0, radius=3.0, trees_fall=1.0)
    site = wood(1000)
    fallen = at_end(go(site, years=1, vine=still(**NO_FALLS), events=[storm], replicates=1000), "fallen_hosts")
    # events n ~ Poisson(2), each with the trees within 3 m of a random point: those near the edge have less ground
    points = np.random.default_rng(9).uniform(0, 40, (20000, 2))
    near = np.array([circle(x, y, 3.0, 20, 20).ravel()[site.hosts.cell].sum() for x, y in points[:3000]])
    expected = 2.0 * near.mean()
    error = np.hypot(fallen.std() / np.sqrt(1000), 2.0 * near.std() / np.sqrt(3000))
    # overlap of two circles of one year takes 1 % or so off: 2 x 2 / 2 pairs, of which 4 pi 9 / 1600 meet by half
    assert -0.05 * expected - ERRORS * error <= fallen.mean() - expected <= ERRORS * error


@pytest.mark.parametrize("side", ["west", "east", "north", "south"])
def test_mat_across_the_boundary_comes_in_at_the_front_speed(side: str):
    site = meadow(20, 20, cover=0.0, boundary_mat={side: True})
    data = go(site, years=10, vine=moving(), processes=("mat",))
    expected = 40.0 * 2.0 * np.arange(11)
    np.testing.assert_allclose(data["infested_area"].values, np.broadcast_to(expected, (3, 11)), rtol=1e-9)
    np.testing.assert_allclose(data["known_area"].values, data["infested_area"].values, rtol=1e-9)


def test_mat_comes_in_where_it_stands_outside_only_and_nothing_without():
    rows = np.arange(20)
    site = meadow(20, 20, cover=0.0, boundary_mat={"west": [(0.0, 10.0)]})
    cover = go(site, years=1, vine=moving(), processes=("mat",), maps="replicate")["mat_cover"].values[:, 1]
    assert (cover[:, rows >= 15, 0] > 0).all() and not cover[:, rows < 14].any() and not cover[:, :, 3:].any()
    nothing = go(meadow(20, 20, cover=0.0), years=10, vine=moving())
    assert not nothing["infested_area"].values.any()
    walled = meadow(
        20, 20, mat=np.zeros((20, 20)), plantable=np.arange(20) * np.ones((20, 1)) > 0, boundary_mat={"west": True}
    )
    assert not go(walled, years=10, vine=moving())["infested_area"].values.any()


@pytest.mark.parametrize("year", [2, 4])
def test_it_comes_back_from_the_boundary_after_clearing(year: int):
    site = meadow(20, 20, cover=0.0, boundary_mat={"west": True})
    task = Task("pull", years=(year, year), seasons=["winter"])
    pull = steady(mat_kill=1.0)
    area = go(site, task, years=7, vine=moving(), treatments=[pull], processes=("mat", "work"))["infested_area"].values
    now = np.arange(8)
    expected = 80.0 * np.where(now < year, now, now - (year - 1))
    np.testing.assert_allclose(area, np.broadcast_to(expected, area.shape), rtol=1e-9)
