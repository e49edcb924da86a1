"""Spreadsheets (.xlsx): what is read, and what is named rather than worked out, unpacked or guessed."""

from __future__ import annotations

import importlib.util
import io
import re
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from spreadsim.inputs import InputError, read_experiment, read_site

openpyxl = pytest.importorskip("openpyxl")

SITE = "cell_size = 2\nwidth = 200\nheight = 100\n"
HOSTS: list[list[object]] = [["tag", "x", "y", "state"], ["a", 5.5, 6, "Fruiting"], ["b", 7, 8.25, None]]
EXPERIMENT = f"""
vine = "wintercreeper"
title = "Invented"
crews = "a.xlsx"
[site]
{SITE}
[[strategies]]
name = "stems"
[[strategies.tasks]]
treatment = "cut"
"""


def book(path: Path, **sheets: list[list[Any]]) -> Any:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        cells = made.create_sheet(name.replace("_", " "))
        for row in rows:
            cells.append(row)
    made.save(path)
    return made


def hosts(folder: Path, toml: str = 'hosts = "a.xlsx"') -> Any:
    (folder / "s.toml").write_text(SITE + toml, encoding="utf-8")
    return read_site(folder / "s.toml")


def problems(folder: Path, toml: str = 'hosts = "a.xlsx"') -> str:
    with pytest.raises(InputError) as caught:
        hosts(folder, toml)
    return str(caught.value).replace(f"{folder}/", "")


def repacked(path: Path, part: str, old: str, new: str) -> None:
    """Change the first text of a part of a spreadsheet that matches `old`."""
    held = io.BytesIO()
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as into:
        for one in packed.namelist():
            data = packed.read(one)
            if one == part:
                data, times = re.subn(old.encode(), new.encode(), data, count=1)
                assert times
            into.writestr(one, data)
    path.write_bytes(held.getvalue())


def test_sheets_are_found_by_name_or_said_or_alone(tmp_path: Path) -> None:
    mats = [["x", "y", "radius (ft)", "cover"], [20, 50, 16.4042, "daubenmire 4"]]
    book(tmp_path / "a.xlsx", Mats=mats, Climbed_Hosts=HOSTS, trees_of_May=HOSTS[:2])
    site = hosts(tmp_path, 'hosts = "a.xlsx"\nmats = "a.xlsx"')
    assert site.hosts.x.tolist() == [5.5, 7] and site.hosts.state.tolist() == [2, 0]
    assert site.mat[25, 10] == 0.625 and site.mat.sum() * 4 == pytest.approx(0.625 * 3.14159 * 25, rel=0.02)
    assert len(hosts(tmp_path, 'hosts = { file = "a.xlsx", sheet = "trees of may" }').hosts) == 1
    assert 'found no sheet "sources", allowed one of that name' in problems(tmp_path, 'sources = "a.xlsx"')
    book(tmp_path / "a.xlsx", Sheet1=HOSTS)
    assert len(hosts(tmp_path).hosts) == 2


def test_rows_that_are_only_formatted_or_far_below_count_for_nothing(tmp_path: Path) -> None:
    made = book(tmp_path / "a.xlsx", hosts=HOSTS)
    for row in (50, 1_048_576):
        made["hosts"].cell(row, 3).number_format = "@"
    made.save(tmp_path / "a.xlsx")
    assert len(hosts(tmp_path).hosts) == 2


def test_formulas_are_never_worked_out(tmp_path: Path) -> None:
    book(tmp_path / "a.xlsx", hosts=[["x", "y"], ["=1+1", 6], [5, 6]])
    assert 'a.xlsx: sheet "hosts": found formulas that were never worked out: A2' in problems(tmp_path)
    empty = r"<f>1\+1</f><v ?(/>|></v>)"  # with lxml openpyxl writes the second, without it the first
    repacked(tmp_path / "a.xlsx", "xl/worksheets/sheet1.xml", empty, "<f>1+1</f><v>2</v>")
    assert hosts(tmp_path).hosts.x.tolist() == [2, 5]  # the value that was kept of it


def test_dates_merged_cells_and_errors_are_named(tmp_path: Path) -> None:
    book(tmp_path / "a.xlsx", hosts=[["x", "y"], [date(2026, 5, 1), 6], [datetime(2026, 5, 1, 9, 30), "#N/A"]])
    said = problems(tmp_path)
    assert 'row 2, x: found "2026-05-01", allowed a finite number' in said and "has made a date of it" in said
    assert 'found "2026-05-01T09:30"' in said and "row 3, y: found the error #N/A" in said
    made = book(tmp_path / "a.xlsx", hosts=[["x", "y"], [5, 6], [None, 7]])
    made["hosts"].merge_cells("A2:A3")
    made.save(tmp_path / "a.xlsx")
    assert 'sheet "hosts": found merged cells: A2:A3, allowed one value in each cell' in problems(tmp_path)


def test_a_date_among_notes_is_nobody_s_trouble(tmp_path: Path) -> None:
    book(tmp_path / "a.xlsx", hosts=[["x", "y", "date"], [5, 6, date(2026, 5, 1)]])
    assert len(hosts(tmp_path).hosts) == 1


def test_what_grows_when_unpacked_is_refused(tmp_path: Path) -> None:
    book(tmp_path / "a.xlsx", hosts=HOSTS)
    with zipfile.ZipFile(tmp_path / "a.xlsx", "a", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/media/zeros.bin", bytes(60_000_000))
    assert (tmp_path / "a.xlsx").stat().st_size < 100_000
    assert "MB when unpacked, allowed at most" in problems(tmp_path)
    book(tmp_path / "a.xlsx", hosts=HOSTS)
    entity = '<!DOCTYPE a [<!ENTITY b "bbbbbbbb"><!ENTITY c "&b;&b;&b;&b;">]><worksheet'
    repacked(tmp_path / "a.xlsx", "xl/worksheets/sheet1.xml", "<worksheet", entity)
    assert "a damaged spreadsheet" in problems(tmp_path)


def test_too_many_rows_or_columns_are_refused(tmp_path: Path) -> None:
    made = book(tmp_path / "a.xlsx", hosts=HOSTS)
    made["hosts"].cell(300_000, 1).value = "far"
    made.save(tmp_path / "a.xlsx")
    assert "allowed at most 200,000 rows" in problems(tmp_path)
    made["hosts"].delete_rows(300_000)
    made["hosts"].cell(2, 300).value = "far"
    made.save(tmp_path / "a.xlsx")
    assert "200 columns" in problems(tmp_path)


def test_what_is_no_spreadsheet(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_text("x,y\n1,2\n")
    assert "found no spreadsheet, whatever its name" in problems(tmp_path)
    (tmp_path / "a.xlsx").write_bytes(b"\xd0\xcf\x11\xe0" + bytes(600))
    assert "found an old spreadsheet (.xls)" in problems(tmp_path)
    book(tmp_path / "a.xlsx", hosts=HOSTS)
    (tmp_path / "a.xlsx").rename(tmp_path / "a.csv")
    assert len(hosts(tmp_path, 'hosts = "a.csv"').hosts) == 2  # by what it is, not by its name


def test_without_openpyxl_it_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book(tmp_path / "a.xlsx", hosts=HOSTS)
    found: Any = importlib.util.find_spec
    monkeypatch.setattr(
        "spreadsim.inputs.spreadsheet.find_spec", lambda name: None if name == "openpyxl" else found(name)
    )
    assert "no openpyxl on this machine" in problems(tmp_path) and "spreadsim[tables]" in problems(tmp_path)


CREWS: list[list[object]] = [
    ["no", "name", "winter", "summer", "may", "volunteers", "price", "paid", "first year", "last year", "lead seasons"],
    [1, "Friends of the wood", 60, 5.5, "cut; Pull", "yes", 30, "no", None, 4, None],
    [2, "staff", 40, None, None, None, None, None, 2, None, 1],
]


def test_crews_and_hours(tmp_path: Path) -> None:
    book(tmp_path / "a.xlsx", Crews_and_hours=CREWS)
    (tmp_path / "e.toml").write_text(EXPERIMENT)
    friends, staff = read_experiment(tmp_path / "e.toml").crews
    assert (friends.name, friends.hours, friends.may) == ("Friends of the wood", (60, 0, 5.5, 0), ("cut", "pull"))
    assert friends.volunteers and not friends.paid and (friends.price, friends.years) == (30, (1, 4))
    assert (staff.hours, staff.may, staff.paid, staff.price) == ((40, 0, 0, 0), ("all",), True, 0)
    assert (staff.years, staff.lead_seasons, staff.leader) == ((2, None), 1, None)


def test_crews_from_csv(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("name;autumn\nstaff;12,5\n")
    (tmp_path / "e.toml").write_text(EXPERIMENT.replace("a.xlsx", "c.csv"))
    assert read_experiment(tmp_path / "e.toml").crews[0].hours == (0, 0, 0, 12.5)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ([3, "a", -2], 'sheet "crews", row 4, winter: found -2.0'),
        ([3, None, 2], 'sheet "crews", row 4, name: found nothing'),
        ([3, "staff", 2], 'crews[2].name: found "staff"'),
        ([3, "a", 2, 2, "cuts"], 'may[0]: found "cuts"'),
        ([3, "a", 2, 2, "all, cut"], "row 4, may: found"),
        ([3, "a", 2, 2, None, "perhaps"], 'row 4, volunteers: found "perhaps"'),
        ([3, "a", 2, 2, None, None, None, None, 1.5], "row 4, first year: found 1.5, allowed a whole number"),
        ([3, "a", 2, 2, None, None, None, None, 5, 3], "row 4, first year: found"),
    ],
)
def test_faults_of_crews(tmp_path: Path, row: list[object], said: str) -> None:
    book(tmp_path / "a.xlsx", crews=[*CREWS, row])
    (tmp_path / "e.toml").write_text(EXPERIMENT)
    with pytest.raises(InputError) as caught:
        read_experiment(tmp_path / "e.toml")
    assert said in str(caught.value) and len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize("given", ["3", '{ name = "a" }', "true"])
def test_crews_that_are_neither_tables_nor_a_file(tmp_path: Path, given: str) -> None:
    (tmp_path / "e.toml").write_text(EXPERIMENT.replace('"a.xlsx"', given))
    with pytest.raises(InputError, match=r"crews: found .*, allowed tables \[\[crews\]\], or a file"):
        read_experiment(tmp_path / "e.toml")
