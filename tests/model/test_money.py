"""Money and the walk: dated funds, unpaid hours, minimum charges, and what scattered targets cost."""

from typing import Any

import numpy as np
import pytest

from spreadsim import simulate
from spreadsim.inputs import Crew, Fund, Task

from .helpers import assert_within
from .plain_cases import numbered_case
from .small import PER_CELL, by_season, go, meadow, steady

PULL = Task("pull")
HIRED = Crew("hired", 10.0, price=50.0)


def spent_by_year(data: Any) -> Any:
    """Money spent by replicate and year."""
    return by_season(data, "cost").sum(axis=2)


def left(data: Any) -> Any:
    """Money left by replicate, year and fund."""
    return data["fund_left"].values


def test_no_fund_is_overspent_and_what_is_spent_is_what_is_missing():
    funds = (
        Fund("grant", 2500.0, years=(1, 2)),
        Fund("gift", 700.0, crews=["hired"]),
        Fund("own", 4000.0, years=(3, None)),
    )
    crews = (
        HIRED,
        Crew("staff", 15.0, price=35.0),
        Crew("friends", 6.0, ["pull"], paid=False, price=20.0, leader="staff"),
    )
    tarp = Task("tarp", share=0.4)
    data = go(meadow(12, 12), PULL, tarp, crews=crews, funds=funds, years=6, replicates=30, fixed=False)
    money = left(data)
    assert (money >= 0).all() and (money[:, 0] == [2500.0, 700.0, 4000.0]).all()
    taken = -np.diff(money, axis=1)
    assert (taken >= 0).all()
    np.testing.assert_allclose(taken.sum(axis=2), spent_by_year(data), rtol=1e-9, atol=1e-6)
    assert_within(spent_by_year(data).sum(axis=1), 7200.0)
    # nothing of a fund outside its years, and most of what there is is needed
    assert not taken[:, 2:, 0].any() and not taken[:, :2, 2].any()
    assert (money[:, 2, 0] < 100.0).all()


def test_without_money_in_the_year_nothing_paid_is_done():
    data = go(
        meadow(),
        PULL,
        crews=(HIRED,),
        funds=[Fund("grant", 1e6, years=(2, 3))],
        years=4,
        treatments=[steady(mat_kill=0.0)],
    )
    worked = by_season(data, "hours").sum(axis=2) > 0
    assert (worked == [False, True, True, False]).all()


@pytest.mark.parametrize("first", [True, False])
def test_the_fund_that_ends_first_is_used_first(first: bool):
    funds = [Fund("short", 900.0, years=(1, 2)), Fund("long", 9000.0, years=(1, 5))]
    data = go(
        meadow(),
        PULL,
        crews=(HIRED,),
        funds=funds if first else funds[::-1],
        years=2,
        treatments=[steady(mat_kill=0.0)],
    )
    money = dict(zip(data["fund"].values, np.moveaxis(left(data), 2, 0), strict=True))
    spent = spent_by_year(data)[:, 0]
    assert (spent > 900.0).all()
    np.testing.assert_allclose(money["short"][:, 1], 0.0, atol=1e-9)
    np.testing.assert_allclose(money["long"][:, 1], 9900.0 - spent, rtol=1e-12)


def test_a_fund_pays_the_crews_that_it_names_alone():
    crews = (HIRED, Crew("staff", 10.1, price=20.0))
    data = go(
        meadow(), PULL, crews=crews, funds=[Fund("gift", 1e6, crews=["staff"])], treatments=[steady(mat_kill=0.0)]
    )
    np.testing.assert_allclose(by_season(data, "cost"), by_season(data, "hours") * 20.0, rtol=1e-12)
    np.testing.assert_allclose(by_season(data, "hours"), 25 * PER_CELL)  # those of staff hold 25 cells


def test_unpaid_hours_take_nothing_from_funds_and_are_held_as_a_match():
    friends = Crew("friends", 10.0, paid=False, price=30.0)
    data = go(meadow(), PULL, crews=(friends,), funds=[Fund("grant", 5.0)], treatments=[steady(mat_kill=0.0)])
    assert (by_season(data, "hours") > 9.0).all()
    assert not by_season(data, "cost").any() and (left(data) == 5.0).all()
    np.testing.assert_allclose(by_season(data, "match"), by_season(data, "hours") * 30.0, rtol=1e-12)
    paid = go(meadow(), PULL, crews=(HIRED,), treatments=[steady(mat_kill=0.0)])
    assert not by_season(paid, "match").any() and (by_season(paid, "cost") > 0).all()


def test_an_unpaid_crew_with_a_paid_leader_costs_the_leaders_hours():
    staff = Crew("staff", 10.0, ["scout"], price=45.0)
    friends = Crew("friends", 9.0, ["pull"], paid=False, price=30.0, leader="staff", people_per_leader=9.0)
    data = go(meadow(), PULL, crews=(friends, staff), treatments=[steady(mat_kill=0.0)])
    own = 22 * PER_CELL  # nine hours hold 22 cells
    np.testing.assert_allclose(by_season(data, "match"), own * 30.0, rtol=1e-12)
    np.testing.assert_allclose(by_season(data, "cost"), own / 9.0 * 45.0, rtol=1e-12)


def test_a_minimum_charge_is_made_up_in_each_season_of_work_only():
    hired = Crew("hired", (1.0, 0.0, 10.0, 10.0), price=50.0, minimum_charge=300.0)
    seasons = ["winter", "spring", "summer"]
    tasks = (Task("pull", seasons=seasons, share=0.5), Task("pull", seasons=["winter", "summer"]))
    for funds in ((), (Fund("grant", 1e6),)):
        data = go(meadow(), *tasks, crews=(hired,), treatments=[steady(mat_kill=0.0)], years=2, funds=funds)
        wages = by_season(data, "hours") * 50.0
        assert (wages[..., 0] > 0).all() and (wages[..., 0] < 300.0).all() and (wages[..., 2] > 300.0).all()
        expected = np.where(wages > 0, np.maximum(wages, 300.0), 0.0)
        np.testing.assert_allclose(by_season(data, "cost"), expected, rtol=1e-12)


def test_a_minimum_charge_is_paid_from_funds_and_a_crew_does_not_come_for_less():
    hired = Crew("hired", (1.0, 0.0, 0.0, 0.0), price=50.0, minimum_charge=300.0)
    data = go(meadow(), PULL, crews=(hired,), funds=[Fund("grant", 1000.0)], treatments=[steady(mat_kill=0.0)], years=5)
    # a season's hours are 40 of wages; after three seasons there are 100 left, more than these but not the minimum
    np.testing.assert_allclose(left(data)[:, :, 0], [[1000.0, 700.0, 400.0, 100.0, 100.0, 100.0]] * 3)
    np.testing.assert_allclose(spent_by_year(data), [[300.0, 300.0, 300.0, 0.0, 0.0]] * 3)
    assert (by_season(data, "hours").sum(axis=2) > 0).sum() == 9


@pytest.mark.parametrize("amount", [299.0, 300.0, 350.0, 500.0, 790.0])
def test_hours_that_the_minimum_charge_paid_already_cost_no_more(amount: float):
    hired = Crew("hired", (30.0, 0.0, 0.0, 0.0), price=50.0, minimum_charge=300.0)
    for task in (PULL, Task("scout")):
        options = {"crews": (hired,), "funds": [Fund("grant", amount)], "treatments": [steady(mat_kill=0.0)]}
        # ground enough for a search of 18 hours
        site = meadow(50, 50) if task is PULL else meadow(50, 50, cover=0.0, cell_size=10.0)
        data = go(site, task, **options)
        hours = by_season(data, "hours")[:, 0, 0]
        most = amount / 50.0 if amount >= 300.0 else 0.0
        if task is PULL:  # whole cells
            most = np.floor(most / PER_CELL + 1e-9) * PER_CELL
        np.testing.assert_allclose(hours, most, rtol=1e-12)
        np.testing.assert_allclose(spent_by_year(data)[:, 0], np.where(hours > 0, np.maximum(hours * 50.0, 300.0), 0.0))


def test_unpaid_crews_charge_no_minimum():
    friends = Crew("friends", 10.0, paid=False, price=30.0, minimum_charge=500.0)
    data = go(meadow(), PULL, crews=(friends,), funds=[Fund("grant", 5.0)], treatments=[steady(mat_kill=0.0)])
    assert (by_season(data, "hours") > 9.0).all()
    assert not by_season(data, "cost").any() and (left(data) == 5.0).all()


@pytest.mark.parametrize("share", [1.0, 0.3])
def test_money_spent_is_money_gone_whatever_crews_charge(share: float):
    """Minimum charges, leaders, material and the walk: the dataset's cost is what is missing from the funds."""
    crews = (
        Crew("friends", 8.0, ["pull", "scout"], paid=False, leader="staff", people_per_leader=4.0, minimum_charge=90.0),
        Crew("staff", 9.0, price=35.0, minimum_charge=120.0, turnout_spread=0.4, walking_minutes=4.0),
        Crew("hired", 6.0, ["tarp", "graze"], price=80.0, minimum_charge=400.0, lead_seasons=2, leader="staff"),
    )
    tasks = (Task("scout", share=0.2), Task("tarp", share=share), Task("graze", cap=9.0), Task("pull", share=share))
    funds = (Fund("grant", 3000.0, years=(1, 2)), Fund("gift", 800.0, crews=["hired"]), Fund("own", 4000.0))
    data = go(meadow(20, 20, cover=0.6), *tasks, crews=crews, funds=funds, years=5, replicates=40, fixed=False)
    taken = -np.diff(left(data), axis=1)
    assert (taken >= 0).all()
    np.testing.assert_allclose(taken.sum(axis=2), spent_by_year(data), rtol=1e-9, atol=1e-6)
    assert (left(data) >= 0).all()
    assert (taken.sum(axis=1) > 0).any(axis=0).all()  # each of the funds pays for something


def test_money_spent_is_money_gone_in_random_cases():
    charged = 0
    for case in filter(lambda case: case.funds, map(numbered_case, range(80))):
        data = simulate(
            case.site,
            case.vine,
            case.strategy,
            crews=case.crews,
            years=case.years,
            replicates=[case.replicate],
            seed=case.seed,
            fixed_parameters=case.fixed_parameters,
            maps="none",
            treatments=case.treatments,
            weather=case.weather,
            funds=case.funds,
            events=case.events,
        )
        spent = spent_by_year(data)
        np.testing.assert_allclose(-np.diff(left(data), axis=1).sum(axis=2), spent, rtol=1e-9, atol=1e-6)
        charged += bool(spent.any() and any(crew.minimum_charge and crew.paid for crew in case.crews))
    assert charged >= 5


def test_a_crew_that_comes_after_its_lead_time_costs_nothing_before():
    hired = Crew("hired", 5.0, price=50.0, minimum_charge=400.0, lead_seasons=6)
    data = go(meadow(), PULL, crews=(hired,), funds=[Fund("grant", 1e5)], years=3, treatments=[steady(mat_kill=0.0)])
    there = np.arange(12).reshape(3, 4) >= 6
    assert ((by_season(data, "hours") > 0) == there).all()
    np.testing.assert_allclose(by_season(data, "cost"), np.where(there, 400.0, 0.0)[None].repeat(3, axis=0))


def test_material_is_paid_from_funds_and_work_stops_where_there_is_none():
    tarp = steady("tarp", material_per_area=2.0, largest_patch=0.0)
    data = go(meadow(), Task("tarp"), funds=[Fund("grant", 100.0)], treatments=[tarp])
    # 8 a cell: twelve cells, and 4 are left
    assert (by_season(data, "area_treated").sum(axis=2) == 48.0).all()
    np.testing.assert_allclose(spent_by_year(data), 96.0)
    np.testing.assert_allclose(left(data)[:, 1, 0], 4.0)


@pytest.mark.parametrize("minutes", [0.0, 6.0, 15.0])
def test_scattered_targets_cost_a_walk_each_and_clumped_ones_one(minutes: float):
    clumped, scattered = np.zeros((50, 50)), np.zeros((50, 50))
    clumped[5:10, 5:10] = 1.0  # one block of 10 m
    scattered[::10, ::10] = 1.0  # one cell in each of 25 blocks
    task = Task("pull", seasons=["winter"])
    crews = (Crew("staff", 100.0, walking_minutes=minutes, pace=0.5),)
    for mat, walks in ((clumped, 1), (scattered, 25)):
        data = go(meadow(mat=mat), task, crews=crews, treatments=[steady()])
        assert (by_season(data, "area_treated")[:, 0, 0] == 100.0).all()
        # the walk is as slow as it is told: pace does not count
        expected = 25 * PER_CELL / 0.5 + walks * minutes / 60
        np.testing.assert_allclose(by_season(data, "hours")[:, 0, 0], expected, rtol=1e-12)
