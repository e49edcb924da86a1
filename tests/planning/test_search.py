"""A search: its choices keep to the rules, a known best strategy is found, and nothing is claimed that isn't."""

import dataclasses
import sys
import tomllib

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, InputError, Site, Strategy, Task
from spreadsim.analysis.found import judge, not_beaten, verdict_of
from spreadsim.analysis.found_words import found_sentences, score_with_unit
from spreadsim.analysis.goals import Limit, make_goals
from spreadsim.cli import cli
from spreadsim.inputs.checks import Check
from spreadsim.inputs.strategy_tables import read_strategies
from spreadsim.inputs.strategy_text import strategy_text
from spreadsim.planning.search import search
from spreadsim.planning.search.optimise import value_of
from spreadsim.planning.search.picks import names_of, picks_of, strategy_of
from spreadsim.planning.search.slots import slots_in, slots_of
from spreadsim.planning.search.trial import Tried
from spreadsim.views.found import found_text, write_found
from spreadsim.views.front_chart import front_chart

EXPERIMENT = "experiments/cut-or-clear/experiment.toml"
DEMO = spreadsim.read_experiment(EXPERIMENT)
WINTER = {"winter": 4.0}


def small(*strategies: Strategy, **changes) -> Experiment:
    """Two fruiting hosts, more mat than the hours can clear."""
    mat = np.zeros((8, 8))
    mat[1:7, 1:7] = 0.9
    hosts = {"x": [6.0, 9.0], "y": [6.0, 9.0], "state": ["fruiting", "fruiting"], "top_light": [1.0, 1.0]}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts)
    crews = (Crew("staff", WINTER, ("cut", "pull"), price=10.0),)
    values = {"crews": crews, "years": 3, "replicates": 8, "notice": "Invented."} | changes
    vine = spreadsim.load_vine("wintercreeper")
    return Experiment("Search test", site, vine, strategies=strategies, **values)


POOR = Strategy("pull, then cut", tasks=[Task("pull", order="largest first"), Task("cut", order="fruiting first")])
GOOD = Strategy("cut", tasks=[Task("cut", order="fruiting first", follow_up=FollowUp(4, 2))])
FRUITING = make_goals({"weights": {"fruiting_hosts": 1}, "year": 1})


def ask(experiment: Experiment, **changes):
    values = {"goals": FRUITING, "tries": 12, "replicates": 8, "judging": 30} | changes
    return search(experiment, **values)


@pytest.fixture(scope="module")
def found():
    return ask(small(POOR))


def test_a_known_best_is_found_and_surely_better(found):
    """Pulling eats all hours, so both hosts fruit on; cutting first takes one hour and both are cut in year 1."""
    assert found.verdict == "better" and not found.same_as
    tasks = [task.treatment for task in found.strategy.tasks]
    assert "cut" in tasks and ("pull" not in tasks or tasks.index("cut") < tasks.index("pull"))
    row = found.judged.sel(strategy="pull, then cut")
    assert float(row["ahead_low"]) > 0 and float(found.judged["score"].sel(strategy=found.strategy.name)) < 0.5
    assert found.worlds == (8, 8, 30)
    told = found_sentences(found)
    assert told[0].startswith('"found by search" beats every strategy given on fruiting hosts, ')


def test_what_is_judged_is_what_a_comparison_gives(found):
    """Fresh worlds are those after the worlds of looking and choosing."""
    again = spreadsim.compare(found.experiment, replicates=range(16, 46))
    hosts = again["fruiting_hosts"].sel(year=1).mean("replicate")
    for name in found.judged["strategy"].values:
        assert float(found.judged["score"].sel(strategy=name)) == pytest.approx(float(hosts.sel(strategy=name)))
        spent = again["hours"].sel(strategy=name, year=slice(1, None)).sum(["year", "season", "task"]) / 3
        assert float(found.judged["hours"].sel(strategy=name)) == pytest.approx(float(spent.mean()))


def test_the_same_seed_finds_the_same_on_any_number_of_threads(found):
    again = ask(small(POOR), workers=1)
    assert again.strategy == found.strategy
    assert again.judged.equals(found.judged)
    assert again.tries == found.tries == 12


def test_where_nothing_is_better_it_says_so():
    """Of hours alone no action takes the fewest, and nothing can take fewer."""
    found = ask(small(GOOD), goals=make_goals({"weights": {"hours": 1}}), tries=6)
    assert found.same_as == "no action" and found.verdict == "not better"
    assert found_sentences(found)[0] == 'Nothing better was found than "no action", which is one of those given.'
    assert "[[strategies]]" not in found_text(found)


def test_limits_are_kept_in_what_is_found():
    limit = {"outcome": "hours", "most": 0.0, "often": 0.0}
    goals = make_goals({"weights": {"fruiting_hosts": 1}, "year": 1, "limits": [limit]})
    found = ask(small(GOOD), goals=goals, tries=6)
    row = found.judged.sel(strategy=found.strategy.name)
    assert float(row["hours"]) == 0.0 and bool(row["within"])
    assert not bool(found.judged["within"].sel(strategy="cut"))
    assert any('Too often beyond a limit: "cut"' in sentence for sentence in found_sentences(found))


def test_given_strategies_are_found_again_in_the_choices():
    slots = slots_of(DEMO)
    for strategy in DEMO.strategies:
        picks = picks_of(slots, slots_in(DEMO, strategy, slots), strategy.reserve_follow_up)
        assert set(picks) == set(names_of(slots))
        again = strategy_of(slots, picks, strategy.name)
        bare = [dataclasses.replace(task, name=None) for task in again.tasks]
        given_bare = [
            dataclasses.replace(task, name=None, order=task.order_for(DEMO.treatment(task.treatment)))
            for task in strategy.tasks
        ]
        assert bare == given_bare
        assert again.reserve_follow_up == strategy.reserve_follow_up


def draws(slots):
    return st.fixed_dictionaries(
        {name: st.integers(0, choices - 1) if choices else st.floats(0, 1) for name, choices in names_of(slots).items()}
    )


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_whatever_is_tried_keeps_to_who_may_do_what_and_when(data):
    """An experiment refuses crews and seasons that are not allowed; so all draws must make experiments."""
    slots = slots_of(DEMO)
    strategy = strategy_of(slots, data.draw(draws(slots)), "drawn")
    tried = dataclasses.replace(DEMO, strategies=(strategy,))
    crews = {crew.name: crew for crew in DEMO.crews}
    for task in tried.strategies[1].tasks:
        treatment = DEMO.treatment(task.treatment)
        assert set(task.seasons) <= set(treatment.seasons)
        workers = [crews[name] for name in task.crews or crews]
        assert any(crew.may_do(treatment) for crew in workers)
        if treatment.herbicide:
            assert task.crews == ("staff",) and task.instead in ("cut", "pull")
    text = strategy_text(strategy)
    check = Check("text")
    (again,) = read_strategies(tomllib.loads(text)["strategies"], check)
    check.done()
    assert again.strategy == strategy


def test_a_task_keeps_its_name_only_as_it_was_given():
    slots = slots_of(DEMO)
    last = DEMO.strategies[-1]
    picks = picks_of(slots, slots_in(DEMO, last, slots), True)
    at = next(at for at, slot in enumerate(slots) if slot.task.name == "fruiting hosts, before the fruit is ripe")
    assert slots[at].task.name in [task.name for task in strategy_of(slots, picks, "as given").tasks]
    picks[f"{at}.seasons"] = slots[at].choices["seasons"].index(())
    assert slots[at].task.name not in [task.name for task in strategy_of(slots, picks, "other seasons").tasks]


def test_what_is_not_wanted_is_not_offered():
    names = {slot.task.treatment for slot in slots_of(DEMO, [Limit(no="spray")])}
    assert "foliar-spray" not in names and {"cut", "pull", "cut-and-treat"} <= names
    in_units = {
        slot.task.treatment: slot.task.units for slot in slots_of(DEMO, [Limit(no="foliar-spray", unit="west ravine")])
    }
    assert in_units["foliar-spray"] == ("street side", "east ravine") and in_units["cut"] == ()


def test_herbicide_is_never_brought_in():
    experiment = small(POOR, crews=(Crew("staff", WINTER, ("all",)),))
    assert {slot.task.treatment for slot in slots_of(experiment)} == {"pull", "cut", "scout", "clear-ring"}


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(0, 4)), min_size=1, max_size=12))
def test_not_beaten_by_its_definition(points):
    told = not_beaten(np.array(points, float))
    for at, one in enumerate(points):
        beaten = any(all(a <= b for a, b in zip(two, one, strict=True)) and two != one for two in points)
        assert told[at] == (not beaten)


@pytest.mark.parametrize(
    ("shift", "within", "verdict"),
    [(5.0, True, "better"), (0.0, True, "can't tell"), (-5.0, True, "not better"), (5.0, False, "not better")],
)
def test_the_verdict_of_made_up_worlds(shift, within, verdict):
    """Worlds of known difference: `shift` with noise of 1 in 400 worlds, so its error is 0.05."""
    noise = np.random.default_rng(3).normal(size=(2, 400))
    noise[1] -= noise[1].mean() - noise[0].mean()  # what is not a shift is no difference at all
    score = noise + 10.0
    score[0] += shift
    hours = np.array([[20.0], [10.0]]) * np.ones((2, 400))
    beyond = np.array([0.0, 0.0 if within else 0.2])
    judged = judge(["old", "new"], ["given", "found"], score, hours, 0 * hours, beyond, 0.9, 1)
    assert verdict_of(judged) == verdict
    assert float(judged["ahead"][0]) == pytest.approx(shift, abs=1e-9)
    assert float(judged["ahead_low"][0]) < shift < float(judged["ahead_high"][0])
    assert judged["front"].values.tolist() == [shift < 0 or not within, within]


@pytest.mark.parametrize(
    ("score", "told"),
    [
        ("infested_area", "infested area (m²)"),
        ("1 x infested_area", "infested area (m²)"),
        ("2 x infested_area", "infested area"),
        ("seeds_exported", "seed leaving the site"),
    ],
)
def test_the_unit_is_told_where_the_name_does_not(score, told):
    assert score_with_unit(xr.Dataset(attrs={"score": score})) == told


def test_limits_lie_beyond_all_scores():
    one = Tried(POOR, np.array([1e9]), np.array([5.0]), np.array([0.0]), 0.0)
    assert value_of(one) == 1e9
    assert value_of(one, hours=4.0) < value_of(one, hours=3.0)
    assert value_of(one, hours=4.0) > 1e20 and value_of(one, hours=5.0) == 1e9


def test_a_strategy_of_every_field_is_read_back():
    task = Task(
        "pull",
        name='by "hand" \\ and foot',
        order="by unit",
        units=("west ravine",),
        seasons=("winter",),
        years=(2, None),
        share=0.1,
        cap=12.5,
        new_ground=300.0,
        follow_up=FollowUp(2, 3, "spot-spray"),
        not_until="no known fruiting host on the site",
        instead="cut",
        crews=("staff",),
        haul_out=True,
        permit_seasons=2,
    )
    strategy = Strategy("line\nbreak", tasks=[task, Task("cut", years=(1, 4))], reserve_follow_up=False, why="é\x7f")
    check = Check("text")
    (again,) = read_strategies(tomllib.loads(strategy_text(strategy))["strategies"], check)
    check.done()
    assert again.strategy == strategy


def test_arguments_that_cannot_be_used_are_all_named(monkeypatch):
    with pytest.raises(InputError, match=r"tries: found 0[\s\S]*judging: found 1"):
        search(DEMO, tries=0, judging=1)
    with pytest.raises(InputError, match="seconds: found -1"):
        search(DEMO, seconds=-1)
    idle = small(Strategy("no action"), crews=())
    with pytest.raises(InputError, match="found no work that a crew may do"):
        ask(idle)
    monkeypatch.setitem(sys.modules, "optuna", None)
    with pytest.raises(InputError, match=r"found no package optuna.*spreadsim\[search\]"):
        search(DEMO)


def test_the_picture_has_a_mark_for_each_strategy(found):
    figure = front_chart(found.judged, notice="Invented.")
    assert len(figure.axes) == 2  # hours, and money, since the crew is paid
    for axes, cost in zip(figure.axes, ("hours", "money"), strict=True):
        marks = np.vstack([one.get_offsets() for one in axes.collections])
        wanted = np.column_stack([found.judged[cost], found.judged["score"]])
        assert sorted(map(tuple, marks)) == sorted(map(tuple, wanted))
        letters = ", ".join(text.get_text() for text in axes.texts).split(", ")
        assert sorted(letters) == [chr(ord("a") + at) for at in range(found.judged.sizes["strategy"])]


def test_files_and_text_fit_and_read_back(found, tmp_path):
    files = write_found(found, tmp_path)
    assert {path.name for path in files} == {"found.toml", "found.csv", "found.txt", "found.png", "found.svg"}
    text = (tmp_path / "found.txt").read_text()
    assert "Before anyone goes out" in text and "Invented." in text
    prose = text.split("To be pasted")[0]
    assert max(map(len, prose.splitlines())) <= 80
    check = Check("found.toml")
    read = read_strategies(tomllib.loads((tmp_path / "found.toml").read_text())["strategies"], check)
    check.done()
    assert read[0].strategy == found.strategy


def test_the_command_answers_first(tmp_path):
    arguments = [
        "search",
        EXPERIMENT,
        "--tries",
        "1",
        "--replicates",
        "2",
        "--judging",
        "2",
        "--seed",
        "3",
        "--out",
        str(tmp_path),
    ]
    done = CliRunner().invoke(cli, arguments)
    assert done.exit_code == 0, done.output
    first = done.output.splitlines()[0]
    assert first.startswith(("No", '"found by search"')) and "Files in" in done.output
