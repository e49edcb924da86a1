"""A decision grid: axes as they are typed, a known flip, what is sure, the picture and the command."""

import dataclasses

import numpy as np
import pytest
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, Experiment, InputError, Site, Strategy, Task
from spreadsim.analysis.flip_words import flip_sentences
from spreadsim.analysis.goals import make_goals
from spreadsim.cli import cli
from spreadsim.planning.axes import changed, read_axis
from spreadsim.planning.flips import flips, in_order
from spreadsim.planning.race import FIRST
from spreadsim.runs.simulate import simulate
from spreadsim.views.flips_map import flips_map

EXPERIMENT = "experiments/cut-or-clear/experiment.toml"


def small(**changes) -> Experiment:
    mat = np.zeros((8, 8))
    mat[2:6, 2:6] = 0.9
    hosts = {"x": [6.0, 9.0], "y": [6.0, 9.0], "state": ["fruiting", "fruiting"], "top_light": [1.0, 1.0]}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts, background_seed=50.0)
    # two hours a year cut both hosts, but don't clear the mat; two hundred clear it
    strategies = (
        Strategy("no action"),
        Strategy("cut", tasks=[Task("cut", order="fruiting first")]),
        Strategy("pull", tasks=[Task("pull")]),
    )
    crews = (Crew("staff", {"winter": 2.0}),)
    values = {"years": 3, "replicates": 8, "notice": "Invented."} | changes
    return Experiment("Flip test", site, spreadsim.load_vine("wintercreeper"), crews, strategies, **values)


def test_axes_are_read_as_typed():
    experiment = small()
    assert read_axis(experiment, "hours=1:3", 3).values == (1.0, 2.0, 3.0)
    assert read_axis(experiment, "hours=3,1", 8).values == (1.0, 3.0)
    assert read_axis(experiment, "start=1:3", 9).values == (1, 2, 3)
    assert read_axis(experiment, "spray", 8).values == ("allowed", "not allowed")
    speed = experiment.vine["mat.front_speed"]
    assert read_axis(experiment, "front-speed", 2).values == (speed.low, speed.high)
    assert read_axis(experiment, "crews.staff.pace=0.5:1", 2).values == (0.5, 1.0)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("ours", 'factor "ours": found no such thing'),
        ("hours=2:1", 'hours: found "2:1", allowed LOW:HIGH'),
        ("hours=a", 'hours: found "a"'),
        ("hours=1", "hours: found one value"),
        ("hours=-1:1", "hours=-1.0: "),
        ("budget", r"budget: found an experiment without \[\[funds\]\]"),
        ("front-speed=0.1:99", "front-speed="),
        ("crews.staff.pace", "found no values, allowed"),
    ],
)
def test_what_is_no_axis_is_named(text, told):
    with pytest.raises(InputError, match=told):
        read_axis(small(), text, 3)


def test_an_axis_changes_what_it_says_and_nothing_else():
    experiment = small()
    twice = changed(experiment, read_axis(experiment, "hours=1:2", 2), 2.0)
    assert twice.crews[0].hours == (4.0, 0.0, 0.0, 0.0)
    assert dataclasses.replace(twice, crews=experiment.crews) == experiment
    late = changed(experiment, read_axis(experiment, "start=1:3", 3), 3)
    assert late.crews[0].years == (3, None)
    none = changed(experiment, read_axis(experiment, "outside-seed=0:1", 2), 0.0)
    assert none.site.background_seed == 0.0 and experiment.site.background_seed == 50.0
    dry = changed(experiment, read_axis(experiment, "spray", 2), "not allowed")
    sprays = {"foliar-spray", "spot-spray"}
    assert not sprays & set(dry.crews[0].may) and "cut" in dry.crews[0].may


def test_the_answer_flips_where_it_must():
    """Seed and mat cost as much as is said: with two hours stems win, with all hours the mat."""
    experiment = small()
    goals = make_goals({"weights": {"seeds_exported": 1e-3, "infested_area": 1e-3}})
    along = read_axis(experiment, "hours=1,100", 2)
    against = read_axis(experiment, "start=1,3", 2)
    seen = []
    grid = flips(experiment, along, against, goals=goals, replicates=8, progress=lambda *done: seen.append(done))
    assert seen[-1] == (4, 4)
    for row in range(2):
        for column in range(2):
            point = changed(changed(experiment, along, along.values[column]), against, against.values[row])
            scores = []
            for strategy in point.strategies:
                data = simulate(
                    point.site,
                    point.vine,
                    strategy,
                    crews=point.crews,
                    years=3,
                    replicates=8,
                    seed=point.seed,
                    maps="none",
                )
                scores.append(
                    1e-3 * (data["seeds_exported"].sum("year") + data["infested_area"].isel(year=-1)).to_numpy()
                )
            wanted = np.array(scores)
            np.testing.assert_allclose(grid["mean"][row, column], wanted.mean(axis=1), rtol=1e-12)
            assert int(grid["choice"][row, column]) == wanted.mean(axis=1).argmin()
            ties = (wanted == wanted.min(axis=0)) / (wanted == wanted.min(axis=0)).sum(axis=0)
            np.testing.assert_allclose(grid["best"][row, column], ties.mean(axis=1))
    text = " ".join(flip_sentences(grid))
    winners = {str(grid["strategy"].values[at]) for at in np.unique(grid["choice"])}
    assert all(f'"{name}"' in text for name in winners)
    assert ("does not flip" in text) == (len(winners) == 1)
    figure = flips_map(grid, notice="Invented.")
    told = [one.get_text() for one in figure.axes[0].texts]
    assert len(told) == 4 and all(any(sign in one for sign in "●■▲*") for one in told)
    hatched = [patch.get_hatch() for patch in figure.axes[0].patches]
    assert [bool(one) for one in hatched] == [not bool(one) for one in grid["sure"].to_numpy().ravel()]


def test_what_is_beaten_in_each_of_the_first_worlds_is_not_run_in_the_others():
    """Seed alone, two hours a year: no action bears it in every world, so that it is dropped; the rest stays exact."""
    experiment = small()
    goals = make_goals({"weights": {"seeds_exported": 1, "infested_area": 1e-3}})
    along, against = read_axis(experiment, "hours=3,4", 2), read_axis(experiment, "start=1,2", 2)
    whole = flips(experiment, along, against, goals=goals, replicates=50)
    assert set(np.unique(whole["worlds"])) == {FIRST, 50}
    scores = spreadsim.scores(spreadsim.compare(changed(experiment, along, 3.0), replicates=50), goals)["score"]
    here = whole.isel(along=0, against=0)
    stayed = here["strategy"].values[here["worlds"].values == 50]
    exact = spreadsim.regret(scores.sel(strategy=stayed))
    for name in ("mean", "best", "regret", "regret_low"):
        np.testing.assert_allclose(here[name].sel(strategy=stayed), exact[name], rtol=1e-12)
    dropped = here.sel(strategy="no action")
    first = scores.isel(replicate=slice(FIRST))
    assert (first.sel(strategy="no action") > first.sel(strategy=exact.attrs["choice"])).all()
    assert float(dropped["best"]) == 0 and 0 < float(dropped["best_high"]) < 0.2
    behind = first.sel(strategy="no action") - first.sel(strategy=exact.attrs["choice"])
    assert float(dropped["mean"]) == pytest.approx(float(exact["mean"].min() + behind.mean()))
    assert "first 25 worlds" in " ".join(flip_sentences(whole))


def test_what_an_axis_does_not_touch_is_run_once():
    """Hours don't touch no action, so they turn faster, whichever side they are on."""
    experiment = small()
    hours, speed = read_axis(experiment, "hours=1:2", 2), read_axis(experiment, "front-speed", 2)
    assert in_order(experiment, hours, speed) == [(0, 0), (0, 1), (1, 0), (1, 1)]
    assert in_order(experiment, speed, hours) == [(0, 0), (1, 0), (0, 1), (1, 1)]


def test_limits_and_equal_axes_are_refused():
    experiment = small()
    hours = read_axis(experiment, "hours", 2)
    with pytest.raises(InputError, match="found hours twice"):
        flips(experiment, hours, hours)
    limited = make_goals({"limits": [{"outcome": "fruiting_hosts", "under": 5}]})
    with pytest.raises(InputError, match="found limits"):
        flips(experiment, hours, read_axis(experiment, "start", 2), goals=limited)
    with pytest.raises(InputError, match='strategy: found "mow"'):
        flips(experiment, hours, read_axis(experiment, "start", 2), strategies=["mow"])


def test_the_command_answers_first_and_writes_files(tmp_path):
    arguments = [
        "flips",
        EXPERIMENT,
        "--along",
        "hours=0.5,1",
        "--against",
        "spray",
        "--replicates",
        "2",
        "--out",
        str(tmp_path),
    ]
    done = CliRunner().invoke(cli, [*arguments, "--strategy", "no action", "--strategy", "cut climbing stems first"])
    assert done.exit_code == 0, done.output
    assert done.output.startswith('"cut climbing stems first" has the least 0.01 x infested area + 0.001 x seed')
    assert "Limits do not count on a grid" in done.output and "fruiting hosts under 5" in done.output
    assert max(map(len, done.output.splitlines()[:5])) <= 80
    assert {path.name for path in tmp_path.iterdir()} == {"flips.nc", "flips.csv", "flips.png", "flips.svg"}
