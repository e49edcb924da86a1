"""Planning again: known answers, sentences, and a steward's year from files alone."""

import csv
import dataclasses
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, Fund, InputError, Start, Strategy, Survey, Task, Weather, read_log
from spreadsim.cli import cli, main
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.learning.again import Again, Learned
from spreadsim.learning.ahead_words import ahead_rows, ahead_sentences
from spreadsim.learning.changed_words import changed_rows, changed_sentences, plan_sentences
from spreadsim.learning.measured import MEASURED
from spreadsim.learning.task import Said, task_of
from spreadsim.learning.worlds import Worlds
from spreadsim.views.ahead_chart import ahead_alt, ahead_chart
from tests.log import wood

from . import small
from .inventing import DAY
from .small import MAPPED, YEARS, site
from .test_learn import files

COUNT = 40
NOTHING = Survey("none.csv", ())
LACKED = {"overlooked_patches": (0.0, 0.0), "overlooked_hosts": (0.0, 0.0)}


@cache
def experiment() -> Experiment:
    return dataclasses.replace(small.experiment(), years=YEARS + 3)


def started(asked: Experiment, survey: Survey, count: int = COUNT, **more) -> Learned:
    said = {"strategy": "a little", "since": MAPPED, "on": str(DAY), **LACKED, **more}
    found = spreadsim.learn(asked, survey, replicates=count, **said)
    return Learned(spreadsim.start_of(asked, survey, found, replicates=count, **said), found)


@cache
def of_nothing(done: float = 1.0) -> Again:
    """What comes of a survey that says nothing."""
    return spreadsim.plan_again(experiment(), started(experiment(), NOTHING, done=done))


def cleared() -> Survey:
    """All hosts are bare, and all old mats but one cell of one are gone: people looked long, all over."""
    gone = [Record("line 1", "made", False, (DAY, DAY), host=f"H{j}", state="bare") for j in range(len(site().hosts))]
    looked = [Record("line 2", "made", False, (DAY, DAY), name) for name in site().unit_names]
    left = Record("line 3", "made", True, (DAY, DAY), xy=(22.0, 138.0), quantity=("8", "m2"))
    return Survey("cleared.csv", (Visit("made", 60.0, None, "", (*gone, *looked, left)),))


def test_a_survey_that_says_nothing_gives_the_plain_comparison_from_then_on():
    """Under the strategy that was done, the years that remain are those of a comparison from the map, bit for bit."""
    found = of_nothing().outcomes.sel(strategy="a little")
    plain = spreadsim.compare(experiment(), replicates=COUNT).sel(strategy="a little")
    plain = plain.sel(year=slice(YEARS, None))
    assert found["year"].to_numpy().tolist() == [3, 4, 5, 6]
    assert found["replicate"].to_numpy().tolist() == list(range(COUNT))
    for name in ("infested_area", "mat_area", "climbed_hosts", "fruiting_hosts", "native_cover", "occupancy"):
        np.testing.assert_array_equal(found[name].to_numpy(), plain[name].to_numpy(), name)
    for name in ("seeds_exported", "new_patches", "hours"):  # flows begin with the year after
        now, then = (one[name].sel(year=slice(YEARS + 1, None)) for one in (found, plain))
        np.testing.assert_array_equal(now.to_numpy(), then.to_numpy(), name)


def test_then_nothing_comes_from_survey_or_work():
    changes = of_nothing().changed
    assert not changes["part"].to_numpy().any() and not changes["change"].to_numpy().any()
    told = list(changed_sentences(changes, of_nothing().learned))
    assert len(told) == 3 and all("no change that can be told from none" in text for text in told)
    assert any(
        "comes out best on average is that of last year" in text
        for text in plan_sentences(of_nothing().before, of_nothing().outcomes)
    )


def test_where_nobody_worked_we_are_not_ahead_of_no_work():
    found = of_nothing(0.0).ahead
    assert not found["difference"].sel(against="untreated").to_numpy().any()
    assert (found["same"].sel(against="untreated") == 1).all()
    np.testing.assert_array_equal(found["value"].sel(when="now"), found["value"].sel(when="untreated"))
    told = " ".join(ahead_sentences(found))
    assert (
        "had nobody worked? No difference on infested area, living cover of mat, climbed hosts and fruiting hosts."
        in told
    )


def test_the_state_then_is_the_map_and_untreated_is_no_action():
    found = of_nothing().ahead
    plain = spreadsim.compare(experiment(), replicates=COUNT).sel(strategy="no action")
    for name in MEASURED:
        np.testing.assert_array_equal(found["value"].sel(measure=name, when="then"), plain[name].sel(year=0))
        np.testing.assert_allclose(
            found["value"].sel(measure=name, when="untreated"), plain[name].sel(year=YEARS), rtol=1e-9
        )
    assert (found["difference"].sel(against="untreated", measure="infested_area") < 0).all()


@cache
def after_clearing() -> Again:
    crews = (Crew("staff", 400.0, price=30.0),)
    tasks = (Task("cut"), Task("pull", follow_up=FollowUp(1, 2)))
    asked = dataclasses.replace(experiment(), crews=crews, strategies=(Strategy("a little", tasks=tasks),))
    return spreadsim.plan_again(asked, started(asked, cleared(), 120))


def test_where_work_plainly_helped_we_are_ahead_and_surely_so():
    found = after_clearing().ahead
    told = " ".join(ahead_sentences(found))
    assert 40 < found.attrs["effective_worlds"] < 50  # so few give no surer word, though all have less
    assert (
        "ahead of last year? Yes on infested area (very likely), living cover of mat (very likely), climbed ho" in told
    )
    assert (
        "had nobody worked? Yes on infested area (very likely), living cover of mat (very likely), climbed ho" in told
    )
    for against in ("then", "untreated"):
        one = found.sel(against=against, measure="climbed_hosts")
        assert float(one["less"]) == 1.0 and float(one["difference_high"]) < 0.0
    low, high = (float(found[end].sel(measure="infested_area", when="now")) for end in ("low", "high"))
    assert low <= float(found["mean"].sel(measure="infested_area", when="now")) <= high < 100.0
    assert float(found["mean"].sel(measure="infested_area", when="then")) > 400.0


def test_the_parts_are_the_whole():
    survey = Survey(
        "two.csv",
        (Visit("made", 3.0, None, "", (
            Record("line 1", "made", False, (DAY, DAY), "east"), Record("line 2", "made", False, (DAY, DAY), "west <b>"),
            Record("line 3", "made", True, (DAY, DAY), xy=(94.0, 94.0), quantity=("60", "m2")),
            *(Record("line 4", "made", True, (DAY, DAY), host=f"H{j}", state="fruiting") for j in range(80, 100)),
        )),),
    )  # fmt: skip
    found = spreadsim.plan_again(experiment(), started(experiment(), survey, done=0.3))
    changes = found.changed
    np.testing.assert_allclose(changes["part"].sum("cause"), changes["change"], rtol=1e-9)
    np.testing.assert_allclose(changes["now"] - changes["then"], changes["change"], rtol=1e-9)
    assert (changes["change_low"] <= changes["change"]).all() and (changes["change"] <= changes["change_high"]).all()
    fruiting = changes.sel(measure="fruiting_hosts")
    assert float(fruiting["part_low"].sel(cause="places")) > 0.0  # twenty that nobody knew of
    told = " ".join(changed_sentences(changes, found.learned))
    assert "comes from where it was found and where not" in told
    rows = changed_rows(changes)
    assert len(rows) == 1 + 3 * 6 and rows[0][:4] == ("measure", "unit", "strategy", "what")
    assert len(ahead_rows(found.ahead)) == 1 + 12
    story = list(found.story("us"))
    assert any(" ft2 " in text or "acres" in text for text in story)


def test_a_world_without_anything_unknown_is_not_amended():
    """No birds, no hosts, one known mat that stands still: looking finds what is known, and nothing changes."""
    mat = np.zeros((20, 20))
    mat[5:9, 5:9] = 1.0
    vine = spreadsim.load_vine("wintercreeper")
    alone = spreadsim.Site.from_arrays(4.0, mat=mat, title="A mat")
    asked = Experiment("Alone", alone, vine, (Crew("staff", 1.0),), (Strategy("a little"),), years=4, replicates=20)
    looked = (Record("line 1", "made", False, (DAY, DAY), xy=(60.0, 60.0)),)
    survey = Survey("looked.csv", (Visit("made", 1.0, 6400.0, "", looked),))
    known = started(asked, survey, 20)
    assert not len(known.start.cell) and not len(known.start.host)
    found = spreadsim.plan_again(asked, known)
    assert not found.ahead["difference"].sel(against="untreated").to_numpy().any()


def test_the_picture_and_its_words():
    found = after_clearing().ahead
    figure = ahead_chart(found)
    titles = [axes.get_title("left") for axes in figure.axes]
    assert titles[2:] == ["Climbed hosts", "Fruiting hosts"] and titles[0].startswith("Infested area")
    assert "when the map was made" in ahead_alt(found) and "had nobody worked" in ahead_alt(found)


def test_what_does_not_belong_is_refused(tmp_path):
    known = started(experiment(), NOTHING)
    before = of_nothing().before
    other = dataclasses.replace(experiment(), years=5)
    with pytest.raises(InputError, match="before: found 6 years, allowed 5"):
        spreadsim.plan_again(other, known, before=before)
    with pytest.raises(InputError, match="begins from a survey, allowed one that begins from the map"):
        spreadsim.plan_again(experiment(), known, before=of_nothing().outcomes)
    with pytest.raises(InputError, match=r"start\.nc: .*nothing, allowed what spreadsim learn wrote"):
        spreadsim.plan_again(experiment(), tmp_path)
    with pytest.raises(InputError, match="begins elsewhere"):
        spreadsim.ahead(experiment(), known.start, known.dataset, before)
    with pytest.raises(InputError, match="found other worlds than those of the start"):
        strangers = known.dataset.assign_coords(replicate=known.dataset["replicate"] + 1000)
        spreadsim.ahead(experiment(), known.start, strangers, of_nothing().outcomes)


YEAR = """
title = "A wood"
notice = "Invented."
years = 4
replicates = 30
vine = "wintercreeper"
[site]
file = "site.toml"
[[crews]]
name = "staff"
hours = 12
[[strategies]]
name = "cut"
[[strategies.tasks]]
treatment = "cut"
[[strategies]]
name = "pull"
[[strategies.tasks]]
treatment = "pull"
follow_up = { every = 4, clean = 2 }
"""
FOUND = """eventID,eventDate,locationID,x,y,host,state,occurrenceStatus,organismQuantity,organismQuantityType,hours
A,2024-12-10,west,,,,,present,120,m2,2
A,2024-12-10,west,60,70,,,present,,,2
A,2024-12-10,west,,,H1,climbing,present,,,2
B,2024-12-11,east,,,,,absent,,,1
"""


def run(*arguments: object) -> str:
    answer = CliRunner().invoke(cli, [str(one) for one in arguments])
    assert answer.exit_code == 0, answer.output
    return answer.output


def test_a_stewards_year_from_files_alone(tmp_path):
    path = files(tmp_path)
    path.write_text(YEAR)
    (tmp_path / "found.csv").write_text(FOUND)
    results, learned, again = (tmp_path / name for name in ("results", "learned", "again"))
    run("compare", path, "--out", results)
    run("worklist", path, "--strategy", "cut", "--out", tmp_path / "list")
    said = ("--survey", tmp_path / "found.csv", "--strategy", "cut", "--done", 0.67, "--since", "2023-12-05")
    told = run("learn", path, *said, "--replicates", 60, "--out", learned)
    assert "spreadsim again" in told and (learned / "start.nc").is_file()
    told = run("again", path, "--learned", learned, "--before", results, "--out", again)
    plain = " ".join(told.split())
    for text in (
        "Invented.",
        "Are we ahead of last year?",
        "Had nobody worked",
        "Last year's answer was:",
        "years 2 to 4",
    ):
        assert text in plain
    assert max(map(len, told.split("Files in")[0].splitlines())) <= 80
    written = {one.name for one in again.iterdir()}
    assert {"outcomes.nc", "summary.txt", "ahead.csv", "changed.csv", "ahead.png", "ahead.svg", "maps.png"} <= written
    rows = list(csv.DictReader((again / "ahead.csv").open()))
    assert [row["when"] for row in rows[:3]] == ["then", "now", "untreated"]
    assert "Choose" in run("decide", again)
    run("worklist", again, "--strategy", "pull", "--seasons", 2, "--out", tmp_path / "next")
    assert next(csv.DictReader((tmp_path / "next" / "worklist.csv").open()))["year"] == "2"
    path.write_text('start = "learned/start.nc"\n' + YEAR)  # as again says
    run("compare", path, "--out", tmp_path / "same")
    with (
        spreadsim.open_outcomes(tmp_path / "same" / "outcomes.nc") as one,
        spreadsim.open_outcomes(again / "outcomes.nc") as two,
    ):
        np.testing.assert_array_equal(one["infested_area"], two["infested_area"])
    told = run("learn", path, *said, "--replicates", 60, "--out", tmp_path / "twice")  # from the map all the same
    with xr.open_dataset(learned / "learned.nc") as one, xr.open_dataset(tmp_path / "twice" / "learned.nc") as two:
        xr.testing.assert_identical(one.load(), two.load())


def test_again_names_what_is_missing(tmp_path, capsys):
    path = files(tmp_path)
    assert main(["again", str(path), "--learned", str(tmp_path / "no"), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err
    assert "start.nc" in told and "learned.nc" in told and "Traceback" not in told
    assert not Path(tmp_path / "out").exists()


def test_work_from_a_log_is_run_again_as_it_was_learned_from(tmp_path):
    """No day was fit to spray and the money is for others, but the log says that it was sprayed: so it was, each time."""
    asked = dataclasses.replace(
        wood.experiment(), years=4, weather=Weather((0.0, 0.0, 0.0, 0.0)), funds=(Fund("grant", 100.0, crews=("staff",)),)
    )  # fmt: skip
    text = "2025-09-14,west,,,foliar-spray,staff,6,1,yes,,,,\n2025-06-14,'=1+1,,,tarp,staff,20,1,yes,,,,\n2026-01-11,west,,pull,,friends,7,4,yes,,,,"
    wood.take(tmp_path, text, experiment=asked)
    survey, said = Survey("none.csv", ()), {"log": tmp_path / "log", "on": "2026-12-10", **LACKED}
    found = spreadsim.learn(asked, survey, replicates=20, **said)
    start = spreadsim.start_of(asked, survey, found, replicates=20, **said)
    again = spreadsim.plan_again(asked, Learned(start, found))
    task = task_of(
        asked,
        survey,
        Said(
            None,
            1.0,
            None,
            "2026-12-10",
            False,
            False,
            None,
            (0.0, 0.0),
            (0.0, 0.0),
            0.2,
            read_log(asked, tmp_path / "log"),
        ),
        20,
        None,
    )
    values = dict(start.values)
    worlds = Worlds(task.experiment, task.strategy, 8, []).others([int(n) for n in start.numbers], values)
    known = [world.cells.size for world in worlds.each(lambda world: world, 1)]
    first = again.outcomes.isel(year=0, strategy=0)
    area = [float((world.cover).sum()) * wood.CELL**2 for world in worlds.each(lambda world: world, 1)]
    np.testing.assert_allclose(first["mat_area"], area, atol=max(known) * wood.CELL**2 / 250)
    np.testing.assert_array_equal(first["fund_left"], 100.0)
    less = again.ahead["difference"].sel(measure="infested_area", against="untreated")
    assert float(less) < -5.0  # the patch that was sprayed, not the pulling alone
    assert any("What was paid so far is not in a log" in text for text in again.story())


def test_starts_are_what_they_say():
    start = started(experiment(), NOTHING, done=0.5).start
    assert isinstance(start, Start) and start.crews[0].hours == (2.0, 2.0, 2.0, 2.0) and start.years == YEARS
