"""What commands print fits a terminal of 80 columns whatever strategies are called, and progress fits narrower ones."""

import io
import sys

import numpy as np
import pytest

import spreadsim
from spreadsim import cli, runs, store
from spreadsim.analysis.found import Found, judge
from spreadsim.cli_screen import progress_bar
from spreadsim.inputs import Crew, Experiment, Site, Strategy, Task, load_vine
from spreadsim.views.found import found_text
from spreadsim.views.sweep_table import sweep_tables
from tests.analysis.synthetic import outcomes
from tests.views.test_sweep_table import swept

WIDTH = 80
LONG = (
    "no action",
    "cut whatever climbs, wherever it stands, before anything else is done anywhere on this whole site at all",
    "a-name-that-somebody-wrote-without-any-space-in-it-and-that-is-longer-than-a-line-of-the-terminal-can-be",
    "both, with follow-up until nothing at all has been found for four years in any unit of the northern half",
)


@pytest.fixture
def experiment():
    unit = np.where(np.arange(6) < 3, 1, 2) * np.ones((4, 6), int)
    site = Site.from_arrays(20.0, mat=np.full((4, 6), 0.1), units=unit, title=LONG[1])
    tasks = [Task("cut", name=LONG[3]), Task("pull"), Task("foliar-spray")]
    strategies = [Strategy(name, tasks=tasks) for name in LONG[1:]]
    crews = (Crew(LONG[1], 10, may=("all",)),)
    return Experiment(LONG[3], site, load_vine("wintercreeper"), crews, strategies, notice=LONG[1])


@pytest.fixture
def folder(monkeypatch, experiment, tmp_path):
    """A folder of results, made by no engine, that every command finds; paths are short, since no path is broken."""

    def numbers(*values):
        return dict(zip(LONG, values, strict=True))

    def made(*_, folder=None, **__):
        area, seeds = numbers(34.0, 30.0, 12.0, 7.0), numbers(9e7, 5e6, 6e6, 4e3)
        dataset = outcomes(LONG, replicates=30, shape=(4, 6), cell=20.0, area=area, seeds=seeds, noise=0.3)
        if folder is not None:
            store.write(dataset, folder / "outcomes.nc")
        return dataset

    monkeypatch.chdir(tmp_path)
    (tmp_path / "r").mkdir()
    made(folder=tmp_path / "r")
    monkeypatch.setattr(runs, "compare", made, raising=False)
    monkeypatch.setattr(spreadsim, "read_experiment", lambda path: experiment, raising=False)
    monkeypatch.setattr("spreadsim.views.style.save", lambda figure, where, name, told: [where / f"{name}.png"])
    monkeypatch.setattr("spreadsim.views.report.write_files", lambda *_, **__: [tmp_path / "r" / "outcomes.nc"])
    monkeypatch.setattr("spreadsim.inputs.find_design", lambda path: None)
    return tmp_path / "r"


GOALS = (
    '[goals]\nweights = { infested_area = 0.1, fruiting_hosts = 3 }\n[[goals.limits]]\noutcome = "cost"\nmost = 1e5\n'
)


@pytest.mark.parametrize(
    "arguments",
    [
        ["compare", "e.toml", "--out", "r"],
        pytest.param(["compare", "e.toml", "--out", "r", "--units", "us"], marks=pytest.mark.slow, id="compare us"),
        ["check", "e.toml", "--out", "r"],
        pytest.param(["decide", "r"], marks=pytest.mark.slow, id="decide"),
        ["decide", "r", "--goals", "g.toml"],
        ["ask", "clear", "--unit", LONG[1], "--searches", "6", "--finding", "0.3", "0.5"],
    ],
    ids=lambda arguments: " ".join(arguments[:2]),
)
def test_no_line_is_wider_than_the_terminal(folder, capsys, arguments):
    (folder.parent / "g.toml").write_text(GOALS)
    assert cli.main(arguments) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines and [line for line in lines if len(line) > WIDTH] == []


def test_search_and_sweep_fit_too(experiment):
    random = np.random.default_rng(2)
    score, hours = 1e6 * random.random((3, 40)), 1e3 * random.random((3, 40))
    origins = ["given", "given", "found"]
    judged = judge(list(LONG[1:]), origins, score, hours, 40 * hours, np.zeros(3), 0.9, 1)
    judged = judged.assign_attrs(score="infested_area", currency="a currency of long name", years=3)
    found = Found(experiment, experiment.strategies[2], "", judged, "can't tell", 9, 8, (4, 4, 40), 1)
    texts = [found_text(found), sweep_tables(swept(3, 4).assign_coords(strategy=list(LONG)))]
    for text in texts:
        # what is pasted into a file is not broken: a name in quotes stays in one piece
        lines = [line for line in text.splitlines() if " = " not in line]
        assert [line for line in lines if len(line) > WIDTH] == []


class Terminal(io.StringIO):
    """A screen that says it is one."""

    def isatty(self):
        return True


def shown(monkeypatch, columns, **settings):
    """What a long run leaves on such a screen."""
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    for name in ("NO_COLOR", "TTY_COMPATIBLE", "FORCE_COLOR"):
        monkeypatch.delenv(name, raising=False)
    for name, value in {"COLUMNS": str(columns), "TERM": "xterm-256color", **settings}.items():
        monkeypatch.setenv(name, value)
    with progress_bar("points") as report:
        for done in (0, 12_000, 40_000):
            report(done, 100_000)
    return screen.getvalue()


def plain(text):
    """Without what moves the cursor and what colours."""
    import re

    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", text)


@pytest.mark.parametrize("columns", [80, 60, 40])
def test_progress_fits_the_terminal_and_says_what_is_left(monkeypatch, columns):
    text = shown(monkeypatch, columns)
    lines = [line for part in plain(text).split("\r") for line in part.split("\n") if line.strip()]
    assert lines and max(map(len, lines)) <= columns
    assert "points" in lines[-1] and lines[-1].rstrip().endswith("left")
    assert columns < 60 or "40000/100000" in lines[-1]


def test_colour_only_where_it_is_wanted(monkeypatch):
    import re

    def coloured(text):
        return re.findall(r"\x1b\[[0-9;]*(?:3[0-9]|38;[0-9;]*|9[0-7])m", text)

    assert coloured(shown(monkeypatch, 80))
    assert not coloured(shown(monkeypatch, 80, NO_COLOR="1"))
    assert not coloured(shown(monkeypatch, 80, TERM="dumb"))


def test_a_pipe_gets_neither_progress_nor_colour(monkeypatch, folder, capsys):
    monkeypatch.setenv("FORCE_COLOR", "1")
    with progress_bar() as report:
        assert report is False
    assert cli.main(["check", "e.toml", "--out", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert "\x1b" not in out + err and err == ""
