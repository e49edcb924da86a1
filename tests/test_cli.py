"""The command line: what it prints, writes and answers to the shell."""

import io
import subprocess
import sys

import numpy as np
import pytest

import spreadsim
from spreadsim import cli, runs, store
from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Experiment, Site, Strategy, Task, load_vine
from spreadsim.views import style
from tests.analysis.synthetic import NAMES, outcomes


@pytest.fixture
def experiment():
    site = Site.from_arrays(20.0, mat=np.full((4, 6), 0.1), title="Small wood")
    strategies = [Strategy(name, tasks=[Task("cut"), Task("pull")]) for name in NAMES[1:]]
    crews = (Crew("staff", 10, may=("all",)),)
    return Experiment("An invented test", site, load_vine("wintercreeper"), crews, strategies, notice="Invented.")


@pytest.fixture
def drawn():
    """Ask for real pictures."""


@pytest.fixture
def ran(request, monkeypatch, experiment, tmp_path):
    """Replace the run by synthetic outcomes and note what it was asked for."""
    asked = {}

    def compare(inputs, **options):
        asked.update(options, inputs=inputs)
        if callable(options["progress"]):
            options["progress"](1, 2)
        dataset = outcomes(replicates=30, shape=(4, 6), cell=20.0)
        del dataset.attrs["currency"], dataset.attrs["title"]
        store.write(dataset, options["folder"] / "outcomes.nc")
        return store.open_outcomes(options["folder"] / "outcomes.nc")

    monkeypatch.setattr(runs, "compare", compare, raising=False)
    monkeypatch.setattr(spreadsim, "read_experiment", lambda path: experiment, raising=False)
    (tmp_path / "experiment.toml").write_text("")
    if "drawn" not in request.fixturenames:  # drawing takes seconds and is tested once here, and in tests/views
        monkeypatch.setattr(style, "save", sketch)
    return asked


def sketch(figure, folder, name, description):
    """Stand in for drawing."""
    files = [folder / f"{name}.png", folder / f"{name}.svg"]
    for path in files:
        path.write_text(description)
    return files


def fail_with(monkeypatch, error):
    def compare(*_, **__):
        raise error

    monkeypatch.setattr(runs, "compare", compare, raising=False)


@pytest.mark.usefixtures("drawn", "ran")
def test_compare_says_that_older_outcomes_are_replaced_and_what_is_of_the_older_run(tmp_path, capsys):
    folder = tmp_path / "results"
    folder.mkdir()
    for name in ("outcomes.nc", "brief.html"):
        (folder / name).write_text("older")
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 0
    assert capsys.readouterr().err == (
        f"spreadsim: the outcomes that {folder} held were replaced; of the older run still: brief.html\n"
    )


@pytest.mark.usefixtures("drawn")
def test_compare_says_the_answer_first_then_tables_then_files(ran, tmp_path, capsys):
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    places = [
        out.index(part)
        for part in (
            'Start with the tasks "cut", then "pull", as in "both, with follow-up"',
            "An invented test",
            "Invented.",
            "Infested area, end of year 30 (ha)",
            "(USD a year)",
            "stems first / mats first",
            "Before anyone goes out",
            "Never pull cut stems down",
            "Files in",
            "Limits: It compares strategies under stated assumptions",
        )
    ]
    assert places == sorted(places)
    assert max(len(line) for line in out.split("\n") if str(tmp_path) not in line) <= 80
    folder = tmp_path / "results"
    written = {path.name for path in folder.iterdir()}
    assert written == {
        "outcomes.nc",
        "summary.txt",
        "through-time.png",
        "through-time.svg",
        "maps.png",
        "maps.svg",
    }
    assert all(name in out for name in written)
    assert (folder / "summary.txt").read_text().strip() in out


def test_options_reach_the_run(ran, tmp_path, experiment):
    arguments = ["compare", str(tmp_path / "experiment.toml"), "--replicates", "7", "--seed", "9"]
    arguments += ["--workers", "2", "--out", str(tmp_path / "a" / "b"), "--resume", "--cluster", "tcp://10.0.0.5:8786"]
    assert cli.main(arguments) == 0
    assert ran["inputs"] is experiment
    assert (ran["replicates"], ran["seed"], ran["workers"], ran["resume"]) == (7, 9, 2, True)
    assert ran["cluster"] == "tcp://10.0.0.5:8786"
    assert ran["folder"] == tmp_path / "a" / "b" and (tmp_path / "a" / "b" / "maps.png").exists()


def test_what_is_not_asked_for_is_left_to_the_experiment(ran, tmp_path):
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 0
    assert ran["replicates"] is ran["seed"] is ran["workers"] is ran["cluster"] is None
    assert ran["resume"] is False and ran["folder"] == tmp_path / "results"
    assert ran["progress"] is False  # no terminal here: silent


def test_progress_is_shown_on_a_terminal(ran, tmp_path, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 0
    assert callable(ran["progress"])
    assert "worlds" in screen.getvalue()


def test_units_of_the_experiment_or_those_asked_for(ran, tmp_path, capsys):
    path = str(tmp_path / "experiment.toml")
    cli.main(["compare", path, "--units", "us"])
    assert "(acres)" in capsys.readouterr().out
    cli.main(["check", path, "--units", "us"])
    assert "ft." in capsys.readouterr().out
    cli.main(["check", path])
    assert "20 m." in capsys.readouterr().out


def test_check_describes_without_running(ran, tmp_path, capsys):
    assert cli.main(["check", str(tmp_path / "experiment.toml")]) == 0
    out = capsys.readouterr().out
    assert "Strategy: mats first" in out and out.endswith("No errors: it can run.\n")
    assert "there is mat and nothing to climb" in " ".join(out.split())
    assert {path.name for path in (tmp_path / "results").iterdir()} == {"site.png", "site.svg"}
    assert not ran


@pytest.mark.parametrize("command", ["check", "compare"])
def test_bad_input_is_told_without_a_traceback(ran, monkeypatch, tmp_path, capsys, command):
    def refuse(path):
        raise InputError(f"{path}: years: found 0, allowed 1 to 200", "second problem")

    monkeypatch.setattr(spreadsim, "read_experiment", refuse, raising=False)
    assert cli.main([command, "experiment.toml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "experiment.toml: years: found 0, allowed 1 to 200\nsecond problem\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["compare"], "EXPERIMENT"),
        (["compare", "x", "--replicates", "0"], "0"),
        (["compare", "x", "--replicates", "many"], "many"),
        (["compare", "x", "--units", "cubits"], "cubits"),
        (["compare", "x", "--frobnicate"], "--frobnicate"),
        (["fly"], "fly"),
    ],
)
def test_bad_options_are_bad_input(ran, capsys, arguments, told):
    assert cli.main(arguments) == 2
    err = capsys.readouterr().err
    assert told in err and "Traceback" not in err
    assert not ran


def test_a_file_in_the_place_of_the_folder_is_bad_input(ran, tmp_path, capsys):
    (tmp_path / "taken").write_text("")
    for folder in (tmp_path / "taken", tmp_path / "taken" / "below"):
        assert cli.main(["compare", str(tmp_path / "experiment.toml"), "--out", str(folder)]) == 2
        assert "--out: found the file" in capsys.readouterr().err
    assert not ran


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), MemoryError()])
def test_a_failed_machine_is_one(ran, monkeypatch, tmp_path, capsys, error):
    fail_with(monkeypatch, error)
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 1
    err = capsys.readouterr().err
    assert "the machine failed" in err and "what was finished is kept" in err and "Traceback" not in err


def test_an_interrupted_run_is_130(ran, monkeypatch, tmp_path, capsys):
    fail_with(monkeypatch, KeyboardInterrupt())
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 130
    assert "--resume" in capsys.readouterr().err


def test_our_own_mistakes_are_not_hidden(ran, monkeypatch, tmp_path):
    fail_with(monkeypatch, ZeroDivisionError("a mistake of ours"))
    with pytest.raises(ZeroDivisionError):
        cli.main(["compare", str(tmp_path / "experiment.toml")])


def test_a_reader_that_goes_away_does_not_cost_the_pictures(ran, monkeypatch, tmp_path):
    class Closed(io.StringIO):
        def write(self, text):
            raise BrokenPipeError

    monkeypatch.setattr(sys, "stdout", Closed())
    assert cli.main(["compare", str(tmp_path / "experiment.toml")]) == 0
    assert (tmp_path / "results" / "maps.svg").exists()


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["compare", "--help"], ["-h"]])
def test_help_and_version_load_nothing_heavy(arguments):
    heavy = {
        "numpy",
        "xarray",
        "numba",
        "matplotlib",
        "rich",
        "pydantic",
        "scipy",
        "dask",
        "distributed",
        "zarr",
        "pandas",
    }
    code = f"""
import sys
from spreadsim.cli import main
assert main({arguments}) == 0
sys.exit(", ".join({heavy} & set(sys.modules)) or None)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "spreadsim" in done.stdout


def test_it_runs_as_a_module():
    done = subprocess.run([sys.executable, "-m", "spreadsim", "check"], capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "EXPERIMENT" in done.stderr


SWEEP = """
[sweep]
kind = "listed"
points = [{ years = 2, "crews.staff.hours" = 10.0 }, { years = 3, "crews.staff.hours" = 0.0 }]
"""
NARROW = ("--until", "infested_area=1%", "--until", "fruiting_hosts=2.5")


@pytest.fixture
def asked_until(monkeypatch, ran):
    """Stand in for the run until sure and note what it was asked for."""
    from spreadsim.analysis.stopping import Width, look_at
    from spreadsim.runs.until import Until

    asked = {}

    def compare_until(inputs, half_width, **options):
        asked.update(options, half_width=half_width)
        dataset = outcomes(replicates=30, shape=(4, 6), cell=20.0)
        values = dataset["infested_area"].isel(year=-1).transpose("replicate", "strategy").values
        look = look_at(1, NAMES, {"infested_area": values}, {"infested_area": Width(1e6)}, 0.9)
        return Until(dataset, (look,), True, "either", 0.9, 30)

    monkeypatch.setattr(runs, "compare_until", compare_until)
    return asked


@pytest.mark.parametrize(
    ("given", "half_width"),
    [
        (("--until", "0.05"), 0.05),
        (("--until", "5%"), 0.05),
        (NARROW, {"infested_area": "1%", "fruiting_hosts": 2.5}),
    ],
)
def test_until_says_how_many_it_took_right_after_the_answer(asked_until, tmp_path, capsys, given, half_width):
    path = str(tmp_path / "experiment.toml")
    assert cli.main(["compare", path, *given, "--most", "900", "--until-year", "12", "--seed", "3"]) == 0
    assert asked_until["half_width"] == half_width
    assert (asked_until["most"], asked_until["year"], asked_until["seed"]) == (900, 12, 3)
    out = capsys.readouterr().out
    places = [
        out.index(part)
        for part in ('Start with the tasks "cut", then "pull"', "Sure after 30 replicates", "Infested area, end of")
    ]
    assert places[0] == 0 and places == sorted(places)
    assert (tmp_path / "results" / "summary.txt").read_text().startswith('Start with the tasks "cut", then "pull"')


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("--until", "wide"), '--until: found "wide"'),
        (("--until", "infested_area=wide"), '--until: found "infested_area=wide"'),
        (("--until", "0.05", "--until", "0.1"), "one share alone"),
        (("--until", "0.05", "--replicates", "7"), "--replicates: found 7 with --until"),
        (("--most", "7"), "--most: found 7 without --until"),
        (("--until-year", "7"), "--until-year: found 7 without --until"),
    ],
)
def test_until_refuses_what_it_cannot_use(asked_until, ran, tmp_path, capsys, given, told):
    assert cli.main(["compare", str(tmp_path / "experiment.toml"), *given]) == 2
    assert told in capsys.readouterr().err
    assert not asked_until and not ran


def test_sweep_prints_a_row_for_each_point_and_writes_one_file(ran, tmp_path, capsys):
    path = tmp_path / "experiment.toml"
    path.write_text(SWEEP)
    arguments = ["sweep", str(path), "--replicates", "2", "--outcome", "infested_area", "--out", str(tmp_path / "out")]
    assert cli.main(arguments) == 0
    out = capsys.readouterr().out
    assert "a: years (year)" in out and "b: crews.staff.hours (h)" in out and "A: no action" in out
    rows = [line.split() for line in out.splitlines() if line.strip()[:1].isdigit()]
    assert [row[:3] for row in rows] == [["0", "2", "10"], ["1", "3", "0"]]
    assert all(any(cell.endswith("*") for cell in row) for row in rows)
    assert [item.name for item in (tmp_path / "out").iterdir()] == ["sweep.nc"]
    assert str(tmp_path / "out" / "sweep.nc") in out


def test_a_sweep_needs_a_design(ran, tmp_path, capsys):
    assert cli.main(["sweep", str(tmp_path / "experiment.toml")]) == 2
    assert "sweep: found nothing, allowed a table [sweep]" in capsys.readouterr().err


def test_check_reads_the_sweep_too(ran, tmp_path, capsys):
    path = tmp_path / "experiment.toml"
    path.write_text(SWEEP)
    assert cli.main(["check", str(path)]) == 0
    assert "Sweep: listed, 2 points, of years, crews.staff.hours" in capsys.readouterr().out
    path.write_text(SWEEP.replace("staff", "nobody"))
    assert cli.main(["check", str(path)]) == 2
    assert 'found "nobody", allowed one of "staff"' in capsys.readouterr().err
