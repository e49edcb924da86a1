"""Crews, tasks, strategies and what they may say of each other."""

from __future__ import annotations

import json
import math
import pickle
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim.inputs import (
    Crew,
    Experiment,
    FollowUp,
    InputError,
    Site,
    Strategy,
    Task,
    Weather,
    load_treatment,
    load_vine,
)

SEASONS = ("winter", "spring", "summer", "autumn")


def problems(call: Callable[[], object]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        call()
    return caught.value.problems


@pytest.mark.parametrize(
    ("hours", "stored"),
    [
        (40, (40.0, 40.0, 40.0, 40.0)),
        ({"winter": 3, "autumn": 1.5}, (3.0, 0.0, 0.0, 1.5)),
        ([1, 2, 3, 4], (1.0, 2.0, 3.0, 4.0)),
        ({}, (0.0, 0.0, 0.0, 0.0)),
    ],
)
def test_hours_by_season(hours: Any, stored: tuple[float, ...]) -> None:
    assert Crew("a", hours).hours == stored


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"hours": -1}, "hours: found -1"),
        ({"hours": math.nan}, "hours: found nan"),
        ({"hours": {"fall": 3}}, "hours.fall: found 3"),
        ({"hours": {"winter": "x"}}, 'hours.winter: found "x"'),
        ({"hours": [1, 2]}, "hours: found [1, 2]"),
        ({"hours": "many"}, 'hours: found "many"'),
        ({"pace": 0}, "pace: found 0, allowed more than 0 to 2"),
        ({"pace": 2.1}, "pace: found 2.1"),
        ({"turnout": 1.6}, "turnout: found 1.6, allowed 0 to 1.5"),
        ({"price": -1}, "price: found -1"),
        ({"people": 0}, "people: found 0"),
        ({"volunteers": 1}, "volunteers: found 1"),
        ({"may": ["all", "cut"]}, "may: found"),
        ({"may": 3}, "may: found"),
        ({"may": ["cut", "cut"]}, 'may[1]: found "cut", allowed each only once'),
        ({"name": ""}, "name: found"),
    ],
)
def test_crews_refuse(changes: dict[str, Any], said: str) -> None:
    values = {"name": "a", "hours": 1, **changes}
    (problem,) = problems(lambda: Crew(**values))
    assert said in problem


def test_volunteers_use_herbicides_only_where_they_are_named() -> None:
    spray, cut = load_treatment("foliar-spray"), load_treatment("cut")
    assert Crew("a", 1).may_do(spray) and Crew("a", 1).may_do(cut)
    assert not Crew("a", 1, volunteers=True).may_do(spray)
    assert Crew("a", 1, volunteers=True).may_do(cut)
    assert Crew("a", 1, ["foliar-spray"], volunteers=True).may_do(spray)
    assert not Crew("a", 1, "cut").may_do(spray)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"share": 1.4}, "share: found 1.4, allowed 0 to 1"),
        ({"share": math.nan}, "share: found nan"),
        ({"cap": -1}, "cap: found -1"),
        ({"new_ground": math.inf}, "new_ground: found inf"),
        ({"targets": "dead"}, "targets: found"),
        ({"order": "alphabetical"}, "order: found"),
        ({"seasons": ["fall"]}, 'seasons[0]: found "fall"'),
        ({"seasons": "winter"}, 'seasons: found "winter"'),
        ({"years": (0, 3)}, "years[0]: found 0"),
        ({"years": (4, 3)}, "years[1]: found 3"),
        ({"years": (1, 2, 3)}, "years: found"),
        ({"years": 3}, "years: found 3"),
        ({"years": (1.5, 2)}, "years[0]: found 1.5"),
        ({"not_until": "tuesday"}, "not_until: found"),
        ({"follow_up": 4}, "follow_up: found 4"),
        ({"haul_out": "yes"}, "haul_out: found"),
        ({"instead": ""}, "instead: found"),
    ],
)
def test_tasks_refuse(changes: dict[str, Any], said: str) -> None:
    (problem,) = problems(lambda: Task("cut", **changes))
    assert said in problem and 'Task "cut"' in problem


def test_what_a_task_takes_from_its_treatment() -> None:
    for name, order in (("cut", "fruiting first"), ("pull", "largest first"), ("scout", "walking sweep")):
        treatment = load_treatment(name)
        assert Task(name).order_for(treatment) == order
        assert Task(name, order="by unit").order_for(treatment) == "by unit"
        assert Task(name).seasons_for(treatment) == treatment.seasons
    task = Task("cut", seasons=("autumn", "winter"), years=(3,))  # type: ignore[arg-type]
    assert task.seasons_for(load_treatment("cut")) == ("winter", "autumn")
    assert task.years == (3, None) and task.label == "cut"
    assert Task("cut", name="vines on oaks").label == "vines on oaks"


def test_follow_up_and_weather_refuse() -> None:
    assert len(problems(lambda: FollowUp(0, 0, ""))) == 3
    assert "fit_days.summer: found 93" in problems(lambda: Weather((1, 2, 93, 4)))[0]
    assert Weather().fit_days == (4.0, 6.0, 8.0, 5.0)
    assert Weather({"winter": 2}).fit_days == (2.0, 0.0, 0.0, 0.0)


def test_a_strategy_holds_tasks_only() -> None:
    assert problems(lambda: Strategy("s", tasks=["cut"])) == ('Strategy "s": tasks[0]: found "cut", allowed a Task',)  # type: ignore[list-item]
    assert Strategy("s").tasks == () and Strategy("s").reserve_follow_up


STAFF = (Crew("staff", 5),)


def make(site: Site, *tasks: Task, crews: Any = STAFF, **rest: Any) -> Experiment:
    return Experiment("t", site, load_vine("wintercreeper"), crews, [Strategy("s", tasks=tasks)], **rest)  # type: ignore[arg-type]


def test_no_action_always_comes_first(site: Site) -> None:
    assert [one.name for one in make(site).strategies] == ["no action", "s"]
    given = make(site, Task("cut"))
    last = replace(given, strategies=given.strategies[::-1])
    assert last == given and last.strategies[0].tasks == ()
    said = problems(lambda: replace(given, strategies=(Strategy("no action", tasks=[Task("cut")]),)))
    assert 'strategies[0].tasks: found 1 task, allowed none in "no action"' in said[0]


@pytest.mark.parametrize(
    ("task", "said"),
    [
        (Task("burn"), 'treatment: found "burn"'),
        (Task("cut", instead="burn"), 'instead: found "burn"'),
        (Task("cut", follow_up=FollowUp(treatment="burn")), 'follow_up.treatment: found "burn"'),
        (Task("cut", units=("meadow",)), 'units[0]: found "meadow", allowed one of "slope", "creek"'),
        (Task("cut", crews=("army",)), 'crews[0]: found "army", allowed one of "staff"'),
        (
            Task("foliar-spray", seasons=("summer",)),
            'seasons[0]: found "summer", allowed one of "winter", "autumn"',
        ),
        (Task("pull", targets="fruiting"), 'targets: found "fruiting"'),
        (Task("pull", order="fruiting first"), 'order: found "fruiting first"'),
        (Task("scout", order="largest first"), 'order: found "largest first"'),
        (Task("cut", years=(31, None)), "years[0]: found 31, allowed 1 to 30"),
    ],
)
def test_what_a_task_names_must_exist_and_fit(site: Site, task: Task, said: str) -> None:
    found = problems(lambda: make(site, Task("cut"), task))
    assert any(f"strategies[0].tasks[1].{said}" in problem for problem in found), found


def test_a_task_that_no_crew_may_do_is_refused(site: Site) -> None:
    pullers = (Crew("a", 5, ["pull"]), Crew("b", 5, volunteers=True))
    assert (
        'found "foliar-spray", allowed what a crew'
        in problems(lambda: make(site, Task("foliar-spray"), crews=pullers))[0]
    )
    assert 'found "cut"' in problems(lambda: make(site, Task("cut", crews=("a",)), crews=pullers))[0]
    assert "since there are no crews" in problems(lambda: make(site, Task("cut"), crews=()))[0]
    assert make(site, Task("cut", crews=("b",)), crews=pullers).strategies[1].tasks[0].crews == ("b",)
    assert 'crews[0].may[0]: found "burn"' in problems(lambda: make(site, crews=(Crew("a", 1, ["burn"]),)))[0]


def test_names_are_given_once(site: Site) -> None:
    twice = (Crew("a", 1), Crew("a", 2))
    assert 'crews[1].name: found "a"' in problems(lambda: make(site, crews=twice))[0]
    cut = load_treatment("cut")
    assert 'treatments[1].name: found "cut"' in problems(lambda: make(site, treatments=(cut, cut)))[0]


def test_own_treatments_go_before_those_shipped(site: Site) -> None:
    own = load_treatment("cut").replace({"stem_kill": 0.96})
    experiment = make(site, treatments=(own,))
    assert experiment.treatment("cut") == own
    assert experiment.treatment("pull") == load_treatment("pull")
    with pytest.raises(InputError, match='found "burn"'):
        experiment.treatment("burn")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("years", 0),
        ("years", 2.5),
        ("years", 401),
        ("replicates", 0),
        ("seed", -1),
        ("seed", 2**32),
        ("seed", True),
        ("units", "imperial"),
        ("title", ""),
        ("currency", 3),
        ("price_year", 24),
        ("fixed_parameters", 1),
        ("site", None),
        ("vine", "wintercreeper"),
        ("weather", 4),
        ("crews", "staff"),
        ("strategies", [3]),
    ],
)
def test_settings_of_an_experiment_are_checked(experiment: Experiment, name: str, value: Any) -> None:
    found = problems(lambda: replace(experiment, **{name: value}))
    assert len(found) == 1 and f": {name}" in found[0]


def test_an_experiment_goes_through_json_and_pickle(experiment: Experiment, site: Site) -> None:
    text = json.dumps(experiment.to_dict(), allow_nan=False)
    again = Experiment.from_dict(json.loads(text), site)
    assert again == experiment and json.dumps(again.to_dict()) == text
    assert pickle.loads(pickle.dumps(experiment)) == experiment


numbers = st.floats(0, 1e6)
names = st.text(min_size=1, max_size=8).filter(lambda text: text.strip() != "")
tasks = st.builds(
    Task,
    st.sampled_from(["cut", "clear-ring", "cut-and-treat"]),
    name=st.none() | names,
    targets=st.sampled_from(["all", "fruiting", "climbing"]),
    order=st.none() | st.sampled_from(["fruiting first", "by unit", "nearest access first"]),
    units=st.sampled_from([(), ("slope",), ("creek", "slope")]),
    seasons=st.lists(st.sampled_from(SEASONS), unique=True).map(tuple),
    years=st.none() | st.tuples(st.integers(1, 10), st.none() | st.integers(10, 99)),
    share=st.floats(0, 1),
    cap=st.none() | numbers,
    new_ground=st.none() | numbers,
    follow_up=st.none() | st.builds(FollowUp, st.integers(1, 9), st.integers(1, 9), st.none() | st.just("cut")),
    not_until=st.none() | st.just("no known fruiting host on the site"),
    instead=st.none() | st.just("cut"),
    haul_out=st.booleans(),
)
crews = st.builds(
    Crew,
    names,
    st.tuples(numbers, numbers, numbers, numbers),
    pace=st.floats(0.01, 2),
    turnout=st.floats(0, 1.5),
    price=numbers,
    paid=st.booleans(),
    people=st.floats(0.5, 20),
)
GROUND = Site.from_arrays(1.0, mat=[[0.0, 0.5]], units=[[1, 2]], unit_names=["slope", "creek"])


@settings(deadline=None, max_examples=60)
@given(
    st.lists(tasks, max_size=4),
    st.lists(crews, min_size=1, max_size=3, unique_by=lambda crew: crew.name),
    st.integers(0, 2**32 - 1),
)
def test_any_experiment_comes_back_exactly(some: list[Task], people: list[Crew], seed: int) -> None:
    given_one = make(GROUND, *some, crews=people, seed=seed)
    text = json.dumps(given_one.to_dict(), allow_nan=False)
    assert Experiment.from_dict(json.loads(text), GROUND) == given_one
