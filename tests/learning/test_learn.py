"""The whole of `learn` on a small site, its words, its command, and what it refuses."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, InputError, Survey
from spreadsim.cli import cli, main
from spreadsim.inputs.survey import Event as Visit
from spreadsim.inputs.survey import Record
from spreadsim.learning.overlooked import HOSTS, PATCHES
from spreadsim.learning.seasons import first_season, season_number
from spreadsim.learning.words import fit_rows, learned_sentences, range_rows
from spreadsim.learning.worlds import Worlds, with_hours
from spreadsim.views.learned_map import learned_alt, learned_map

from .inventing import DAY, Inventor
from .small import CELL, MAPPED, YEARS, experiment, site

WORLDS = 120
STRATEGY = "a little"
TRUTH = 9008  # number of a world that no learner runs


@cache
def real_survey() -> Survey:
    runs = Worlds(experiment(), experiment().strategies[1], 4 * YEARS, [TRUTH])
    world = next(runs.each(lambda one: one, 1))
    return Inventor(site(), 1.2).survey(world, np.random.default_rng(2))


def learned_from(survey: Survey, **more) -> xr.Dataset:
    given = {"strategy": STRATEGY, "since": MAPPED, "replicates": WORLDS} | more
    return spreadsim.learn(experiment(), survey, **given)


@cache
def learned() -> xr.Dataset:
    return learned_from(real_survey())


def survey_of(*records: Record, hours: float | None = 2.0, area: float | None = None) -> Survey:
    return Survey("made.csv", (Visit("made", hours, area, "", records),))


def test_worlds_are_those_of_a_comparison():
    runs = Worlds(experiment(), experiment().strategies[1], 4 * YEARS, [3, 17])
    outcomes = spreadsim.simulate(
        site(), experiment().vine, experiment().strategies[1], crews=experiment().crews, years=YEARS,
        replicates=[3, 17], seed=experiment().seed, maps="none",
    ).sel(year=YEARS)  # fmt: skip
    for world, number in zip(runs.each(lambda one: one, 2), (3, 17), strict=True):
        row = outcomes.sel(replicate=number)
        assert (world.hosts > 0).sum() == int(row["climbed_hosts"]) > 0
        area = (world.cover * site().plantable.ravel()[world.cells]).sum() * CELL**2
        assert area == pytest.approx(float(row["mat_area"]), abs=len(world.cells) * CELL**2 / 250)
        assert runs.columns["mat.front_speed"][[3, 17].index(number)] == float(row["mat.front_speed"])


def test_a_season_in_between_does_not_depend_on_what_comes_after():
    """Six seasons end in the middle of a year that both runs hold; growth of the mat goes on in the two that follow."""
    short, long = (Worlds(experiment(), experiment().strategies[0], n, [5]) for n in (6, 8))
    assert short.engine.world.years == long.engine.world.years == 2
    early, late = (next(runs.each(lambda world: world, 1)) for runs in (short, long))
    assert set(early.cells) < set(late.cells)
    assert ((early.hosts > 0) <= (late.hosts > 0)).all()


def test_work_done_in_part_is_hours_in_part():
    crew = Crew("staff", {"winter": 8, "autumn": 4}, price=3.0)
    assert with_hours(crew, 0.5).hours == (4, 0, 0, 2) and with_hours(crew, 1.0) is crew


def test_a_survey_that_says_nothing_changes_nothing():
    found = learned_from(Survey("none.csv", ()), on=str(DAY), replicates=30)
    assert (found["weight"] == 1 / 30).all()
    assert found.sizes["statistic"] == 0 and not found["learned"].any()
    assert np.array_equal(found["range_before"], found["range_after"])
    np.testing.assert_allclose(found["mat_before"], found["mat_now"], atol=1e-7)
    assert not found["looked"].any()
    assert found.attrs["warnings"] == "The survey says nothing that can be weighed, so nothing was learned."


def test_what_is_learned_does_not_depend_on_threads():
    one, two = (learned_from(real_survey(), workers=n, replicates=600) for n in (1, 3))
    assert np.ptp(one["weight_before"].values) > 0, "worlds that were moved are to be among them"
    xr.testing.assert_identical(one, two)


def test_the_dataset_says_all():
    found = learned()
    assert float(found["weight"].sum()) == pytest.approx(1)
    assert found.attrs["seasons"] == 12 and found.attrs["surveyed"] == str(DAY)
    for name, values in found.variables.items():
        assert values.attrs.get("long_name"), name
    assert {PATCHES, HOSTS, "mat.front_speed"} <= set(found["parameter"].values)
    assert "birds.kernel_u" not in found["parameter"].values  # follows from the others
    exact = spreadsim.simulate(
        site(), experiment().vine, experiment().strategies[1], crews=experiment().crews, years=1, replicates=WORLDS,
        seed=experiment().seed, maps="none",
    )  # fmt: skip
    # the first half is drawn as in a comparison, and whatever no survey moves also after it
    value = found["value"].sel(parameter="climb.climb_rate")
    assert np.array_equal(value[: WORLDS // 2], exact["climb.climb_rate"][: WORLDS // 2])
    total = found["log_likelihood"].sum("statistic")
    weights = found["weight_before"] * np.exp(found.attrs["power"] * (total - total.max()))
    np.testing.assert_allclose(found["weight"], weights / weights.sum(), rtol=1e-9)


def test_where_mat_was_recorded_it_is_and_elsewhere_looking_counts():
    found, records = learned(), real_survey().records
    for layer in ("mat_before", "mat_now", "unknown_mat"):
        assert float(found[layer].min()) >= 0 and float(found[layer].max()) <= 1
    placed = [record.xy for record in records if record.xy]
    assert placed, "a survey without new patches tests nothing"
    for x, y in placed:
        cell = found.sel(x=x, y=y)
        assert float(cell["mat_now"]) == 1 and float(cell["unknown_mat"]) == 0 and int(cell["recorded"]) == 1
    for record in records:
        if record.host:
            assert float(found["climbed_now"][int(record.host[1:])]) == 1
    away = (found["mat_before"] > 0) & (found["mat_before"] < 0.2) & (found["recorded"] == 0)
    assert float(found["unknown_mat"].where(away).mean()) < 0.9 * float(found["mat_now"].where(away).mean())
    assert not found["mat_now"].to_numpy()[site().plantable == 0].any()


def test_longer_looking_leaves_less_unknown():
    nothing = [Record("line 1", "made", False, (DAY, DAY), name) for name in site().unit_names]
    short, long = (learned_from(survey_of(*nothing, hours=hours), replicates=40) for hours in (0.1, 6.0))
    for name in ("unknown_mat", "unknown_host"):
        assert float(long[name].sum()) < 0.5 * float(short[name].sum())


def test_an_impossible_survey_is_said_to_be_unexplained_and_a_possible_one_is_not():
    assert "do not explain" not in learned().attrs["warnings"]
    many = Record("line 1", "made", True, (DAY, DAY), "east", state="fruiting", count=5000)
    found = learned_from(survey_of(many))
    assert "do not explain what was found of fruiting hosts, east (5,000)" in found.attrs["warnings"]
    assert float(found["chance_after"].sel(statistic="fruiting hosts, east")) < 1e-6
    assert np.isfinite(found["weight"]).all() and float(found["weight"].sum()) == pytest.approx(1)


def test_finds_on_ground_known_from_finds_alone_are_not_weighed():
    here = Record("line 1", "made", True, (DAY, DAY), xy=(90.0, 90.0))
    found = learned_from(survey_of(here), replicates=20)
    assert (
        "1 visit not weighed, since no unit and no plot says which ground was looked at (made)"
        in found.attrs["remarks"]
        and found.sizes["statistic"] == 0
    )
    assert float(found.sel(x=90, y=90)["mat_now"]) == 1
    whole = learned_from(survey_of(here), replicates=20, everywhere=True)
    assert float(whole["observed"].sel(statistic="new patches, 10 to 30 m from the mats of the map")
                 + whole["observed"].sel(statistic="new patches, 30 to 100 m from the mats of the map")) == 1  # fmt: skip
    assert whole["looked"].all()


def test_words_and_pictures():
    found = learned()
    told = list(learned_sentences(found, site()))
    assert told[0].startswith(
        "120 worlds were run for 12 seasons, from the map of 2023-12-05 to the survey of 2026-12-10"
    )
    assert f"count for {found.attrs['effective_worlds']:,.0f}." in told[0]
    assert any("nobody knows of some" in text for text in told)
    assert any(
        "to within 20 % (a standard error; 0.4 where they are small)" in text and "lacked 0.1 to 2 patches" in text
        for text in told
    )
    rows = range_rows(found)
    assert len(rows) == int(found["learned"].sum())
    assert [row[1] for row in fit_rows(found)] == [f"{float(n):,.0f}" for n in found["observed"]]
    figure = learned_map(found, site())
    assert "Mat that nobody knows of" in [axes.get_title("left") for axes in figure.axes]
    assert "2026-12-10" in learned_alt(found)


@pytest.mark.parametrize(
    ("day", "season", "winter"),
    [
        ("2024-12-01", 4 * 2025, 4 * 2025),
        ("2025-02-28", 4 * 2025, 4 * 2025),
        ("2025-03-01", 4 * 2025 + 1, 4 * 2025),
        ("2025-06-01", 4 * 2025 + 2, 4 * 2026),
        ("2025-11-30", 4 * 2025 + 3, 4 * 2026),
    ],
)
def test_seasons_of_dates(day, season, winter):
    from datetime import date

    assert season_number(date.fromisoformat(day)) == season
    assert first_season(date.fromisoformat(day)) == winter


ABSENT = Record("line 1", "made", False, (DAY, DAY), "east")


@pytest.mark.parametrize(
    ("survey", "more", "message"),
    [
        (survey_of(ABSENT), {"since": None}, "since: found nothing, allowed the date of the map"),
        (survey_of(ABSENT), {"since": "soon"}, 'since: found "soon", allowed a date such as'),
        (survey_of(ABSENT), {"since": "2027-01-05"}, "date: found a survey of 2026-12-10, allowed one after the map"),
        (survey_of(ABSENT), {"since": "2026-10-05"}, "date: found a survey of 2026-12-10, allowed one from 2027-03-01"),
        (survey_of(ABSENT), {"strategy": "no such"}, 'strategy: found "no such", allowed one of "no action", "a little"'),
        (survey_of(ABSENT, hours=None), {}, "line 1: found absent, and nothing on how long was looked, allowed hours"),
        (survey_of(ABSENT, hours=None, area=50.0), {}, "found absent, and an area but no hours"),
        (survey_of(Record("line 1", "made", False, (DAY, DAY), "north")), {}, 'locationID: found "north", allowed one of'),
        (survey_of(Record("line 1", "m", True, (DAY, DAY), xy=(-9.0, 5.0))), {}, "no place that lies on the site"),
        (survey_of(Record("line 1", "m", True, (DAY, DAY), "east", host="H110")), {}, 'host: found "H110", allowed H0 to H109'),
        (survey_of(ABSENT), {"done": 3.0}, "done: found 3.0, allowed 0 to 2"),
        (survey_of(ABSENT), {"replicates": 5}, "replicates: found 5, allowed at least 20"),
        (survey_of(ABSENT), {"overlooked_hosts": (3.0, 1.0)}, "overlooked_hosts: found (3.0, 1.0), allowed a lowest"),
        (Survey("made.csv", ()), {}, "date: found nothing, allowed eventDate in the survey"),
    ],
)  # fmt: skip
def test_bad_input_is_named(survey, more, message):
    with pytest.raises(InputError) as caught:
        learned_from(survey, **more)
    assert message in str(caught.value)
    assert "made.csv" in str(caught.value)


def test_all_that_is_wrong_is_said_at_once():
    with pytest.raises(InputError) as caught:
        learned_from(survey_of(ABSENT, hours=None), done=-1.0, since="2027-01-05", strategy="x")
    assert len(caught.value.problems) == 4


def test_hours_a_hectare_stand_in_for_hours():
    found = learned_from(survey_of(ABSENT, hours=None, area=5000.0), replicates=20, hours_per_hectare=2.0)
    assert float(found["effort"].max()) > 0 and found.sizes["statistic"] > 0


EXPERIMENT = """
title = "A wood"
notice = "Invented."
years = 3
vine = "wintercreeper"
[site]
file = "site.toml"
[[crews]]
name = "staff"
hours = 4
[[strategies]]
name = "cut"
[[strategies.tasks]]
treatment = "cut"
"""
SITE = """
title = "A wood"
cell_size = 4.0
layers = "ground.nc"
unit_names = ["west", "east"]
hosts = "hosts.csv"
"""
RECORDS = """eventID,eventDate,locationID,x,y,host,state,occurrenceStatus,organismQuantity,organismQuantityType,hours
A,2026-12-10,west,,,,,present,120,m2,2
A,2026-12-10,west,60,70,,,present,,,2
A,2026-12-10,west,,,H1,climbing,present,,,2
B,2026-12-11,east,,,,,absent,,,1
"""


def files(folder: Path) -> Path:
    mat, units = site().mat, site().unit
    ground = xr.Dataset({"mat": (("y", "x"), mat), "unit": (("y", "x"), units)})
    ground.to_netcdf(folder / "ground.nc", engine="h5netcdf")
    rows = ["x,y,state,kind"] + [f"{x:.1f},{y:.1f},{'climbing' if s else 'bare'},tree" for x, y, s in
                                 zip(site().hosts.x, site().hosts.y, site().hosts.state, strict=True)]  # fmt: skip
    (folder / "hosts.csv").write_text("\n".join(rows))
    (folder / "site.toml").write_text(SITE)
    (folder / "experiment.toml").write_text(EXPERIMENT)
    (folder / "records.csv").write_text(RECORDS)
    return folder / "experiment.toml"


def test_the_command_writes_tables_and_a_map(tmp_path):
    path = files(tmp_path)
    arguments = ["learn", str(path), "--survey", str(tmp_path / "records.csv"), "--since", MAPPED, "--replicates", "40"]
    answer = CliRunner().invoke(cli, [*arguments, "--done", "0.67", "--out", str(tmp_path / "out")])
    assert answer.exit_code == 0, answer.output
    assert "Invented." in answer.output and '"cut" with 67 %' in " ".join(answer.output.split())
    assert "Found and expected, 90 % ranges" in answer.output
    assert max(map(len, answer.output.split("Files in")[0].splitlines())) <= 80
    names = {"ranges.csv", "parameters.csv", "found.csv", "weights.csv", "learned.nc", "start.nc"} | {
        "learned.png", "learned.svg"
    }  # fmt: skip
    assert {one.name for one in (tmp_path / "out").iterdir()} == names
    with xr.open_dataset(tmp_path / "out" / "learned.nc", engine="h5netcdf") as found:
        assert found.attrs["hours_done"] == 0.67
        assert float(found["observed"].sel(statistic="mat area of the map's mats, west")) == 120
    assert main([*arguments, "--strategy", "none", "--out", str(tmp_path / "other")]) == 2
    assert not (tmp_path / "other").exists()
