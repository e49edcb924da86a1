"""What commands print when they really run fits a terminal of 80 columns, whatever units, tasks and crews are called."""

import csv
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spreadsim import cli

WIDTH = 80
LONG = "everything that climbs on the trees along the old road before any of it bears fruit in the coming autumn"
UNIT = "the wet hollow behind the second bridge, down to the fence of the neighbour to the east"
EXPERIMENT = f"""
title = "A park whose name is so long that no line of any terminal that anybody uses will ever hold the whole of it"
notice = "Invented."
years = 4
replicates = 50
vine = "wintercreeper"
[site]
cell_size = 10
canopy = 0.3
background_seed = 2000
layers = "layers.nc"
unit_names = ["north", "{UNIT}"]
mats = "mats.csv"
hosts = "hosts.csv"
[[crews]]
name = "volunteers who come on the first Saturday of the month, their friends and the friends of these"
hours = {{ winter = 30, spring = 20, autumn = 30 }}
may = ["all"]
[[strategies]]
name = "{LONG}"
[[strategies.tasks]]
treatment = "cut"
name = "{LONG}"
[[strategies.tasks]]
treatment = "pull"
[[strategies]]
name = "the mats"
[[strategies.tasks]]
treatment = "pull"
"""
SURVEY = f"""eventID,eventDate,unit,hours,occurrenceStatus,x,y,host,state
a,2025-12-10,north,3,absent,,,,
a,2025-12-10,north,3,present,95,55,,
b,2025-12-10,"{UNIT}",2,present,,,H1,climbing
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A small park in a folder of its own."""
    made = tmp_path_factory.mktemp("wide")
    (made / "e.toml").write_text(EXPERIMENT)
    (made / "s.csv").write_text(SURVEY)
    (made / "mats.csv").write_text("x,y,radius,cover\n30,30,12,0.9\n80,20,8,0.6\n")
    states = ["fruiting", "climbing", "bare", "bare"] * 4
    rows = [f"{5 + 7 * k},{10 + 9 * (k % 5)},{state}" for k, state in enumerate(states)]
    (made / "hosts.csv").write_text("\n".join(["x,y,state", *rows, ""]))
    axes = {"y": np.arange(55.0, 0.0, -10.0), "x": np.arange(5.0, 120.0, 10.0)}
    unit = np.repeat([1, 2], 3)[:, None] * np.ones((6, 12), int)
    xr.Dataset({"unit": (("y", "x"), unit)}, axes).to_netcdf(made / "layers.nc", engine="h5netcdf")
    return made


def fill(path: Path) -> None:
    """Fill a tally in: all of the first season is done."""
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row |= {"date": "2025-01-15", "done": "yes", "hours": row["planned_hours"]} if row["season"] == "winter" else {}
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)


STEPS = [
    ["compare", "e.toml", "--out", "r"],
    ["worklist", "e.toml", "--strategy", LONG, "--out", "w"],
    ["tally", "w/tally.csv"],
    ["log", "e.toml", "w/tally.csv", "--since", "2024-11-20"],
    ["log", "e.toml", "--out", "p"],
    ["learn", "e.toml", "--survey", "s.csv", "--replicates", "60", "--out", "l"],
    ["again", "e.toml", "--learned", "l", "--before", "r", "--out", "a"],
    ["look", "e.toml", "--learned", "l", "--hours", "3", "--out", "k"],
    ["flips", "e.toml", "--along", "hours", "--against", "start", "--steps", "2", "--replicates", "5", "--out", "f"],
    ["export", "r", "--out", "x"],
    ["draw", "r", "--what", "hours", "--out", "h.png"],
    ["lesson", "r", "--out", "lesson.html"],
    ["brief", "r"],
    ["sensitivity", "r"],
    ["ask", "ground", "e.toml", "--replicates", "10"],
    ["ask", "leave", "e.toml", "--strategy", LONG, "--replicates", "10", "--wait", "2"],
    ["ask", "scout", "e.toml", "--strategy", LONG, "--replicates", "10", "--hours", "5"],
]


@pytest.mark.slow
def test_a_year_of_commands_prints_no_line_wider_than_the_terminal(folder, monkeypatch, capsys):
    """Paths are short, since no path is broken."""
    monkeypatch.chdir(folder)
    for arguments in STEPS:
        if arguments[0] == "tally":
            fill(folder / "w/tally.csv")
        code = cli.main(arguments)
        said = capsys.readouterr()
        assert code == 0, (arguments, said.err)
        lines = (said.out + said.err.replace("\r", "\n")).splitlines()
        assert any(lines), arguments
        lines = [line for line in lines if not line.startswith("  spreadsim ")]  # to be copied, in one piece
        assert not (wide := [line for line in lines if len(line) > WIDTH]), (arguments, wide)
