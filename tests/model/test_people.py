"""Hours as people spend them: sessions, leaders, turnout, lead times, and why hours were left."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given

from spreadsim.inputs import Crew, Fund, Task, Weather

from .helpers import ERRORS, run
from .small import ALL_DAY, PER_CELL, by_season, go, meadow, steady, still
from .strategies import SEASONS, Case, cases, few

PULL = Task("pull", years=(1, 1), seasons=["winter"])
NO_TASK, NO_SEASON, NO_FIT_DAY, HELD_BACK, TOO_FEW, NO_TARGET = range(6)


def rate(crew: Crew) -> Any:
    """Ground worked per hour spent, m2/h, in the first winter; there is more than can be worked."""
    data = go(meadow(), PULL, crews=(crew,), treatments=[steady()])
    hours, area = by_season(data, "hours")[:, 0, 0], by_season(data, "area_treated")[:, 0, 0]
    assert (hours > 0).all() and (hours <= crew.hours[0]).all()
    return area / hours


@pytest.mark.parametrize(("session", "setup"), [(4.0, 1.0), (3.0, 0.5), (8.0, 6.0)])
def test_setting_up_takes_its_share_of_each_session(session: float, setup: float):
    plain = rate(Crew("staff", 20.0))
    with_sessions = rate(Crew("staff", 20.0, session_hours=session, setup_hours=setup))
    np.testing.assert_allclose(with_sessions / plain, 1.0 - setup / session, rtol=1e-12)
    # a session without setting up costs nothing
    np.testing.assert_allclose(rate(Crew("staff", 20.0, session_hours=session)), plain, rtol=1e-12)


@pytest.mark.parametrize(("led_by", "leading_hours", "cells"), [(5.0, 3.01, 37), (9.0, 0.5, 11), (9.0, 0.0, 0)])
def test_a_led_crew_spends_its_leaders_hours_and_stops_without_them(led_by: float, leading_hours: float, cells: int):
    staff = Crew("staff", (leading_hours, 0, 0, 0), ["scout"])
    friends = Crew("friends", (30.0, 0, 0, 0), ["pull"], leader="staff", people_per_leader=led_by)
    data = go(meadow(), PULL, crews=(friends, staff), treatments=[steady()])
    assert cells == int(leading_hours * led_by / PER_CELL)
    np.testing.assert_array_equal(by_season(data, "area_treated")[:, 0, 0], cells * 4.0)
    np.testing.assert_allclose(by_season(data, "hours")[:, 0, 0], cells * PER_CELL * (1 + 1 / led_by), rtol=1e-12)
    left = by_season(data, "hours_unspent")[:, 0, 0]
    np.testing.assert_allclose(left[:, HELD_BACK], 30.0 - cells * PER_CELL, rtol=1e-12)


def test_a_leader_leads_no_more_than_is_left_of_other_work():
    # staff come first in the list and spend all on their own work
    staff = Crew("staff", (20 * PER_CELL + 0.01, 0, 0, 0), ["pull"])
    friends = Crew("friends", (30.0, 0, 0, 0), ["pull"], leader="staff")
    data = go(meadow(), PULL, crews=(staff, friends), treatments=[steady()])
    np.testing.assert_array_equal(by_season(data, "area_treated")[:, 0, 0], 20 * 4.0)


def test_turnout_has_its_mean_and_spread_and_no_memory():
    crews = (Crew("a", 10.0, turnout=0.7, turnout_spread=0.3), Crew("b", 10.0, turnout=0.7, turnout_spread=0.3))
    alone = [by_season(go(meadow(4, 4), PULL, crews=(c,), years=10, replicates=300), "hours_available") for c in crews]
    for hours in alone:
        n = hours.size
        # of a uniform spread: mean and standard deviation within 4.9 standard errors
        assert abs(hours.mean() - 7.0) <= ERRORS * 3.0 / np.sqrt(n)
        assert abs(hours.std() - 3.0) <= ERRORS * 3.0 * np.sqrt(0.8 / n) / 2
        assert hours.min() >= 0.0 and hours.max() <= 10.0 * (0.7 + np.sqrt(3) * 0.3)
        flat = hours.reshape(len(hours), -1)
        assert abs(np.corrcoef(flat[:, :-1].ravel(), flat[:, 1:].ravel())[0, 1]) <= ERRORS / np.sqrt(n)
    assert abs(np.corrcoef(alone[0].ravel(), alone[1].ravel())[0, 1]) <= ERRORS / np.sqrt(alone[0].size)


def test_nobody_comes_less_than_not_at_all():
    crew = Crew("friends", 10.0, turnout=0.3, turnout_spread=0.6)
    hours = by_season(go(meadow(4, 4), PULL, crews=(crew,), years=5, replicates=200), "hours_available")
    # below 0 with chance (sqrt(3) 0.6 - 0.3) / (2 sqrt(3) 0.6)
    chance = (np.sqrt(3) * 0.6 - 0.3) / (2 * np.sqrt(3) * 0.6)
    assert (hours >= 0).all()
    assert abs((hours == 0).mean() - chance) <= ERRORS * np.sqrt(chance * (1 - chance) / hours.size)


@pytest.mark.parametrize("lead", [0, 1, 4, 6])
def test_a_crew_comes_after_its_lead_time_and_in_its_years(lead: int):
    crew = Crew("hired", 5.0, lead_seasons=lead, years=(2, 3))
    data = go(meadow(), Task("pull"), crews=(crew,), years=4, treatments=[steady(mat_kill=0.0)])
    season = np.arange(16).reshape(4, 4)
    there = (season >= max(lead, 4)) & (season < 12)
    for name in ("hours_available", "hours"):
        assert ((by_season(data, name) > 0) == there).all(), name


@pytest.mark.parametrize("permit", [0, 3, 5])
def test_a_task_waits_for_its_permit(permit: int):
    data = go(meadow(), Task("pull", permit_seasons=permit), crews=(Crew("staff", 5.0),), years=3)
    worked = by_season(data, "hours") > 0
    assert (worked.reshape(3, -1) == (np.arange(12) >= permit)).all()


def assert_all_hours_accounted(data: Any) -> None:
    """Spent and left hours are those that there were, in every season."""
    spent = np.nan_to_num(by_season(data, "hours")) + by_season(data, "hours_unspent").sum(axis=-1)
    np.testing.assert_allclose(spent, by_season(data, "hours_available"), rtol=1e-9, atol=1e-9)
    assert (by_season(data, "hours_unspent") >= 0).all()


@few(40)
@given(cases())
def test_hours_spent_and_left_are_those_that_there_were(case: Case):
    assert_all_hours_accounted(run(case, maps="none"))


@pytest.mark.parametrize("reserve", [True, False])
def test_hours_are_accounted_for_with_all_rules_on(reserve: bool):
    staff = Crew("staff", 9.0, price=30.0, walking_minutes=6.0, turnout_spread=0.4)
    friends = Crew(
        "friends", 40.0, volunteers=True, paid=False, leader="staff", session_hours=3.0, setup_hours=0.5, pace=0.6
    )
    hired = Crew("hired", 12.0, ["spot-spray"], price=80.0, minimum_charge=500.0, lead_seasons=3, people=2)
    planters = Crew("planters", 8.0, ["plant"])
    tasks = (
        Task("pull", share=0.6, seasons=["winter", "summer"]),
        Task("spot-spray", cap=5.0),
        Task("scout", share=0.2),
    )
    funds = (Fund("grant", 3000.0, years=(1, 2)), Fund("own", 1500.0))
    site = meadow(20, 20, wetness=np.full((20, 20), 0.5))
    data = go(
        site,
        *tasks,
        crews=(staff, friends, hired, planters),
        funds=funds,
        years=4,
        replicates=20,
        fixed=False,
        reserve=reserve,
    )
    assert_all_hours_accounted(data)
    assert (by_season(data, "hours_unspent").sum(axis=(0, 1, 2)) > 0).sum() >= 3


CASES: dict[str, tuple[int, Task, dict[str, Any], dict[str, Any]]] = {
    "no fit day": (NO_FIT_DAY, Task("spot-spray"), {}, {"weather": Weather((0.0, 0.0, 0.0, 0.0))}),
    "no target": (NO_TARGET, Task("pull", units=["unit 2"]), {}, {}),
    "no task for it": (NO_TASK, Task("pull", crews=["staff"]), {"may": ["cut"]}, {}),
    "another season": (NO_SEASON, Task("pull", seasons=["summer"]), {}, {}),
    "a cap": (HELD_BACK, Task("pull", cap=1.0), {}, {}),
    "a share": (HELD_BACK, Task("pull", share=0.05), {}, {}),
    "new ground": (HELD_BACK, Task("pull", new_ground=8.0), {}, {}),
    "money": (HELD_BACK, Task("pull"), {"price": 10.0}, {"funds": [Fund("grant", 15.0)]}),
    "too few": (TOO_FEW, Task("pull"), {"hours": (0.3, 0, 0, 0)}, {}),
}


@pytest.mark.parametrize("why", CASES)
def test_hours_are_left_for_the_reason_that_there_is(why: str):
    reason, task, crew, options = CASES[why]
    units = np.where(np.arange(10) < 8, 1, 2) * np.ones((10, 1), int)
    site = meadow(mat=np.where(units == 1, 1.0, 0.0), units=units)
    crew = {"name": "others", "hours": (9.0, 0, 0, 0)} | crew
    staff = Crew("staff", (0, 0, 0, 0))
    options = {"weather": Weather((ALL_DAY,) * 4)} | options
    data = go(
        site, task, crews=(staff, Crew(**crew)), vine=still(), treatments=[steady(), steady("spot-spray")], **options
    )
    left = by_season(data, "hours_unspent")[:, 0, SEASONS.index("winter")]
    assert (left[:, reason] > 0).all(), (why, left[0])
    assert not np.delete(left, reason, axis=1).any(), (why, left[0])
