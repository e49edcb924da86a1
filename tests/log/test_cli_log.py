"""A steward's year from files alone: work list, tally filled in, log, planned against done, learning."""

import csv
import re
from pathlib import Path

import pytest
import xarray as xr
from click.testing import CliRunner

from spreadsim.cli import cli, main

from .wood import site_of

EXPERIMENT = """
title = "A wood of two units"
notice = "Invented."
years = 3
replicates = 20
vine = "wintercreeper"
[site]
file = "site.toml"
[[crews]]
name = "friends"
volunteers = true
hours = { winter = 24, spring = 16 }
[[strategies]]
name = "stems first"
[[strategies.tasks]]
treatment = "cut"
name = "stems"
share = 0.4
follow_up = { every = 2, clean = 2 }
[[strategies.tasks]]
treatment = "pull"
follow_up = { every = 2, clean = 2 }
"""
SITE = """
title = "A wood of two units"
cell_size = 2.0
layers = "ground.nc"
unit_names = ["west", "east"]
hosts = "hosts.csv"
"""
RECORDS = """eventID,eventDate,locationID,occurrenceStatus,organismQuantity,organismQuantityType,hours
A,2025-12-10,west,present,150,m2,2
B,2025-12-11,east,absent,,,1
"""


def files(folder: Path) -> Path:
    site = site_of()
    xr.Dataset({"mat": (("y", "x"), site.mat), "unit": (("y", "x"), site.unit)}).to_netcdf(
        folder / "ground.nc", engine="h5netcdf"
    )
    rows = [
        f"{x:.1f},{y:.1f},{'climbing' if s else 'bare'}"
        for x, y, s in zip(site.hosts.x, site.hosts.y, site.hosts.state, strict=True)
    ]
    (folder / "hosts.csv").write_text("\n".join(["x,y,state", *rows]))
    (folder / "site.toml").write_text(SITE)
    (folder / "experiment.toml").write_text(EXPERIMENT)
    (folder / "records.csv").write_text(RECORDS)
    return folder / "experiment.toml"


def run(*arguments: object) -> str:
    answer = CliRunner().invoke(cli, [str(one) for one in arguments])
    assert answer.exit_code == 0, (answer.output, answer.exception)
    lines = answer.output.splitlines()
    assert max((len(line) for line in lines if "/" not in line), default=0) <= 80
    return " ".join(answer.output.split())


def refused(capsys, *arguments: object) -> str:
    assert main([str(one) for one in arguments]) == 2
    told = capsys.readouterr()
    assert not told.out and "Traceback" not in told.err
    return " ".join(told.err.split())


def fill(path: Path, filled: Path) -> int:
    """Fill in two thirds of the winter's lines as a spreadsheet with decimal commas saves them."""
    lines = list(csv.DictReader(path.open()))
    winter = [line for line in lines if line["season"] == "winter"]
    done = winter[: 2 * len(winter) // 3]
    for k, line in enumerate(done):
        line |= {"date": "2025-01-16", "done": "yes" if k % 4 else "part", "people": "8"}
        line["hours"] = str(round(1.3 * float(line["planned_hours"]), 2)).replace(".", ",")
    done[0] |= {"found": "2", "something_else": "1", "notes": "behind the fence"}
    with filled.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(lines[0]), delimiter=";")
        writer.writeheader()
        writer.writerows(lines)
    return len(lines)


def test_a_year_from_files_alone(tmp_path, capsys):
    path = files(tmp_path)
    assert run("log", path).endswith("The log has no lines yet.")
    run(
        "worklist", path, "--strategy", "stems first", "--seasons", "2", "--replicates", "8", "--out", tmp_path / "list"
    )
    count = fill(tmp_path / "list" / "tally.csv", tmp_path / "filled.csv")
    assert "1 of what was gone to turned out to be something else." in run("tally", tmp_path / "filled.csv")
    told = refused(capsys, "log", path, tmp_path / "filled.csv")
    assert "since: found nothing, allowed the date of the map" in told
    told = run("log", path, tmp_path / "filled.csv", "--since", "2024-11-20", "--only-check")
    assert f"is in order: {count} lines would be taken; nothing was written." in told
    assert not (tmp_path / "log").exists()
    told = run("log", path, tmp_path / "filled.csv", "--since", "2024-11-20")
    assert f"Taken: {count} lines of" in told and f"as 2025-1:1 to 2025-1:{count}, in" in told
    assert "in the log already" in refused(capsys, "log", path, tmp_path / "filled.csv")
    (tmp_path / "more.csv").write_text(
        "date,crew,people,hours,hours each,task,unit,done,corrects\n2025-04-02,friends,3,,2,pull,west,yes,\n,,8,0.6,,,,yes,2025-1:2\n"
    )
    told = run("log", path, tmp_path / "more.csv")
    assert "Taken: 2 lines" in told and "1 of them takes the place of older lines, which stay." in told
    told = run("log", path, "--out", tmp_path / "shown")
    assert told.startswith("Invented. Winter of year 1 to spring of year 1: ") and "Most is left undone in:" in told
    assert re.search(r"took \S+ h where \S+ h were planned, 1\.\d+ times \(90 % interval", told)
    assert "2 further hosts with vine were found: put them at the end of the site's list of hosts" in told
    names = {"planned-against-done.csv", "planned-against-done.png", "planned-against-done.svg", "found.csv"}
    assert {one.name for one in (tmp_path / "shown").iterdir()} == names
    planned = list(csv.DictReader((tmp_path / "shown" / "planned-against-done.csv").open()))
    tally = list(csv.DictReader((tmp_path / "list" / "tally.csv").open()))
    assert sum(float(row["planned_hours"]) for row in planned) == pytest.approx(
        sum(float(row["planned_hours"]) for row in tally), abs=0.1
    )
    arguments = ["learn", path, "--survey", tmp_path / "records.csv", "--replicates", "20", "--out", tmp_path / "out"]
    assert "--without-log leaves the log alone" in refused(capsys, *arguments, "--strategy", "stems first")
    assert "--without-log leaves the log alone" in refused(capsys, *arguments, "--done", "0.5")
    told = run(*arguments)
    assert "The work is that of the log beside" in told and '"the work that was logged"' in told
    assert "from the map of 2024-11-20 to the survey of 2025-12-1" in told
    told = run(*arguments, "--without-log", "--strategy", "stems first", "--since", "2024-11-20", "--done", "0.5")
    assert '"stems first" with 50 % of its hours' in told


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--sheet", "June"], "--sheet: found it without a FILE"),
        (["--since", "2024-11-20"], "--since: found it without a FILE"),
        (["--only-check"], "--only-check: found it without a FILE"),
        (["noted.csv", "--out", "shown"], "--out: found it with a FILE"),
        (["none.csv", "--since", "2024-11-20"], "none.csv"),
    ],
)
def test_what_does_not_go_together_is_said(tmp_path, capsys, more, told):
    assert told in refused(capsys, "log", files(tmp_path), *more)
    assert not (tmp_path / "log").exists()


def test_a_log_beside_another_site_is_refused_by_name(tmp_path, capsys):
    path = files(tmp_path)
    (tmp_path / "noted.csv").write_text("date,crew,hours,task,unit,done\n2025-01-05,friends,2,stems,west,yes\n")
    run("log", path, tmp_path / "noted.csv", "--since", "2024-11-20")
    (tmp_path / "site.toml").write_text(SITE.replace("A wood of two units", "Elsewhere").replace('"west"', '"hill"'))
    arguments = ["learn", path, "--survey", tmp_path / "records.csv", "--replicates", "20", "--out", tmp_path / "out"]
    for command in (["log", path], ["log", path, tmp_path / "noted.csv"], arguments):
        assert "2025-1.csv: found a log of A wood of two units [" in refused(capsys, *command)
    assert not (tmp_path / "out").exists()
