"""Experiments read from files: what is read, and that every fault is named, all at once."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from spreadsim.inputs import Experiment, FollowUp, InputError, Site, load_treatment, load_vine, read_experiment

Edit = Callable[[str, str, str], Path]


def problems(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_experiment(path)
    return str(caught.value).replace(f"{path.parent}/", "")


def test_everything_is_read(folder: Path) -> None:
    experiment = read_experiment(folder / "experiment.toml")
    assert (experiment.title, experiment.notice) == ("An invented wood", "Invented.")
    assert (experiment.years, experiment.replicates, experiment.seed) == (10, 20, 7)
    assert (experiment.units, experiment.currency, experiment.price_year) == ("metric", "USD", 2024)
    assert not experiment.fixed_parameters and experiment.path == folder / "experiment.toml"
    assert experiment.vine == load_vine("wintercreeper").replace({"mat.front_speed": 0.4})
    assert experiment.treatment("cut")["stem_kill"].value == 0.97
    assert experiment.treatment("pull") == load_treatment("pull")
    assert experiment.weather.fit_days == (3.0, 0.0, 0.0, 6.0)
    assert experiment.site.title == "An invented wood" and len(experiment.site.hosts) == 3
    volunteers, staff = experiment.crews
    assert volunteers.hours == (60.0, 40.5, 0.0, 0.0) and volunteers.volunteers and volunteers.may == ("all",)
    assert staff.hours == (40.0,) * 4 and staff.price == 35.0 and staff.may[0] == "cut"
    none, first = experiment.strategies
    assert none.name == "no action" and first.why == "Seed comes from stems."
    cut, pull = first.tasks
    assert (cut.targets, cut.share, cut.follow_up) == ("fruiting", 0.5, FollowUp(4, 2))
    assert (pull.units, pull.years, pull.haul_out) == (("north",), (3, None), True)
    assert pull.new_ground == pytest.approx(2023.4282112)


def test_a_site_may_stand_in_the_experiment(folder: Path, edit: Edit) -> None:
    inside = (folder / "site.toml").read_text()
    path = edit("experiment.toml", 'file = "site.toml"', inside)
    (folder / "site.toml").unlink()
    experiment = read_experiment(path)
    assert experiment.site.title == "An invented wood" and len(experiment.site.hosts) == 3
    edit("experiment.toml", "canopy = 0.5", "canopy = 5")
    assert "experiment.toml: site.canopy: found 5, allowed 0 to 1" in problems(path)


def test_own_profiles_beside_the_experiment(folder: Path, edit: Edit) -> None:
    import spreadsim.inputs.vine as module

    shipped = Path(module.__file__).parent
    for kind, name in (("vines", "english-ivy"), ("treatments", "pull")):
        text = (shipped / kind / f"{name}.toml").read_text()
        (folder / f"own-{name}.toml").write_text(text.replace(f'name = "{name}"', 'name = "own"'))
    path = edit(
        "experiment.toml",
        'vine = "wintercreeper"',
        'vine = "own-english-ivy.toml"\ntreatments = ["own-pull.toml"]',
    )
    edit("experiment.toml", 'treatment = "pull"', 'treatment = "own"')
    edit("experiment.toml", '"pull", "foliar', '"own", "foliar')
    experiment = read_experiment(path)
    assert experiment.vine.name == "own" and [one.name for one in experiment.treatments] == ["own", "cut"]
    assert experiment.strategies[1].tasks[1].treatment == "own"


def test_parameters_with_and_without_quotes_and_with_ranges(edit: Edit) -> None:
    path = edit(
        "experiment.toml",
        '"mat.front_speed" = 0.4',
        "mat.front_speed = {value = 3, low = 2, high = 4}\nmat.max_cover = 0.9",
    )
    vine = read_experiment(path).vine
    speed = vine["mat.front_speed"]
    assert (speed.value, speed.low, speed.high, vine["mat.max_cover"].value) == (3.0, 2.0, 4.0, 0.9)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "share = 0.5",
            "share = 1.4",
            "experiment.toml: strategies[0].tasks[0].share: found 1.4, allowed 0 to 1",
        ),
        ("share = 0.5", "share = nan", "experiment.toml: strategies[0].tasks[0].share: found nan"),
        (
            "share = 0.5",
            'share = "half"',
            'strategies[0].tasks[0].share: found "half", allowed a finite number',
        ),
        (
            "share = 0.5",
            "shar = 0.5",
            'strategies[0].tasks[0].shar: found a key that is not known (perhaps "share" was meant)',
        ),
        ("share = 0.5", "haul_out = 1", "strategies[0].tasks[0].haul_out: found 1, allowed true or false"),
        ("years = 10", "years = 0", "experiment.toml: years: found 0, allowed 1 to 400"),
        ("years = 10", "years = 10.5", "experiment.toml: years: found 10.5, allowed a whole number"),
        ("years = 10", "years = true", "experiment.toml: years: found True, allowed a whole number"),
        ("years = 10", "years = 2", "strategies[0].tasks[1].years[0]: found 3, allowed 1 to 2"),
        ("years = 10", "", ""),
        ("seed = 7", "seed = -7", "experiment.toml: seed: found -7"),
        ("seed = 7", "seed = 99999999999999999999", "experiment.toml: seed: found 99999999999999999999"),
        ('"An invented wood"', '""', "experiment.toml: title: found"),
        ('title = "An invented wood"\n', "", "experiment.toml: title: found nothing, allowed a text"),
        ('vine = "wintercreeper"\n', "", "experiment.toml: vine: found nothing"),
        ('"wintercreeper"', '"kudzu"', 'experiment.toml: vine: found "kudzu", allowed one of "english-ivy"'),
        ('"wintercreeper"', '"../v.toml"', 'experiment.toml: vine: found "../v.toml"'),
        ('"wintercreeper"', '"v.toml"', "v.toml: found no such file"),
        ('"wintercreeper"', "3", "experiment.toml: vine: found 3, allowed a text"),
        (
            '"wintercreeper"',
            '"wintercreeper"\ntreatments = ["burn"]',
            'experiment.toml: treatments[0]: found "burn"',
        ),
        (
            '"wintercreeper"',
            '"wintercreeper"\ntreatments = [3]',
            "experiment.toml: treatments[0]: found 3, allowed a text",
        ),
        ('"wintercreeper"', '"wintercreeper"\ntreatments = ["pull", "pull"]', "treatments[1].name: found"),
        ('"wintercreeper"', '"wintercreeper"\ncrews_ = 3', "experiment.toml: crews_: found a key"),
        (
            '"mat.front_speed" = 0.4',
            '"mat.front_speed" = 9',
            "experiment.toml: parameters.mat.front_speed: found 9",
        ),
        ('"mat.front_speed" = 0.4', '"mat.speed" = 9', "experiment.toml: parameters.mat.speed: found 9"),
        (
            '"mat.front_speed" = 0.4',
            '"mat.front_speed" = {mode = 9}',
            "parameters.mat.front_speed.mode: found 9",
        ),
        (
            '"mat.front_speed" = 0.4',
            '"mat.front_speed" = 1979-05-27',
            "parameters.mat.front_speed: found datetime",
        ),
        (
            '"cut.stem_kill" = 0.97',
            '"cut.stem_kill" = 2',
            "experiment.toml: parameters.cut.stem_kill: found 2",
        ),
        ('"cut.stem_kill" = 0.97', '"cut.kill" = 2', "experiment.toml: parameters.cut.kill: found 2"),
        ('file = "site.toml"', 'file = "site.toml"\nwidth = 3', "experiment.toml: site.width: found 3"),
        ('file = "site.toml"', 'file = "../site.toml"', "experiment.toml: site.file: found"),
        ('file = "site.toml"', "file = 3", "experiment.toml: site.file: found 3"),
        ('file = "site.toml"', 'file = "none.toml"', "none.toml: found no such file"),
        ('[site]\nfile = "site.toml"', "site = 3", "experiment.toml"),
        ("winter = 3, autumn = 6", "winter = 300", "experiment.toml: weather.fit_days.winter: found 300.0"),
        ("winter = 3, autumn = 6", "fall = 3", "experiment.toml: weather.fit_days.fall: found 3"),
        ("pace = 0.7", "pace = 7", "experiment.toml: crews[0].pace: found 7.0"),
        ("winter = 60", "winter = -60", "experiment.toml: crews[0].hours.winter: found -60"),
        ("hours = 40", 'hours = "many"', 'experiment.toml: crews[1].hours: found "many"'),
        ("hours = 40\n", "", "experiment.toml: crews[1].hours: found nothing"),
        ('name = "staff"', 'name = "volunteers"', 'experiment.toml: crews[1].name: found "volunteers"'),
        ('"cut", "pull"', '"cut", "pul"', 'experiment.toml: crews[1].may[1]: found "pul"'),
        (
            'name = "stems first"',
            'name = "no action"',
            "experiment.toml: strategies[0].tasks: found 2 tasks, allowed none",
        ),
        ('name = "stems first"\n', "", "experiment.toml: strategies[0].name: found nothing"),
        ('treatment = "cut"', 'treatment = "cutt"', 'strategies[0].tasks[0].treatment: found "cutt"'),
        ('treatment = "cut"', "treatment = 3", "strategies[0].tasks[0].treatment: found 3, allowed a text"),
        (
            'units = ["north"]',
            'units = ["south"]',
            'tasks[1].units[0]: found "south", allowed one of "north"',
        ),
        ('units = ["north"]', "units = [1]", "tasks[1].units[0]: found 1, allowed a text"),
        ("years = [3]", "years = [3, 2]", "tasks[1].years[1]: found 2"),
        ("years = [3]", 'years = ["a"]', 'tasks[1].years[0]: found "a", allowed a whole number'),
        ("years = [3]", "years = 3", "tasks[1].years: found 3, allowed a list"),
        ('"0.5 acre"', '"0.5 mile"', 'tasks[1].new_ground: found "0.5 mile"'),
        ('"0.5 acre"', '"-1 acre"', 'tasks[1].new_ground: found "-1 acre"'),
        ('"0.5 acre"', "-1", "tasks[1].new_ground: found -1"),
        ("every = 4", "every = 0", "tasks[0].follow_up.every: found 0"),
        ("every = 4", 'treatment = "x"', 'tasks[0].follow_up.treatment: found "x"'),
        ("every = 4", "evry = 4", "tasks[0].follow_up.evry: found a key"),
        ("{ every = 4, clean = 2 }", "4", "tasks[0].follow_up: found 4, allowed a table"),
        ('[[crews]]\nname = "staff"', '[[crews.x]]\nname = "staff"', "crews[0].x: found a key"),
        ("[[strategies]]", "[strategies]", "experiment.toml"),
    ],
)
def test_faults_are_named(edit: Edit, old: str, new: str, said: str) -> None:
    path = edit("experiment.toml", old, new)
    if said:
        found = problems(path)
        assert said in found
        assert "pydantic" not in found and "http" not in found
    else:
        assert read_experiment(path).years == 30


def test_all_faults_are_said_together(edit: Edit) -> None:
    edit("experiment.toml", "years = 10", "years = 0")
    edit("experiment.toml", "seed = 7", 'seed = "x"')
    edit("experiment.toml", "pace = 0.7", "pace = 7")
    edit("experiment.toml", "share = 0.5", "share = 1.4\nordr = 3")
    edit("experiment.toml", "years = [3]", 'years = [3]\norder = "fruiting first"')
    edit("experiment.toml", "winter = 3, autumn = 6", "fall = 3")
    edit("experiment.toml", '"mat.front_speed" = 0.4', '"mat.front_speed" = 9')
    edit("site.toml", "canopy = 0.5", "canopy = 5")
    path = edit("hosts.csv", "fruiting", "frooting")
    said = problems(path)
    for place in (
        "experiment.toml: years",
        "experiment.toml: seed",
        "experiment.toml: crews[0].pace",
        "experiment.toml: strategies[0].tasks[0].share",
        "experiment.toml: strategies[0].tasks[0].ordr",
        "experiment.toml: strategies[0].tasks[1].order",
        "experiment.toml: weather.fit_days.fall",
        "experiment.toml: parameters.mat.front_speed",
        "site.toml: canopy",
        "hosts.csv: line 3, state",
    ):
        assert f"{place}: found" in said
    assert len(said.splitlines()) == 10


BAD = {
    "folder": None,
    "empty": b"",
    "cut off": b"title = ",
    "not utf-8": b'title = "\xff\xfe"',
    "utf-16": 'title = "x"'.encode("utf-16"),
    "zero bytes": b'title = "a\x00b"',
    "long integer": b"years = " + b"9" * 5000,
    "deep list": b"x = " + b"[" * 5000 + b"]" * 5000,
    "less deep list": b"x = " + b"[" * 60 + b"]" * 60,
    "deep key": b".".join([b"a"] * 5000) + b" = 1",
    "no such date": b"x = 2024-02-31",
    "twice": b"years = 1\nyears = 2",
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
    "damaged outcomes": b"\x89HDF\r\n\x1a\n" + bytes(200),
}


@pytest.mark.parametrize("name", list(BAD))
def test_files_that_are_no_experiment(tmp_path: Path, name: str) -> None:
    path = tmp_path / "experiment.toml"
    content = BAD[name]
    if content is None:
        path.mkdir()
    else:
        path.write_bytes(content)
    assert problems(path).startswith("experiment.toml")


@pytest.mark.parametrize("path", ["none.toml", "none.nc", "", "a\0b", "x" * 5000])
def test_paths_that_lead_nowhere(path: str) -> None:
    with pytest.raises(InputError):
        read_experiment(path)


def test_syntax_errors_give_file_and_line(tmp_path: Path) -> None:
    path = tmp_path / "experiment.toml"
    path.write_text('title = "a"\n\nyears 3\n')
    assert problems(path).startswith("experiment.toml: not valid TOML: ") and "line 3" in problems(path)


def test_a_byte_order_mark_does_no_harm(folder: Path) -> None:
    path = folder / "experiment.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert isinstance(read_experiment(path), Experiment)


def test_a_link_to_a_file_within_is_fine_and_a_folder_below(folder: Path, edit: Edit) -> None:
    (folder / "data").mkdir()
    (folder / "hosts.csv").rename(folder / "data" / "hosts.csv")
    path = edit("site.toml", '"hosts.csv"', '"data/hosts.csv"')
    assert len(read_experiment(path).site.hosts) == 3


MORE = """
[[funds]]
name = "grant"
amount = 20000
years = [1, 3]

[[events]]
kind = "storm"
per_year = 0.1
radius = "30 ft"

[[events]]
kind = "gap"
year = 2
x = 10
y = 5.5
radius = 3
"""
PIECES = [
    '"',
    "[",
    "]",
    "{",
    "}",
    "=",
    "nan",
    "inf",
    "-1",
    "1e999",
    "9" * 400,
    "true",
    "[[crews]]\n",
    "\n",
    "\\",
    ".",
    "'",
    "#",
]


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 12), st.sampled_from(PIECES) | st.text(max_size=4)),
        min_size=1,
        max_size=4,
    )
)
@example([(0.0, 5000, "")])
def test_a_spoilt_file_is_read_or_refused_with_words(folder: Path, cuts: list[tuple[float, int, str]]) -> None:
    text = (folder / "experiment.toml").read_text(encoding="utf-8") + MORE
    for place, length, piece in cuts:
        start = int(place * len(text))
        text = text[:start] + piece + text[start + length :]
    path = folder / "spoilt.toml"
    path.write_text(text, encoding="utf-8", errors="replace")
    try:
        assert isinstance(read_experiment(path), Experiment)
    except InputError as error:
        assert error.problems and all(problem.strip() for problem in error.problems)


def test_reading_loads_no_heavy_library(folder: Path) -> None:
    code = (
        "import sys; from spreadsim.inputs import read_experiment; "
        f"read_experiment({str(folder / 'experiment.toml')!r}); "
        "heavy = ('scipy', 'matplotlib', 'dask', 'numba', 'rich', 'cyclopts', 'h5netcdf'); "
        "print([m for m in heavy if m in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_unknown_treatments_are_named_beside_other_faults(tmp_path: Path) -> None:
    text = """
title = "x"
vine = "wintercreeper"
site = { cell_size = 2, width = 20, height = 20 }
[[crews]]
name = "a"
hours = { winter = -3 }
may = ["pul"]
[[strategies]]
name = "s"
[[strategies.tasks]]
treatment = "burn"
colour = "red"
instead = "mow it"
"""
    path = tmp_path / "experiment.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_experiment(path)
    said = str(error.value)
    for words in ("hours.winter", "may[0]", '"pul"', "tasks[0].colour", '"burn"', "tasks[0].instead", '"mow it"'):
        assert words in said


def test_years_of_maps_are_chosen_or_go_by_the_size_of_the_site(folder: Path) -> None:
    experiment = read_experiment(folder / "experiment.toml")
    assert experiment.map_years is None
    assert experiment.kept_map_years() == tuple(range(experiment.years + 1))
    large = replace(experiment, years=13, site=Site.from_arrays(2.0, mat=np.zeros((200, 200))), strategies=(), crews=())
    assert large.kept_map_years() == (0, 5, 10, 13)
    chosen = replace(large, map_years=[13, 2])
    assert chosen.map_years == chosen.kept_map_years() == (2, 13)
    assert Experiment.from_dict(json.loads(json.dumps(chosen.to_dict())), chosen.site) == chosen


@pytest.mark.parametrize("years", [[], [1, 1], [-1], [14], [0.5], [True], "last", 3])
def test_years_of_maps_that_cannot_be_are_refused(folder: Path, years: object) -> None:
    experiment = replace(read_experiment(folder / "experiment.toml"), years=13)
    with pytest.raises(InputError, match=r"map_years: found .*, allowed a list of different years, each 0 .* to 13"):
        replace(experiment, map_years=years)
