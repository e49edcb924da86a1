"""No strategy spends an hour that it does not have, or works where, when and by whom it may not."""

import dataclasses
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

from spreadsim.inputs import (
    Crew,
    Experiment,
    FollowUp,
    Fund,
    Site,
    Strategy,
    Task,
    Treatment,
    Weather,
    load_vine,
)
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work
from spreadsim.runs.engine import Block, Engine
from spreadsim.runs.pool import Pool
from spreadsim.runs.simulate import world_of

from .helpers import ROUNDING, WORK, assert_same, assert_within, run, untreated
from .strategies import SEASONS, TREATMENTS, VINES, Case, cases, few, shipped, with_values

NEW, FOLLOW_UP = 0, 1  # places in the engine's own books of hours


def books(case: Case, replicates: int = 3) -> Block:
    """The engine's own books, which keep hours by crew."""
    experiment = Experiment(
        "books",
        case.site,
        case.vine,
        case.crews,
        (case.strategy,),
        years=case.years,
        funds=case.funds,
        events=case.events,
    )
    engine = Engine(world_of(experiment, [case.strategy]), case.seed, (), False)
    return Pool(engine, 1).run(range(replicates), lambda done: None)


def led(crew: Crew, crews: tuple[Crew, ...]) -> list[Crew]:
    """The crews that one leads: its hours with them are recorded under their tasks."""
    return [other for other in crews if other.leader == crew.name]


def there(crew: Crew, years: int) -> Any:
    """Whether a crew has come: (years, seasons)."""
    season = np.arange(4 * years).reshape(years, 4)
    first, last = crew.years or (1, None)
    year = season // 4 + 1
    return (season >= crew.lead_seasons) & (year >= first) & (year <= (last or years))


def named(task: Task) -> list[Treatment]:
    """All treatments that a task may come to use."""
    follow = task.follow_up.treatment if task.follow_up else None
    return [shipped(name) for name in (task.treatment, task.instead, follow) if name]


def new_hours(data: xr.Dataset) -> Any:
    """Hours on new ground and scouting: (replicates, years, seasons, tasks), without year 0."""
    return (data["hours"] - data["follow_up_hours"]).values[:, 1:]


def task_crews(task: Task, crews: tuple[Crew, ...]) -> list[Crew]:
    """The crews that a task names; all, where it names none."""
    return [crew for crew in crews if not task.crews or crew.name in task.crews]


@few(25)
@given(cases())
def test_hours_are_within_what_the_crews_have_and_the_rest_is_accounted_for(case: Case):
    data = run(case, maps="none")
    spent = data["hours"].sum("task").values[:, 1:]
    have = data["hours_available"].values[:, 1:]
    assert_within(spent, have)
    unspent = data["hours_unspent"].sum("reason").values[:, 1:]
    np.testing.assert_allclose(spent + unspent, have, rtol=0, atol=1e-7)
    assert (data["hours_unspent"].values[:, 1:] >= 0).all()
    for name in WORK:
        assert (data[name].values[:, 1:] >= 0).all(), name
        assert np.isnan(data[name].values[:, 0]).all(), name
    assert_within(data["follow_up_hours"].values[:, 1:], data["hours"].values[:, 1:])


@few(25)
@given(cases())
def test_crews_have_the_hours_that_come_while_they_are_there(case: Case):
    have = books(case, 5).available[0]  # (replicates, years, seasons, crews)
    for k, crew in enumerate(case.crews):
        come = np.array(crew.hours) * there(crew, case.years)
        wide = np.sqrt(3) * crew.turnout_spread
        assert_within(have[..., k], come * (crew.turnout + wide))
        assert_within(come * max(0.0, crew.turnout - wide), have[..., k])
        if wide > 0 and come.any():
            assert np.ptp(have[..., k][:, come > 0]) > 0


@few(25)
@given(cases())
def test_no_crew_works_more_than_its_hours_or_what_it_may_not(case: Case):
    block = books(case)
    spent = block.hours[0]  # (replicates, years, seasons, tasks, kinds, crews)
    assert (spent >= 0).all()
    for k, crew in enumerate(case.crews):
        assert_within(spent[..., k].sum(axis=(3, 4)), block.available[0][..., k])
        for q in range(4):
            for t, task in enumerate(case.strategy.tasks):
                at_work = [other for other in (crew, *led(crew, case.crews)) if other in task_crews(task, case.crews)]
                may = [
                    treatment
                    for treatment in named(task)
                    if any(other.may_do(treatment) for other in at_work) and SEASONS[q] in treatment.seasons
                ]
                if not may:
                    assert not spent[:, :, q, t, :, k].any(), (crew.name, SEASONS[q], task)
                if task.follow_up is None:
                    assert not spent[:, :, q, t, FOLLOW_UP, k].any()


@few(25)
@given(cases())
def test_led_crews_work_with_their_leader_only(case: Case):
    spent = books(case).hours[0].sum(axis=4)  # by task and crew
    for k, crew in enumerate(case.crews):
        if crew.leader is None:
            continue
        leader = [other.name for other in case.crews].index(crew.leader)
        assert_within(spent[..., k] / crew.people_per_leader, spent[..., leader])


@few(25)
@given(cases())
def test_new_ground_keeps_to_share_and_cap(case: Case):
    block = books(case)
    spent, have = block.hours[0].copy(), block.available[0]
    for k, crew in enumerate(case.crews):
        if crew.leader is not None:  # leading does not count in a task's hours
            leader = [other.name for other in case.crews].index(crew.leader)
            spent[..., leader] -= spent[..., k] / crew.people_per_leader
    for t, task in enumerate(case.strategy.tasks):
        own = shipped(task.treatment)
        for q in range(4):
            hours = sum(
                have[:, :, q, k]
                for k, crew in enumerate(case.crews)
                if crew in task_crews(task, case.crews) and crew.may_do(own)
            )
            limit = np.minimum(task.share * hours, np.inf if task.cap is None else task.cap)
            opened, back = (spent[:, :, q, t, kind].sum(axis=2) for kind in (NEW, FOLLOW_UP))
            assert_within(opened, limit)
            if case.strategy.reserve_follow_up:
                # follow-up is not held to the share, but uses it up before new ground is opened
                assert_within(np.where(opened > ROUNDING, opened + back, 0.0), limit)


@few(25)
@given(cases())
def test_new_ground_is_worked_in_the_seasons_and_years_of_the_task_only(case: Case):
    data = run(case, maps="none")
    opened, both = new_hours(data), data["hours"].values[:, 1:]
    years = np.arange(1, case.years + 1)
    for t, task in enumerate(case.strategy.tasks):
        own = shipped(task.treatment)
        first, last = task.years or (1, None)
        open_years = (years >= first) & (years <= (last or case.years))
        assert not opened[:, ~open_years, :, t].any()
        assert not both[:, years < first, :, t].any()
        season = np.arange(4 * case.years).reshape(case.years, 4)
        assert not both[:, season < task.permit_seasons, t].any()
        for q, season in enumerate(SEASONS):
            if season not in task.seasons_for(own):
                assert not opened[:, :, q, t].any(), (season, task)
            if not any(season in treatment.seasons for treatment in named(task)):
                assert not both[:, :, q, t].any(), (season, task)


@few(25)
@given(cases(), st.sampled_from((15.0, 60.0, 200.0)), st.booleans(), st.sampled_from(ORDERS["mat"]))
def test_the_cap_of_new_ground_is_held_every_year(case: Case, cap: float, comes_back: bool, order: str):
    # hours tell the ground opened, where they do not depend on cover, access or crew
    pull = with_values(shipped("pull"), hours_floor=1.0, hours_per_area=0.1)
    site = dataclasses.replace(case.site, access=np.ones_like(case.site.access))
    task = Task("pull", new_ground=cap, order=order, follow_up=FollowUp(2, 2) if comes_back else None)
    case = case.with_(site=site, strategy=Strategy("capped", tasks=[task]), crews=(Crew("all", 1e5),))
    data = run(case, treatments=[pull], maps="none")
    # new ground takes so much longer for look-alikes
    lost = data["scout.misidentified"].values[:, None]
    opened = (new_hours(data) / 0.1).sum(axis=(2, 3)) / (1.0 + lost)
    assert_within(opened, cap)
    if not comes_back:
        assert_within(data["area_treated"].values[:, 1:].sum(axis=(2, 3)), cap)
    # of all mat mapped that fits under the cap, some is opened in the first year
    sizes = (site.plantable * site.cell_size**2)[site.mat > 0]
    if (sizes <= cap).all():
        assert (opened[:, 0] > 0).all()


def test_the_cap_of_new_ground_is_used_up_where_there_is_more():
    site = Site.from_arrays(2.0, mat=np.full((20, 20), 0.9))
    strategy = Strategy("capped", tasks=[Task("pull", new_ground=100.0)])
    case = Case(site, load_vine("wintercreeper"), strategy, (Crew("all", 1e5),), 5, 1)
    treated = run(case, maps="none")["area_treated"].sum(("season", "task")).values[:, 1:]
    assert (treated == 100.0).all()


def two_sides(mat: Any, **layers: Any) -> Site:
    """Unit 1 in the west, unit 2 in the east, and a line of barriers between."""
    plantable = np.ones(mat.shape)
    middle = mat.shape[1] // 2
    plantable[:, middle] = 0.0
    units = np.where(np.arange(mat.shape[1]) < middle, 1, 2) * np.ones(mat.shape, int)
    return Site.from_arrays(2.0, mat=np.where(plantable > 0, mat, 0.0), plantable=plantable, units=units, **layers)


@few(20)
@given(cases(outside=False), st.sampled_from(("unit 1", "unit 2")))
def test_what_lies_outside_a_tasks_units_is_as_if_nobody_worked(case: Case, unit: str):
    mat, hosts = case.site.mat, case.site.hosts
    states = np.array(["bare", "climbing", "fruiting"])[hosts.state]
    site = two_sides(
        mat,
        canopy=case.site.canopy,
        hosts={
            "x": hosts.x * 2.0 / case.site.cell_size,
            "y": hosts.y * 2.0 / case.site.cell_size,
            "state": states,
            "top_light": hosts.top_light,
        },
    )
    tasks = [
        dataclasses.replace(task, units=(unit,), not_until=None)
        for task in case.strategy.tasks
        if kind_of_work(shipped(task.treatment)) not in ("search", "sources")
    ]
    strategy = Strategy("one unit", tasks=tasks, reserve_follow_up=case.strategy.reserve_follow_up)
    case = case.with_(site=site, events=())
    quiet = ("work", "mat", "climbing", "trees", "natives")  # no seed across the barrier
    worked = run(case, strategy, processes=quiet)["mat_cover"].values
    left = untreated(case, processes=quiet)["mat_cover"].values
    outside = site.unit != int(unit[-1])
    assert (worked[..., outside] == left[..., outside]).all()


def test_what_lies_in_a_tasks_unit_is_worked():
    site = two_sides(np.full((10, 21), 0.9))
    strategy = Strategy("west", tasks=[Task("pull", units=["unit 1"])])
    case = Case(site, load_vine("wintercreeper"), strategy, (Crew("all", 1e5),), 2, 1)
    worked, left = run(case)["mat_cover"].values, untreated(case)["mat_cover"].values
    assert (worked[:, 2][:, site.unit == 1] < left[:, 2][:, site.unit == 1]).any()
    assert (worked[:, 2][:, :, 11:] == left[:, 2][:, :, 11:]).all()


@few(15)
@given(cases())
def test_sensitive_ground_is_never_sprayed(case: Case):
    spraying = [name for name in TREATMENTS if shipped(name).not_on_sensitive]
    assert spraying
    site = dataclasses.replace(case.site, sensitive=np.ones_like(case.site.sensitive))
    crews = (*case.crews, Crew("sprayers", 500.0))
    case = case.with_(site=site, crews=crews, strategy=Strategy("spray", tasks=[Task(name) for name in spraying]))
    data = run(case)
    assert not data["hours"].values[:, 1:].any()
    assert_same(data, untreated(case))


@few(15)
@given(cases())
def test_without_a_fit_day_nothing_that_needs_one_is_done(case: Case):
    needing = [name for name in TREATMENTS if shipped(name).needs_fit_weather]
    assert needing
    crews = (*case.crews, Crew("sprayers", 500.0))
    case = case.with_(crews=crews, strategy=Strategy("spray", tasks=[Task(name) for name in needing]))
    data = run(case, weather=Weather((0.0, 0.0, 0.0, 0.0)))
    assert not data["hours"].values[:, 1:].any()
    assert_same(data, untreated(case))


def test_dry_open_ground_is_sprayed_on_fit_days_and_hours_fit_are_kept():
    site = Site.from_arrays(5.0, mat=np.full((40, 40), 0.9))
    strategy = Strategy("spray", tasks=[Task("spot-spray")])
    case = Case(site, load_vine("english-ivy"), strategy, (Crew("pair", 500.0, people=2),), 3, 1)
    spray = with_values(shipped("spot-spray"), hours_per_area=0.1, fit_hours_per_day=5.0)
    days = np.array([1.0, 0.0, 3.0, 0.0])
    data = run(case, treatments=[spray], weather=Weather(tuple(days)), maps="none", replicates=400)
    hours = data["hours"].sum("task").values[:, 1:]
    assert not hours[:, :, days == 0].any()
    # each fit day gives two people five hours, of which less than one cell's is left over
    fit_days = np.ceil(hours / 10.0)
    assert_within(hours, fit_days * 10.0)
    # means of Poisson numbers of days within 4.9 standard errors
    for q in np.flatnonzero(days):
        assert abs(fit_days[:, :, q].mean() - days[q]) <= 4.9 * np.sqrt(days[q] / fit_days[:, :, q].size)


@pytest.mark.parametrize("vine", VINES)
@pytest.mark.parametrize("condition", CONDITIONS[:2])
def test_no_mat_is_opened_while_a_known_host_fruits_where_the_rule_looks(condition: str, vine: str):
    mat = np.full((10, 21), 0.9)
    # a fence can't fall; fruiting in the west only
    hosts = {"x": [5.0], "y": [10.0], "state": ["fruiting"], "kind": ["fence"], "top_light": [1.0]}
    site = two_sides(mat, hosts=hosts)
    strategy = Strategy("wait", tasks=[Task("pull", not_until=condition)])
    case = Case(site, load_vine(vine), strategy, (Crew("all", 1e5),), 3, 1)
    quiet = ("work", "mat", "natives")
    worked, left = (f(case, processes=quiet)["mat_cover"].values[:, 1] for f in (run, untreated))
    west, east = site.unit == 1, (site.unit == 2) & (site.plantable > 0)
    assert (worked[:, west] == left[:, west]).all()
    if condition == "no known fruiting host in the unit":
        assert (worked[:, east] < left[:, east]).all()
    else:
        assert (worked[:, east] == left[:, east]).all()
    unknown = two_sides(mat, hosts=hosts | {"known": [False]})
    worked = run(case.with_(site=unknown), processes=quiet)["mat_cover"].values[:, 1]
    assert (worked[:, west] < left[:, west]).all()


@few(15)
@given(cases(outside=False))
def test_what_nobody_knows_is_not_treated(case: Case):
    hosts = dataclasses.replace(case.site.hosts, known=np.zeros(len(case.site.hosts), bool))
    site = dataclasses.replace(case.site, hosts=hosts)
    tasks = [Task(name, follow_up=FollowUp(2, 2)) for name in ("cut", "clear-ring")]
    case = case.with_(site=site, strategy=Strategy("blind", tasks=tasks), crews=(Crew("all", 1e5),))
    data = run(case)
    assert not data["hours"].values[:, 1:].any()
    assert_same(data, untreated(case))


# --- money -------------------------------------------------------------------------------------------------

NO_MATERIAL = [name for name in TREATMENTS if not shipped(name).number("material_per_area") and name != "remove-source"]


def without_call_out(crews: tuple[Crew, ...]) -> tuple[Crew, ...]:
    """The same crews, who charge their hours alone."""
    return tuple(dataclasses.replace(crew, minimum_charge=0.0) for crew in crews)


@few(20)
@given(cases(allowed=NO_MATERIAL))
def test_cost_is_hours_at_the_price_of_those_who_work(case: Case):
    case = case.with_(crews=without_call_out(case.crews))
    data = run(case, maps="none")
    spent = books(case).hours[0].sum(axis=4)
    for name, paid in (("cost", True), ("match", False)):
        prices = np.array([crew.price * (crew.paid == paid) for crew in case.crews])
        np.testing.assert_allclose(data[name].values[:, 1:], spent @ prices, rtol=1e-9, atol=1e-9)


@few(25)
@given(cases(), st.sampled_from((0.0, 200.0, 2000.0)), st.booleans())
def test_no_fund_is_spent_beyond_what_is_in_it_or_outside_its_years(case: Case, amount: float, ends: bool):
    funds = (Fund("grant", amount, years=(1, 2) if ends else None), Fund("staff's", amount / 2, crews=["staff"]))
    case = case.with_(funds=funds, crews=without_call_out(case.crews))
    data = run(case, maps="none")
    left = data["fund_left"].values  # (replicates, years, funds)
    assert (left[:, 0] == [amount, amount / 2]).all()
    assert left.min() >= 0
    assert (np.diff(left, axis=1) <= 0).all()
    if ends:
        assert (np.diff(left[:, 2:, 0], axis=1) == 0).all()
    cash = data["cost"].sum(("season", "task")).values[:, 1:]
    np.testing.assert_allclose(cash, -np.diff(left, axis=1).sum(axis=2), rtol=1e-9, atol=1e-6)
    if amount == 0:
        others = [crew for crew in case.crews if crew.paid and crew.price > 0]
        assert not books(case).hours[0][..., [case.crews.index(crew) for crew in others]].any()


def test_a_grant_is_spent_where_there_is_work_for_it():
    site = Site.from_arrays(2.0, mat=np.full((30, 30), 0.9))
    case = Case(
        site,
        load_vine("wintercreeper"),
        Strategy("pull", tasks=[Task("pull")]),
        (Crew("hired", 1000.0, price=50.0),),
        4,
        1,
        funds=(Fund("grant", 5000.0, years=(2, 3)),),
    )
    data = run(case, maps="none")
    hours = data["hours"].sum(("season", "task")).values
    assert (hours[:, [1, 4]] == 0).all()
    assert (hours[:, 2] > 0).all()
    assert (data["fund_left"].values[:, -1] < 200).all()  # less than one cell costs


# --- planting and asking -----------------------------------------------------------------------------------


@pytest.mark.parametrize("vine", VINES)
def test_planting_goes_to_worked_ground_and_raises_native_cover(vine: str):
    mat = np.zeros((20, 20))
    mat[5:12, 5:12] = 0.9
    clear = with_values(shipped("pull"), mat_kill=1.0, reroots=0.0)
    pull = Task("pull", years=(1, 2))
    plant = Task("plant", years=(2, None))
    case = Case(Site.from_arrays(2.0, mat=mat), load_vine(vine), Strategy("x"), (Crew("all", 1e4),), 3, 1)
    bare, planted, unworked = (
        run(case, Strategy("x", tasks=tasks), treatments=[clear]) for tasks in ([pull], [pull, plant], [plant])
    )
    assert (planted["native_cover"].values[:, 3] > bare["native_cover"].values[:, 3]).all()
    assert not unworked["hours"].values[:, 1:].any()
    for data in (bare, planted):
        assert_same(data, bare, ("mat_cover", "infested_area"))


@pytest.mark.parametrize("vine", VINES)
def test_a_source_whose_owner_agrees_is_gone_after_the_delay(vine: str):
    sources = {"x": [-5.0, -9.0], "y": [10.0, 20.0], "hosts": [20.0, 20.0]}
    site = Site.from_arrays(2.0, mat=np.zeros((15, 15)), sources=sources)
    ask = with_values(shipped("remove-source"), consent=1.0, consent_delay=1.0)
    strategy = Strategy("ask", tasks=[Task("remove-source", years=(2, 2))])
    lively = load_vine(vine).replace({"seed.patches_founded": 2.0, "birds.median_distance": 51.0})
    lively = with_values(lively, seed__seed_bank_life=0.0, seed__years_seed_to_patch=2.0)
    case = Case(site, lively, strategy, (Crew("all", 1e3),), 12, 1)
    asked = run(case, replicates=10, treatments=[ask], maps="none")
    left = untreated(case, replicates=10, maps="none")
    assert (asked["sources_standing"].values == [2, 2, *[0] * 11] * np.ones((10, 1))).all() or (
        asked["sources_standing"].values == [2, 2, 2, *[0] * 10] * np.ones((10, 1))
    ).all()
    late = slice(6, None)
    assert left["new_patches"].sel(year=late).values.sum() > 0
    assert not asked["new_patches"].sel(year=late).values.any()
