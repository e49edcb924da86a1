"""The command look: what it prints, writes and answers to the shell."""

import csv
import dataclasses

import pytest

import spreadsim
from spreadsim import cli
from spreadsim.inputs import write_start
from spreadsim.views import style
from tests.learning import small
from tests.learning.test_next_look import clean

ASK = ["--strategy", "no action", "--after", "5", "--horizon", "2", "--size", "40", "--replicates", "20"]


@pytest.fixture
def experiment(monkeypatch, tmp_path):
    """The small site, on a place on earth; pictures are drawn in the first test only."""
    one = dataclasses.replace(
        small.experiment(), site=dataclasses.replace(small.site(), crs="EPSG:32616", origin=(500000.0, 4400000.0))
    )
    monkeypatch.setattr(spreadsim, "read_experiment", lambda path: one, raising=False)
    return str(tmp_path / "experiment.toml")


def no_drawing(monkeypatch):
    monkeypatch.setattr(style, "save", lambda figure, folder, name, description: [])


def test_it_says_where_prints_and_writes(experiment, tmp_path, capsys):
    out = tmp_path / "look"
    assert cli.main(["look", experiment, "--hours", "3", *ASK, "--out", str(out)]) == 0
    text, err = capsys.readouterr()
    assert err == ""
    parts = [
        "Invented.",
        "Look first in ",
        "where",
        "In order of going.",
        "How sure: ",
        "By the chance of presence alone",
    ]
    parts[5:] = ["It rests on 20 worlds", "Before anyone goes out:", "Poison ivy", "ticks", "Go in pairs", "Files in"]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)
    assert max(map(len, text.split("Files in")[0].splitlines())) <= 80
    names = {"look.txt", "look.csv", "look-curve.csv", "look.nc", "look.png", "look.svg", "look.gpkg", "look.gpx"}
    assert {path.name for path in out.iterdir()} == names
    with (out / "look.csv").open() as file:
        rows = list(csv.DictReader(file))
    hours = [float(row["hours"]) for row in rows]
    assert sum(hours) == pytest.approx(3.0)
    ranks = [int(row["rank"]) for row in rows if row["rank"] != "0"]
    assert ranks == list(range(1, len(ranks) + 1)) and all(h > 0 for h in hours[: len(ranks)])
    assert {"avoided_seeds_exported", "harm_infested_area", "chance", "chance_found", "access"} <= set(rows[0])
    assert (out / "look.gpx").read_text().count("<wpt") == len(ranks)
    assert b"<svg" in (out / "look.svg").read_bytes() and "Where to look" not in (out / "look.txt").read_text()
    first = (out / "look.svg").read_text().split("description>")[1]
    assert f"{len(ranks)} of which get some of 3 hours" in first


def test_pieces_in_the_geopackage_are_those_of_the_table(experiment, tmp_path, monkeypatch):
    pyogrio = pytest.importorskip("pyogrio")
    no_drawing(monkeypatch)
    assert cli.main(["look", experiment, "--hours", "1", *ASK, "--out", str(tmp_path)]) == 0
    about = pyogrio.read_info(tmp_path / "look.gpkg", layer="pieces")
    with (tmp_path / "look.csv").open() as file:
        assert about["features"] == len(list(csv.DictReader(file)))
    assert "32616" in about["crs"] and {"piece", "unit", "rank", "hours"} <= set(about["fields"])


def test_a_learned_state_and_nothing_unknown_in_it(experiment, tmp_path, monkeypatch, capsys):
    no_drawing(monkeypatch)
    write_start(clean(), tmp_path / "start.nc")
    out = tmp_path / "out"
    assert cli.main(["look", experiment, "--hours", "1", "--learned", str(tmp_path), "--out", str(out)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Nothing to say on where to look: in none of 20 worlds" in text and "the survey of 2024-12-01" in text
    assert (out / "look.csv").exists() and not (out / "look.gpx").exists()


def test_nothing_to_look_at_can_be_drawn(experiment, tmp_path):
    write_start(clean(), tmp_path / "start.nc")
    assert cli.main(["look", experiment, "--hours", "1", "--learned", str(tmp_path), "--out", str(tmp_path)]) == 0
    assert (tmp_path / "look.png").stat().st_size > 1000


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--hours", "-2"], "hours: found -2.0, allowed more than 0 to 10000"),
        (["--hours", "20000"], "hours: found 20000.0, allowed more than 0 to 10000"),
        (["--hours", "2", "--season", "mud"], 'season: found "mud"'),
        (["--hours", "2", "--learned", "nowhere"], "learned: found no folder nowhere"),
        (["--hours", "2", "--then", "rest"], 'then: found "rest"'),
    ],
)
def test_bad_input_is_told_without_a_traceback(experiment, tmp_path, capsys, options, told):
    assert cli.main(["look", experiment, *options, "--out", str(tmp_path / "out")]) == 2
    err = capsys.readouterr().err
    assert told in err and "Traceback" not in err
    assert not (tmp_path / "out").exists()
