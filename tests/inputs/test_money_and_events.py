"""Funds, events, and what crews and tasks say of sessions, leaders, charges and delays."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.inputs import (
    Crew,
    Event,
    Experiment,
    Fund,
    InputError,
    Site,
    Strategy,
    Task,
    Treatment,
    load_treatment,
    load_vine,
    read_experiment,
)
from spreadsim.inputs.task import ORDERS, kind_of_work

Edit = Callable[[str, str, str], Path]


def problems(call: Callable[[], object]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        call()
    return caught.value.problems


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"turnout_spread": -0.1}, "turnout_spread: found -0.1, allowed 0 to 1"),
        ({"session_hours": 0}, "session_hours: found 0, allowed more than 0 to 24"),
        ({"session_hours": 3, "setup_hours": 3}, "setup_hours: found 3, allowed less than session_hours (3)"),
        ({"setup_hours": 0.5}, "setup_hours: found 0.5, allowed 0, unless session_hours says"),
        ({"session_hours": 3, "setup_hours": -1}, "setup_hours: found -1"),
        ({"leader": ""}, 'leader: found ""'),
        ({"leader": "a"}, 'leader: found "a", allowed the name of another crew'),
        ({"people_per_leader": 0}, "people_per_leader: found 0"),
        ({"walking_minutes": -1}, "walking_minutes: found -1"),
        ({"minimum_charge": math.inf}, "minimum_charge: found inf"),
        ({"lead_seasons": 1.5}, "lead_seasons: found 1.5"),
        ({"lead_seasons": -1}, "lead_seasons: found -1"),
        ({"years": (0, 3)}, "years[0]: found 0"),
        ({"years": 3}, "years: found 3"),
    ],
)
def test_crews_refuse(changes: dict[str, Any], said: str) -> None:
    (problem,) = problems(lambda: Crew("a", 1, **changes))
    assert said in problem


def test_a_crew_of_which_nothing_is_said_has_no_sessions_leader_or_charge() -> None:
    crew = Crew("a", 1)
    assert (crew.session_hours, crew.setup_hours, crew.leader, crew.years) == (None, 0.0, None, None)
    assert (crew.turnout_spread, crew.walking_minutes, crew.minimum_charge, crew.lead_seasons) == (0.0, 0.0, 0.0, 0)
    assert Crew("a", 1, years=[2]).years == (2, None)
    assert Crew("a", 1, session_hours=3, setup_hours=0.75).setup_hours == 0.75


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"name": ""}, 'name: found ""'),
        ({"amount": -1}, "amount: found -1, allowed a number, at least 0"),
        ({"amount": math.nan}, "amount: found nan"),
        ({"years": (3, 2)}, "years[1]: found 2"),
        ({"crews": "staff"}, 'crews: found "staff", allowed a list of texts'),
        ({"crews": ["a", "a"]}, 'crews[1]: found "a", allowed each only once'),
    ],
)
def test_funds_refuse(values: dict[str, Any], said: str) -> None:
    (problem,) = problems(lambda: Fund(**{"name": "grant", "amount": 5, **values}))
    assert said in problem
    assert Fund("grant", 5, years=[1, 3]).years == (1, 3) and Fund("grant", 0).years is None


PLANNED: dict[str, Any] = {"kind": "storm", "year": 2, "x": 1, "y": 2, "radius": 30}


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"kind": "fire"}, 'kind: found "fire", allowed one of "storm", "gap", "shrub removal"'),
        ({"radius": 0}, "radius: found 0, allowed more than 0"),
        ({"trees_fall": 1.1}, "trees_fall: found 1.1, allowed 0 to 1"),
        ({"season": "fall"}, 'season: found "fall"'),
        ({"year": 0}, "year: found 0"),
        ({"year": 1.5}, "year: found 1.5"),
        ({"x": None}, "x: found nothing, allowed a number of metres for a planned event"),
        ({"y": math.nan}, "y: found nan"),
        ({"per_year": 0.1}, "per_year: found 0.1, allowed none for a planned event"),
        (
            {"year": None, "x": None, "y": None},
            "year: found nothing, allowed a year with x and y (planned), or per_year",
        ),
        ({"year": None, "per_year": -1, "x": None, "y": None}, "per_year: found -1"),
        ({"year": None, "per_year": 0.1, "y": None}, "x: found 1, allowed none for an event by chance"),
    ],
)
def test_events_refuse(values: dict[str, Any], said: str) -> None:
    (problem,) = problems(lambda: Event(**{**PLANNED, **values}))
    assert said in problem


def test_events_are_planned_or_by_chance() -> None:
    planned = Event("gap", year=3, x=1, y=2, radius=10)
    chance = Event("storm", per_year=0.1, radius=100, season="autumn", trees_fall=0.05)
    assert planned.planned and not chance.planned and (planned.x, planned.season) == (1.0, "spring")


def test_tasks_wait_for_permits() -> None:
    assert Task("cut").permit_seasons == 0 and Task("cut", permit_seasons=3).permit_seasons == 3
    assert "permit_seasons: found -1" in problems(lambda: Task("cut", permit_seasons=-1))[0]


def test_every_treatment_has_its_kind_of_work() -> None:
    kinds = {name: kind_of_work(load_treatment(name)) for name in ("cut", "pull", "tarp", "scout")}
    assert kinds == {"cut": "stems", "pull": "mat", "tarp": "mat", "scout": "search"}
    assert kind_of_work(load_treatment("plant")) == "natives"
    assert kind_of_work(load_treatment("remove-source")) == "sources"
    assert ORDERS["natives"] == ORDERS["mat"] and ORDERS["sources"] == ("nearest access first",)
    assert Task("remove-source").order_for(load_treatment("remove-source")) == "nearest access first"
    for part in ("natives", "sources"):
        said = problems(lambda part=part: Treatment("t", "T", frozenset({part, "mat"})))[0]  # type: ignore[misc]
        assert f'"{part}" alone' in said


def make(site: Site, *tasks: Task, **rest: Any) -> Experiment:
    parts: dict[str, Any] = {"crews": (Crew("staff", 5),), **rest}
    strategies = (Strategy("s", tasks=tasks),)
    return Experiment("t", site, load_vine("wintercreeper"), parts.pop("crews"), strategies, **parts)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"crews": (Crew("a", 1, leader="b"),)}, 'crews[0].leader: found "b", allowed one of "a"'),
        (
            {"crews": (Crew("a", 1, leader="b"), Crew("b", 1, leader="c"), Crew("c", 1))},
            'crews[0].leader: found "b", allowed a crew that has no leader itself',
        ),
        ({"crews": (Crew("a", 1, years=(31, None)),)}, "crews[0].years[0]: found 31, allowed 1 to 30"),
        ({"funds": (Fund("g", 1, crews=["army"]),)}, 'funds[0].crews[0]: found "army", allowed one of "staff"'),
        ({"funds": (Fund("g", 1), Fund("g", 2))}, 'funds[1].name: found "g", allowed each name only once'),
        ({"funds": (Fund("g", 1, years=(40, 50)),)}, "funds[0].years[0]: found 40, allowed 1 to 30"),
        ({"funds": (3,)}, "funds[0]: found 3, allowed a Fund"),
        ({"events": (Event("gap", year=31, x=1, y=1, radius=1),)}, "events[0].year: found 31, allowed 1 to 30"),
        ({"events": (Event("gap", year=1, x=21, y=1, radius=1),)}, "events[0].x: found 21.0, allowed 0 to 20 m"),
        ({"events": (Event("gap", year=1, x=1, y=-1, radius=1),)}, "events[0].y: found -1.0, allowed 0 to 15 m"),
        ({"events": ("storm",)}, 'events[0]: found "storm", allowed an Event'),
    ],
)
def test_parts_must_fit_each_other(site: Site, parts: dict[str, Any], said: str) -> None:
    """The site is 20 m by 15 m."""
    assert any(said in problem for problem in problems(lambda: make(site, **parts)))


@pytest.mark.parametrize(
    ("task", "said"),
    [
        (Task("cut", not_until="two clean visits"), 'not_until: found "two clean visits"'),
        (Task("pull", not_until="two clean visits"), 'not_until: found "two clean visits"'),
        (Task("plant", seasons=("summer",)), 'seasons[0]: found "summer", allowed one of "spring", "autumn"'),
        (Task("plant", order="fruiting first"), 'order: found "fruiting first"'),
        (Task("remove-source", order="largest first"), 'order: found "largest first", allowed one of "nearest'),
        (Task("remove-source", targets="fruiting"), 'targets: found "fruiting"'),
    ],
)
def test_tasks_must_fit_their_treatment(site: Site, task: Task, said: str) -> None:
    assert said in problems(lambda: make(site, task))[0]


def test_planting_may_wait_for_clean_visits(site: Site) -> None:
    for condition in ("two clean visits", "no known fruiting host in the unit"):
        (task,) = make(site, Task("plant", not_until=condition)).strategies[1].tasks
        assert task.not_until == condition


# ---- files

CREW = "pace = 0.7\n"
MORE = """
[[funds]]
name = "grant"
amount = 20000
years = [1, 3]
crews = ["staff"]

[[funds]]
name = "yearly"
amount = 4000.5

[[events]]
kind = "storm"
per_year = 0.1
season = "autumn"
radius = 100
trees_fall = 0.05

[[events]]
kind = "shrub removal"
year = 2
x = 10
y = 5.5
radius = "30 ft"

[[strategies]]
name = "stems first"
"""
HEAD = '[[strategies]]\nname = "stems first"\n'


def test_everything_is_read(edit: Edit) -> None:
    edit(
        "experiment.toml",
        CREW,
        CREW
        + 'turnout_spread = 0.2\nsession_hours = 3\nsetup_hours = 0.75\nleader = "staff"\npeople_per_leader = 8\n'
        + "walking_minutes = 4\nminimum_charge = 250\nlead_seasons = 2\nyears = [2, 5]\n",
    )
    edit("experiment.toml", "haul_out = true", "haul_out = true\npermit_seasons = 3")
    experiment = read_experiment(edit("experiment.toml", HEAD, MORE))
    crew = experiment.crews[0]
    assert (crew.turnout_spread, crew.session_hours, crew.setup_hours, crew.leader) == (0.2, 3.0, 0.75, "staff")
    assert (crew.people_per_leader, crew.walking_minutes, crew.minimum_charge) == (8.0, 4.0, 250.0)
    assert (crew.lead_seasons, crew.years) == (2, (2, 5))
    assert experiment.strategies[1].tasks[1].permit_seasons == 3
    assert experiment.funds == (Fund("grant", 20000, years=(1, 3), crews=["staff"]), Fund("yearly", 4000.5))
    storm = Event("storm", per_year=0.1, season="autumn", radius=100, trees_fall=0.05)
    assert experiment.events == (storm, Event("shrub removal", year=2, x=10, y=5.5, radius=9.144))


def test_feet_are_the_same_events(edit: Edit) -> None:
    edit("experiment.toml", "seed = 7", 'seed = 7\nunits = "us"')
    feet = MORE.replace("x = 10\n", f"x = {10 / 0.3048!r}\n").replace("y = 5.5", 'y = "5.5 m"')
    feet = feet.replace("radius = 100", f"radius = {100 / 0.3048!r}").replace('"30 ft"', "30")
    storm, removal = read_experiment(edit("experiment.toml", HEAD, feet)).events
    assert (storm.radius, removal.x) == (pytest.approx(100), pytest.approx(10))
    assert (removal.y, removal.radius) == (5.5, pytest.approx(9.144))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("amount = 20000", "amount = -1", "funds[0].amount: found -1.0"),
        ("amount = 20000\n", "", "funds[0].amount: found nothing, allowed a finite number"),
        ("years = [1, 3]", "years = [11]", "funds[0].years[0]: found 11, allowed 1 to 10"),
        ('crews = ["staff"]', 'crews = ["army"]', 'funds[0].crews[0]: found "army"'),
        ('name = "yearly"', 'name = "grant"', 'funds[1].name: found "grant"'),
        ('name = "yearly"', 'name = "yearly"\nyear = 3', "funds[1].year: found a key that is not known"),
        ('kind = "storm"', 'kind = "flood"', 'events[0].kind: found "flood"'),
        ('kind = "storm"\n', "", "events[0].kind: found nothing, allowed a text"),
        ("per_year = 0.1\n", "", "events[0].year: found nothing, allowed a year with x and y"),
        ("radius = 100\n", "", "events[0].radius: found nothing"),
        ("radius = 100", "radius = 0", "events[0].radius: found 0.0, allowed more than 0"),
        ("radius = 100", "radius = -3", "events[0].radius: found -3, allowed a number of m"),
        ('"30 ft"', '"30 acre"', 'events[1].radius: found "30 acre", allowed a number of m'),
        ("x = 10\n", "x = 41\n", "events[1].x: found 41.0, allowed 0 to 40 m, on the site"),
        ("x = 10\n", 'x = "east"\n', 'events[1].x: found "east"'),
        ("year = 2\n", "year = 11\n", "events[1].year: found 11, allowed 1 to 10"),
        ("trees_fall = 0.05", "trees_fall = true", "events[0].trees_fall: found True"),
    ],
)
def test_faults_are_named(edit: Edit, old: str, new: str, said: str) -> None:
    edit("experiment.toml", HEAD, MORE)
    found = problems(lambda: read_experiment(edit("experiment.toml", old, new)))
    assert len(found) == 1 and f"experiment.toml: {said}" in found[0]


def test_faults_of_crews_are_named(edit: Edit) -> None:
    new = CREW + 'setup_hours = 1\nleader = "army"\nyears = [11, 12]\n'
    (found,) = problems(lambda: read_experiment(edit("experiment.toml", CREW, new)))
    assert "experiment.toml: crews[0].setup_hours: found 1.0, allowed 0, unless session_hours" in found
    said = problems(lambda: read_experiment(edit("experiment.toml", "setup_hours = 1\n", "lead_seasons = 1\n")))
    assert any('crews[0].leader: found "army", allowed one of "volunteers", "staff"' in one for one in said)
    assert any("crews[0].years[0]: found 11, allowed 1 to 10" in one for one in said) and len(said) == 2


# ---- round trips

years = st.none() | st.tuples(st.integers(1, 10), st.none() | st.integers(10, 99))
money = st.floats(0, 1e9)
sessions = st.none() | st.floats(1.5, 24)
crews = st.builds(
    lambda session, **values: Crew(
        "volunteers", 3, session_hours=session, setup_hours=(session and 1.25) or 0, **values
    ),
    sessions,
    turnout_spread=st.floats(0, 1),
    leader=st.none() | st.just("staff"),
    people_per_leader=st.floats(0.5, 50),
    walking_minutes=st.floats(0, 60),
    minimum_charge=money,
    lead_seasons=st.integers(0, 1600),
    years=years,
)
funds = st.builds(
    Fund, st.text(min_size=1).filter(str.strip), money, years=years, crews=st.just(()) | st.just(("staff",))
)
common = {"season": st.sampled_from(["winter", "autumn"]), "radius": st.floats(0.1, 1e4), "trees_fall": st.floats(0, 1)}
kinds = st.sampled_from(["storm", "gap", "shrub removal"])
place = {"year": st.integers(1, 30), "x": st.floats(0, 20), "y": st.floats(0, 15)}
events = st.builds(Event, kinds, **place, **common) | st.builds(Event, kinds, per_year=st.floats(0.01, 9), **common)


@settings(deadline=None, max_examples=60)
@given(
    crews,
    st.lists(funds, max_size=3, unique_by=lambda fund: fund.name),
    st.lists(events, max_size=4),
    st.integers(0, 9),
)
def test_any_experiment_comes_back_exactly(crew: Crew, some: list[Fund], more: list[Event], permit: int) -> None:
    ground = Site.from_arrays(2.5, mat=[[0.0] * 8] * 6)
    task = Task("plant", not_until="two clean visits", permit_seasons=permit)
    given_one = make(ground, task, crews=(crew, Crew("staff", 1)), funds=some, events=more)
    text = json.dumps(given_one.to_dict(), allow_nan=False)
    again = Experiment.from_dict(json.loads(text), ground)
    assert again == given_one and json.dumps(again.to_dict()) == text
    assert replace(again, events=()) == replace(given_one, events=()) and hash(again.funds) == hash(given_one.funds)
