"""Scouting first against what the same runs say, and designed samples against a score that one parameter decides."""

import numpy as np
import pytest
from click.testing import CliRunner

import spreadsim
from spreadsim import InputError
from spreadsim.analysis.goals import make_goals
from spreadsim.analysis.sensitivity_words import designed_lines
from spreadsim.cli import cli
from spreadsim.planning.designed import designed_sensitivity
from spreadsim.planning.scouting import scout_first
from tests.planning.test_flips import small

GOALS = make_goals({"weights": {"seeds_exported": 1}})


def test_scouting_first_is_the_same_strategy_with_a_look_before_it():
    """All is known here, so that scouting finds nothing, and can only take hours from the work."""
    found = scout_first(small(), "cut", hours=[2.0, 0.5], goals=GOALS, replicates=30)
    assert found["hours"].values.tolist() == [0, 0.5, 2]
    plain = spreadsim.scores(spreadsim.compare(small(), replicates=30), GOALS)["score"].sel(strategy="cut")
    assert float(found["mean"][0]) == pytest.approx(float(plain.mean()))
    assert (found["gain_low"] <= 0).all()
    assert found.attrs["hours"] == 0 and found.attrs["sentence"].startswith("Scouting first is not surely worth")
    with pytest.raises(InputError, match='strategy: found "mow", allowed one of "cut", "pull"'):
        scout_first(small(), "mow")


def test_hidden_hosts_make_a_look_worth_its_hours():
    found = scout_first(hidden(), "cut", hours=[20.0], goals=GOALS, replicates=30)
    assert found.attrs["hours"] == 20 and found.attrs["sentence"].startswith("Scout first, for about 20 h")
    assert float(found["gain_low"].sel(hours=20)) > 0 and float(found["better"].sel(hours=20)) > 0.5


def hidden() -> spreadsim.Experiment:
    """Fruiting hosts that nobody knows of; forty hours a winter, which are of no use until they are found."""
    hosts = {
        "x": [6.0, 9.0, 12.0],
        "y": [6.0, 9.0, 4.0],
        "state": ["fruiting"] * 3,
        "top_light": [1.0] * 3,
        "known": [False] * 3,
    }
    site = spreadsim.Site.from_arrays(2.0, mat=np.zeros((8, 8)), hosts=hosts)
    strategies = (spreadsim.Strategy("cut", tasks=[spreadsim.Task("cut")]),)
    crews = (spreadsim.Crew("staff", {"winter": 40.0}),)
    vine = spreadsim.load_vine("wintercreeper")
    return spreadsim.Experiment("Hidden", site, vine, crews, strategies, years=3)


@pytest.fixture(scope="module")
def designed():
    names = ["seed.crop_spread", "mat.front_speed", "pull.mat_kill"]
    goals = make_goals({"weights": {"infested_area": 1}})
    return designed_sensitivity(
        small(), names, goals=goals, strategies=["no action", "cut"], samples=16, replicates=1, workers=1
    )


def test_a_design_finds_what_alone_decides(designed):
    """Ground in no action grows by the front: neither the spread of crops nor what pulling kills moves it much."""
    assert designed.attrs["points"] == 16 * 5
    row = designed.sel(target="no action")
    assert row["parameter"].values[int(row["total"].to_numpy().argmax())] == "mat.front_speed"
    assert float(row["total"].sel(parameter="mat.front_speed")) > 0.8
    # nobody pulls in either, so that it moves nothing at all: exactly, luck being the same
    assert float(row["total"].sel(parameter="pull.mat_kill")) == 0
    assert (designed["total_error"] >= 0).all()
    assert designed["target"].values.tolist() == ["no action", "cut", "cut minus no action"]
    assert "how fast the edge of a mat advances (mat.front_speed)" in designed_lines(designed)[0]


@pytest.mark.parametrize(
    ("names", "samples", "told"),
    [
        (["mat.front_speed"], 16, "allowed two or more"),
        (["mat.front_speed", "seed.germination"], 16, "take seed.patches_founded instead"),
        (["mat.front_speed", "mat.colour"], 16, "mat.colour"),
        (["mat.front_speed", "climb.climb_rate"], 12, "samples: found 12, allowed a power of two"),
        (["mat.front_speed", "birds.kernel_p"], 16, "allowed parameters that are drawn"),
    ],
)
def test_what_cannot_be_designed_is_named(names, samples, told):
    with pytest.raises(InputError, match=told):
        designed_sensitivity(small(), names, samples=samples)


def test_the_question_is_answered_on_the_command_line(tmp_path):
    done = CliRunner().invoke(cli, ["ask", "scout", "--help"])
    assert done.exit_code == 0 and "Say whether to scout before the first work season" in done.output
