"""Goals that an experiment carries: read, checked, embedded, decided by; limits and money with known answers."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim import Experiment, InputError, Site, Strategy, cli, store
from spreadsim.analysis.own_goals import goals_in, goals_words
from spreadsim.inputs.embed import GOALS, embed, unembed
from spreadsim.runs.points import stamp_of
from tests.analysis.synthetic import NAMES, outcomes

FILE = """
title = "Goals"
years = 6
vine = "wintercreeper"
[site]
cell_size = 5
width = 50
height = 50
unit_names = ["slope"]
"""
GOALS_TABLE = {
    "weights": {"infested_area": 0.5, "net_present_cost": 2},
    "discount": 0.05,
    "limits": [{"outcome": "fruiting_hosts", "under": 5, "by": 5}, {"no": "spray", "unit": "slope"}],
}


def small(**changes) -> Experiment:
    site = Site.from_arrays(5.0, mat=np.zeros((4, 4)), units=np.ones((4, 4), int), unit_names=["slope"])
    return Experiment("Goals", site, spreadsim.load_vine("wintercreeper"), (), (Strategy("no action"),), **changes)


def test_goals_go_with_the_outcomes_and_decide_no_number():
    experiment = small(goals=GOALS_TABLE)
    attrs, variables = embed(experiment)
    data = xr.Dataset({name: parts for name, parts in variables.items()}, attrs=attrs)
    assert unembed(data).goals == GOALS_TABLE
    assert goals_in(data) == spreadsim.goals_of(experiment)
    assert stamp_of(experiment) == stamp_of(small())
    changed = data.assign({GOALS: data[GOALS] + np.uint8(1)})
    with pytest.raises(InputError, match=GOALS):
        unembed(changed)
    assert goals_in(outcomes()) is None and spreadsim.goals_of(small()) is None


def test_what_goals_ask_of_an_experiment_that_lacks_it_is_told_all_at_once():
    wrong = {
        "year": 31,
        "limits": [{"no": "spray", "unit": "moor"}, {"no": "paint"}, {"outcome": "hours", "most": 1, "by": 40}],
    }
    with pytest.raises(InputError) as caught:
        spreadsim.goals_of(small(goals=wrong))
    told = [problem.place for problem in caught.value.details]
    assert told == ["goals.limits[0].unit", "goals.limits[1].no", "goals.limits[2].by", "goals.year"]
    with pytest.raises(InputError, match=r"goals: found .*allowed a table"):
        small(goals={"weights": {"hours": float("nan")}})


def test_check_tells_faults_of_goals_with_all_others(tmp_path: Path, capsys):
    file = tmp_path / "experiment.toml"
    file.write_text(FILE.replace("years = 6", "years = 0") + '[goals]\norder = ["joy"]\n')
    assert cli.main(["check", str(file)]) == 2
    told = capsys.readouterr().err
    assert "years: found 0" in told and 'goals.order[0]: found "joy"' in told
    file.write_text(
        FILE + '[goals]\norder = ["infested_area"]\n[[goals.limits]]\noutcome = "hours"\nmost = 1\nby = 9\n'
    )
    assert cli.main(["check", str(file)]) == 2
    assert f"{file}: goals.limits[0].by: found 9, allowed 1 to 6" in capsys.readouterr().err
    file.write_text(FILE + "[goals]\nweights = { infested_area = 1 }\n")
    assert cli.main(["check", str(file)]) == 0
    assert "Judged by: the least of 1 x infested area." in capsys.readouterr().out


def test_never_over_200_hours_is_broken_as_often_as_it_is():
    dataset = outcomes(replicates=60)
    hours = dataset["hours"].values
    hours[1:, :, 1:] = 20.0  # 160 h a year
    hours[2, :15, 9, 0, 0] = 61.0  # in 15 worlds of 60 one year of 201
    hours[3, :, :, 3, 1] = 60.0  # 200 exactly, which is not over
    goals = spreadsim.make_goals({"weights": {"infested_area": 1}, "limits": [{"outcome": "hours", "most": 200}]})
    found = spreadsim.decide(dataset, goals)
    assert found.broken["share"].values.tolist() == [[0, 0, 0.25, 0]]
    assert not found.options["within"].sel(strategy=NAMES[2])
    assert found.choice == NAMES[3] and found.reason == "best within the limits"


def test_hosts_under_five_by_year_five_counts_from_then_on():
    dataset = outcomes(replicates=60)
    hosts = dataset["fruiting_hosts"].values
    hosts[:] = 9
    hosts[1:, :, 5:] = 4
    hosts[2, :6, 30] = 5  # in a tenth of worlds once more, at the end
    hosts[3, :, 5] = 5  # a year too late
    limit = {"outcome": "fruiting_hosts", "under": 5, "by": 5}
    goals = spreadsim.make_goals({"order": ["infested_area"], "limits": [limit]})
    found = spreadsim.decide(dataset, goals)
    assert found.broken["share"].values.tolist() == [[1, 0, 0.1, 1]]
    assert found.options["within"].values.tolist() == [False, True, True, False]
    assert found.choice == NAMES[2]  # less ground than strategy 1


def test_weights_of_money_and_ground_give_the_score_by_hand():
    """50 USD a season and task of 50 and 25 h at 20 USD: 6,000 USD a year; 3 % over 30 years: 19.6004413 (annuity)."""
    dataset = outcomes(replicates=60)
    goals = spreadsim.make_goals({"weights": {"infested_area": 0.5, "net_present_cost": 2}})
    scored = spreadsim.scores(dataset, goals)
    annuity = (1 - 1.03**-30) / 0.03
    wanted = 0.5 * dataset["infested_area"].sel(year=30) + 2 * 6000 * annuity * (dataset["strategy"] != NAMES[0])
    np.testing.assert_allclose(scored["score"].values, wanted.transpose("strategy", "replicate").values)


def test_words_of_goals_in_both_systems():
    limits = [{"outcome": "infested_area", "under": 8093.7128448}, {"outcome": "hours", "most": 200, "by": 3}]
    goals = spreadsim.make_goals({"order": ["native_cover", "cost"], "limits": limits})
    assert goals_words(goals, "us") == (
        "Judged by: the most native cover, then the least cost; within these limits: infested area under 2.00 acres in "
        "every year; hours worked at most 200 h from the end of year 3 on."
    )
    assert "0.809 ha" in goals_words(goals)


def test_decide_takes_the_goals_of_the_experiment_and_shows_acres(tmp_path, capsys):
    goals = {"weights": {}, "order": ["infested_area"]}
    strategies = tuple(Strategy(name) for name in NAMES)
    experiment = dataclasses.replace(small(goals=goals), strategies=strategies)
    attrs, variables = embed(experiment)
    dataset = outcomes(replicates=60, shape=None)
    dataset = dataset.assign({name: parts for name, parts in variables.items()}).assign_attrs(attrs)
    store.write(dataset, tmp_path / "outcomes.nc")
    assert cli.main(["decide", str(tmp_path), "--units", "us"]) == 0
    text = capsys.readouterr().out
    assert "Score: infested area, acres" in text and "Judged by: the least infested area." in text
    assert "Goals are those that the experiment had when it was run" in text
    acres = float(dataset["infested_area"].sel(strategy=NAMES[3], year=30).mean()) / 4046.8564224
    assert f"{acres:.2f}" in text
