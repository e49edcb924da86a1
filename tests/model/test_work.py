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
    Site,
    Strategy,
    Task,
    Treatment,
    Weather,
    load_treatment,
    load_vine,
)
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work
from spreadsim.runs.engine import Block, Engine
from spreadsim.runs.pool import Pool
from spreadsim.runs.rows import Rows
from spreadsim.runs.simulate import world_of

from .helpers import WORK, assert_same, assert_within, run, untreated
from .strategies import SEASONS, TREATMENTS, VINES, Case, cases, few, with_values

NEW, FOLLOW_UP = 0, 1  # places in the engine's own books of hours


def books(case: Case, replicates: int = 3) -> Block:
    """The engine's own books, which keep hours by crew."""
    experiment = Experiment("books", case.site, case.vine, case.crews, (case.strategy,), years=case.years)
    engine = Engine(world_of(experiment, [case.strategy]), case.seed, (), False)
    return Pool(engine, Rows(engine, range(replicates)), 1).run(range(replicates), lambda done: None)


def named(task: Task) -> list[Treatment]:
    """All treatments that a task may come to use."""
    follow = task.follow_up.treatment if task.follow_up else None
    return [load_treatment(name) for name in (task.treatment, task.instead, follow) if name]


def new_hours(data: xr.Dataset) -> Any:
    """Hours on new ground and scouting: (replicates, years, seasons, tasks), without year 0."""
    return (data["hours"] - data["follow_up_hours"]).values[:, 1:]


def task_crews(task: Task, crews: tuple[Crew, ...]) -> list[Crew]:
    """The crews that a task names; all, where it names none."""
    return [crew for crew in crews if not task.crews or crew.name in task.crews]


@few(50)
@given(cases())
def test_hours_are_within_what_the_crews_have(case: Case):
    data = run(case, maps="none")
    spent = data["hours"].sum("task").values[:, 1:]
    have = data["hours_available"].values[:, 1:]
    planned = [sum(crew.hours[q] * crew.turnout for crew in case.crews) for q in range(4)]
    np.testing.assert_allclose(have, np.broadcast_to(planned, have.shape), rtol=1e-12)
    assert_within(spent, have)
    for name in WORK:
        assert (data[name].values[:, 1:] >= 0).all(), name
        assert np.isnan(data[name].values[:, 0]).all(), name
    assert_within(data["follow_up_hours"].values[:, 1:], data["hours"].values[:, 1:])


@few(50)
@given(cases())
def test_no_crew_works_more_than_its_hours_or_what_it_may_not(case: Case):
    block = books(case)
    spent = block.hours[0]  # (replicates, years, seasons, tasks, kinds, crews)
    assert (spent >= 0).all()
    for k, crew in enumerate(case.crews):
        for q in range(4):
            assert_within(spent[:, :, q, :, :, k].sum(axis=(2, 3)), crew.hours[q] * crew.turnout)
            for t, task in enumerate(case.strategy.tasks):
                may = [
                    treatment
                    for treatment in named(task)
                    if crew.may_do(treatment)
                    and SEASONS[q] in treatment.seasons
                    and crew in task_crews(task, case.crews)
                ]
                if not may:
                    assert not spent[:, :, q, t, :, k].any(), (crew.name, SEASONS[q], task)
                if task.follow_up is None:
                    assert not spent[:, :, q, t, FOLLOW_UP, k].any()


@few(50)
@given(cases())
def test_new_ground_keeps_to_share_and_cap(case: Case):
    data = run(case, maps="none")
    opened = new_hours(data)
    both = data["hours"].values[:, 1:]
    for t, task in enumerate(case.strategy.tasks):
        own = load_treatment(task.treatment)
        for q in range(4):
            hours = sum(crew.hours[q] * crew.turnout for crew in task_crews(task, case.crews) if crew.may_do(own))
            limit = min(task.share * hours, np.inf if task.cap is None else task.cap)
            assert_within(opened[:, :, q, t], limit)
            if case.strategy.reserve_follow_up:
                # follow-up is not held to the share, but uses it up before new ground is opened
                assert_within(np.where(opened[:, :, q, t] > 0, both[:, :, q, t], 0.0), limit)


@few(50)
@given(cases())
def test_new_ground_is_worked_in_the_seasons_and_years_of_the_task_only(case: Case):
    data = run(case, maps="none")
    opened, both = new_hours(data), data["hours"].values[:, 1:]
    years = np.arange(1, case.years + 1)
    for t, task in enumerate(case.strategy.tasks):
        own = load_treatment(task.treatment)
        first, last = task.years or (1, None)
        open_years = (years >= first) & (years <= (last or case.years))
        assert not opened[:, ~open_years, :, t].any()
        assert not both[:, years < first, :, t].any()
        for q, season in enumerate(SEASONS):
            if season not in task.seasons_for(own):
                assert not opened[:, :, q, t].any(), (season, task)
            if not any(season in treatment.seasons for treatment in named(task)):
                assert not both[:, :, q, t].any(), (season, task)


@few(50)
@given(cases(), st.sampled_from((15.0, 60.0, 200.0)), st.booleans(), st.sampled_from(ORDERS["mat"]))
def test_the_cap_of_new_ground_is_held_every_year(case: Case, cap: float, comes_back: bool, order: str):
    # hours tell the ground opened, where they do not depend on cover, access or crew
    pull = with_values(load_treatment("pull"), hours_floor=1.0, hours_per_area=0.1)
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


@few(30)
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
        if kind_of_work(load_treatment(task.treatment)) != "search"
    ]
    strategy = Strategy("one unit", tasks=tasks, reserve_follow_up=case.strategy.reserve_follow_up)
    case = case.with_(site=site)
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


@few(20)
@given(cases())
def test_sensitive_ground_is_never_sprayed(case: Case):
    spraying = [name for name in TREATMENTS if load_treatment(name).not_on_sensitive]
    assert spraying
    site = dataclasses.replace(case.site, sensitive=np.ones_like(case.site.sensitive))
    crews = (*case.crews, Crew("sprayers", 500.0))
    case = case.with_(site=site, crews=crews, strategy=Strategy("spray", tasks=[Task(name) for name in spraying]))
    data = run(case)
    assert not data["hours"].values[:, 1:].any()
    assert_same(data, untreated(case))


@few(20)
@given(cases())
def test_without_a_fit_day_nothing_that_needs_one_is_done(case: Case):
    needing = [name for name in TREATMENTS if load_treatment(name).needs_fit_weather]
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
    spray = with_values(load_treatment("spot-spray"), hours_per_area=0.1, fit_hours_per_day=5.0)
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


@few(20)
@given(cases(outside=False))
def test_what_nobody_knows_is_not_treated(case: Case):
    hosts = dataclasses.replace(case.site.hosts, known=np.zeros(len(case.site.hosts), bool))
    site = dataclasses.replace(case.site, hosts=hosts)
    tasks = [Task(name, follow_up=FollowUp(2, 2)) for name in ("cut", "clear-ring")]
    case = case.with_(site=site, strategy=Strategy("blind", tasks=tasks), crews=(Crew("all", 1e5),))
    data = run(case)
    assert not data["hours"].values[:, 1:].any()
    assert_same(data, untreated(case))


@few(30)
@given(cases())
def test_cost_is_hours_at_the_price_of_those_who_work(case: Case):
    free = [with_values(load_treatment(name), material_per_area=0.0) for name in ("graze", "tarp")]
    data = run(case, maps="none", treatments=free)
    prices = [crew.price for crew in case.crews]
    hours, cost = data["hours"].values[:, 1:], data["cost"].values[:, 1:] + data["match"].values[:, 1:]
    # material costs nothing here; what unpaid hours are worth is no cash
    assert_within(hours * min(prices), cost)
    assert_within(cost, hours * max(prices))
