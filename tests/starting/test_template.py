"""The spreadsheet to fill in and the form to print: made by commands, filled in, read back."""

from __future__ import annotations

from pathlib import Path

import pytest

from spreadsim import cli
from spreadsim.inputs import read_experiment
from spreadsim.starting.survey_columns import survey_sheets

openpyxl = pytest.importorskip("openpyxl")

EXPERIMENT = """
vine = "wintercreeper"
title = "Invented"
crews = "survey.xlsx"
[site]
cell_size = 2
width = 200
height = 100
hosts = "survey.xlsx"
mats = "survey.xlsx"
{corner}
[[strategies]]
name = "stems"
[[strategies.tasks]]
treatment = "cut"
"""
FILLED = {
    "mats": {"tag": "m1", "radius": 5, "cover": "daubenmire 3", "notes": "by the gate"},
    "climbed hosts": {"tag": "h1", "state": "fruiting", "kind": "wall", "girth": "large", "height": 3, "known": "no"},
    "crews and hours": {"name": "staff", "winter": 40, "autumn": 12.5, "may": "cut", "price": 35},
}


def filled(path: Path, places: dict[str, float]) -> None:
    """Fill in row 4 of each sheet, by the beginnings of headings."""
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == list(FILLED)
    for name, values in FILLED.items():
        headings = {str(cell.value).split(" (")[0]: cell.column for cell in book[name][1]}
        given = {**values, **({} if name == "crews and hours" else places)}
        for heading, value in given.items():
            book[name].cell(4, headings[heading]).value = value
    book.save(path)


@pytest.mark.parametrize("feet", [False, True])
@pytest.mark.parametrize("degrees", [False, True])
def test_a_filled_template_is_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], feet: bool, degrees: bool
) -> None:
    path = tmp_path / "survey.xlsx"
    options = ["--feet"] * feet + ["--degrees"] * degrees
    assert cli.main(["template", str(path), *options]) == 0
    assert ("corner = " in capsys.readouterr().out) == degrees
    filled(path, {"longitude": -122.9995, "latitude": 49.0002} if degrees else {"x": 30, "y": 20})
    corner = "corner = [-123.0, 49.0]" if degrees else ""
    (tmp_path / "e.toml").write_text(EXPERIMENT.format(corner=corner))
    experiment = read_experiment(tmp_path / "e.toml")
    site, unit = experiment.site, 0.3048 if feet else 1.0
    assert len(site.hosts) == 1 and site.hosts.kind == ("wall",) and site.hosts.girth == ("large",)
    assert site.hosts.state.tolist() == [2] and site.hosts.known.tolist() == [False]
    assert site.hosts.height[0] == pytest.approx(3 * unit)
    if degrees:  # half a thousandth of a degree of longitude at 49 N is 36.6 m
        assert site.hosts.x[0] == pytest.approx(36.6, abs=0.1) and site.hosts.y[0] == pytest.approx(22.2, abs=0.1)
    else:
        assert (site.hosts.x[0], site.hosts.y[0]) == pytest.approx((30 * unit, 20 * unit))
    assert site.mat.sum() * 4 == pytest.approx(0.375 * 3.14159 * (5 * unit) ** 2, rel=0.05)
    (staff,) = experiment.crews
    assert (staff.hours, staff.may, staff.price) == ((40, 0, 0, 12.5), ("cut",), 35)
    assert sum("(an example or a comment)" in remark for remark in site.remarks) == 2


def test_an_empty_template_is_an_empty_site(tmp_path: Path) -> None:
    assert cli.main(["template", str(tmp_path / "survey.xlsx")]) == 0
    (tmp_path / "e.toml").write_text(
        EXPERIMENT.format(corner="").replace('crews = "survey.xlsx"', "[[crews]]\nname = 'a'\nhours = 4")
    )
    site = read_experiment(tmp_path / "e.toml").site
    assert len(site.hosts) == 0 and site.mat.sum() == 0


def test_every_example_would_be_right(tmp_path: Path) -> None:
    path = tmp_path / "survey.xlsx"
    assert cli.main(["template", str(path)]) == 0
    book = openpyxl.load_workbook(path)
    for cells in book:
        cells.cell(3, 1).value = "1"  # no example any more
    book.save(path)
    (tmp_path / "e.toml").write_text(EXPERIMENT.format(corner=""))
    experiment = read_experiment(tmp_path / "e.toml")
    assert experiment.site.hosts.x.tolist() == [35] and experiment.site.mat.max() == pytest.approx(0.3)
    assert experiment.crews[0].hours == (60, 25, 5, 80) and experiment.crews[0].volunteers


def test_lists_to_choose_from(tmp_path: Path) -> None:
    assert cli.main(["template", str(tmp_path / "t.xlsx")]) == 0
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    lists = {one.formula1 for one in book["climbed hosts"].data_validations.dataValidation if one.type == "list"}
    assert '"bare,climbing,fruiting"' in lists and '"small,medium,large"' in lists and '"yes,no"' in lists


@pytest.mark.parametrize(("command", "name"), [("template", "a.xlsx"), ("form", "a.html")])
def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, name: str) -> None:
    (tmp_path / name).write_text("mine")
    assert cli.main([command, str(tmp_path / name)]) == 2
    assert "nothing is overwritten" in capsys.readouterr().err and (tmp_path / name).read_text() == "mine"
    assert cli.main([command, str(tmp_path / "b.txt")]) == 2
    assert not (tmp_path / "b.txt").exists()


def test_the_form_has_the_columns_of_the_template(tmp_path: Path) -> None:
    name = "<script>alert(1)</script> & wood"
    assert cli.main(["form", str(tmp_path / "f.html"), "--site", name, "--feet"]) == 0
    page = (tmp_path / "f.html").read_text(encoding="utf-8")
    assert "<script" not in page and "&lt;script&gt;alert(1)&lt;/script&gt; &amp; wood" in page
    mats, hosts, _ = survey_sheets(feet=True)
    wanted = [column.heading for column in (*mats.columns, *hosts.columns) if column.heading != "known"]
    assert all(f">{heading}</th>" in page for heading in wanted)
    assert "radius (ft)" in wanted and "Daubenmire" in page and "5–25 %" in page
