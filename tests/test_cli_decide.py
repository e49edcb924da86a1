"""The command decide: what it prints, writes and answers to the shell."""

import csv

import pytest

from spreadsim import cli, store
from tests.analysis.synthetic import NAMES, outcomes

GOALS = """
[goals]
weights = { infested_area = 0.1, net_present_cost = 1 }
[[goals.limits]]
outcome = "seeds_exported"
most = 1e5
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("results")
    store.write(outcomes(replicates=80), where / "outcomes.nc")
    return where


def test_it_chooses_prints_and_writes(folder, tmp_path, capsys):
    goals = tmp_path / "goals.toml"
    goals.write_text(GOALS)
    assert cli.main(["decide", str(folder), "--goals", str(goals)]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Choose ")
    assert "How sure" in text and "Limit: seed leaving the site at most 100,000 in every year" in text
    assert max(map(len, text.split("\n\nWritten to")[0].splitlines())) <= 80
    names = ("decide.txt", "decide.csv", "decide-parts.csv", "decide-pairs.csv", "decide-facts.csv")
    assert {file.name for file in folder.iterdir()} >= set(names)
    with (folder / "decide.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert {row["strategy"] for row in rows} == set(NAMES)
    with (folder / "decide-parts.csv").open() as file:
        parts = list(csv.DictReader(file))
    for row in rows:
        total = sum(float(part["part_of_score"]) for part in parts if part["strategy"] == row["strategy"])
        assert total == pytest.approx(float(row["mean"]))
    with (folder / "decide-pairs.csv").open() as file:
        assert len(list(csv.DictReader(file))) % 6 == 0


def test_without_goals_seed_comes_first(folder, capsys):
    assert cli.main(["decide", str(folder / "outcomes.nc")]) == 0
    assert f'Choose "{NAMES[3]}"' in capsys.readouterr().out


@pytest.mark.parametrize(
    "goals",
    [
        "[gaols]\n",
        "[goals]\norder = ['joy']\n",
        "[goals]\nlimits = 3\norder = ['hours']\n",
        "[goals]\n[[goals.limits]]\nno = 'spray'\n",
    ],
)
def test_bad_goals_are_told_without_a_traceback(folder, tmp_path, capsys, goals):
    file = tmp_path / "goals.toml"
    file.write_text(goals)
    assert cli.main(["decide", str(folder), "--goals", str(file)]) == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told and ("goals" in told or "input" in told)


def test_a_folder_without_results_is_told(tmp_path, capsys):
    assert cli.main(["decide", str(tmp_path)]) == 2
    assert "outcomes.nc" in capsys.readouterr().err
