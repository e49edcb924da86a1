"""CSV as phones and spreadsheet programs write it: separators, commas, encodings, units, places in degrees."""

from __future__ import annotations

import codecs
import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import InputError, Site, raw_tables, read_site

SITE = "cell_size = 2\nwidth = 200\nheight = 100\n"
HERE = 'crs = "EPSG:32610"\norigin = [500000, 5427420]\n'


def read(folder: Path, toml: str) -> Site:
    (folder / "s.toml").write_text(SITE + toml, encoding="utf-8")
    return read_site(folder / "s.toml")


def problems(folder: Path, toml: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, toml)
    return str(caught.value).replace(f"{folder}/", "")


# "Save as" of spreadsheet programs in lands with decimal commas, as Unicode text, and with a line that names the separator
SAVED = {
    "semicolon, decimal comma, Windows-1252": (
        "x;y;state;notes\r\n5,5;10,25;fruiting;Böschung\r\n7;8;bare;\r\n",
        "cp1252",
    ),
    "semicolon, decimal comma, mark": ("x;y;state;notes\r\n5,5;10,25;fruiting;Böschung\r\n7;8;bare;\r\n", "utf-8-sig"),
    "tab, UTF-16": ("x\ty\tstate\tnotes\r\n5.5\t10.25\tfruiting\tBöschung\r\n7\t8\tbare\t\r\n", "utf-16"),
    "separator named": ("sep=;\r\nx;y;state;notes\r\n5,5;10,25;fruiting;ö\r\n7;8;bare;\r\n", "utf-8"),
    "all quoted": (
        '"X";"Y";"State";"Notes"\r\n"5,5";"10,25";"Fruiting";"a;\r\n""b"""\r\n"7";"8";"bare";""\r\n',
        "utf-8",
    ),
    "old line ends": ("x,y,state,notes\r5.5,10.25,fruiting,ö\r7,8,bare,\r", "utf-8"),
    "quoted decimal commas": ('x,y,state\n"5,5","10,25",fruiting\n7,8,bare\n', "utf-8"),
    "units in headings": ("x (ft);y_m;Status\n18,04461942;10,25;fruiting\n22,96587927;8;\n", "utf-8"),
    "units in cells": ("x,y,state\n18.04461942 ft,10.25 m,in fruit\n7 m,8,none\n", "utf-8"),
}


@pytest.mark.parametrize("name", SAVED)
def test_files_as_spreadsheet_programs_save_them(tmp_path: Path, name: str) -> None:
    text, encoding = SAVED[name]
    (tmp_path / "h.csv").write_bytes(text.encode(encoding))
    site = read(tmp_path, 'hosts = "h.csv"')
    assert site.hosts.x == pytest.approx([5.5, 7]) and site.hosts.y == pytest.approx([10.25, 8])
    assert site.hosts.state.tolist() == [2, 0]
    assert any("Windows-1252" in remark for remark in site.remarks) == (encoding == "cp1252")


def test_utf_16_either_way_round(tmp_path: Path) -> None:
    for mark, encoding in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        (tmp_path / "h.csv").write_bytes(mark + "x,y\n5,6\n".encode(encoding))
        assert read(tmp_path, 'hosts = "h.csv"').hosts.x.tolist() == [5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x,y\n=1+1,2\n", "line 2, x: found the formula =1+1, allowed a value: formulas are never worked out"),
        ("x,y\n=cmd|' /C calc'!A0,2\n", "line 2, x: found the formula =cmd"),
        ("x,y\n#REF!,2\n", "line 2, x: found the error #REF!"),
        (
            "x,y\n1-May,2\n",
            'line 2, x: found "1-May", allowed a finite number, with a point for decimals: a spreadsheet',
        ),
        ('x,y\n"1,5",2.5\n', 'line 2, x: found "1,5", allowed a finite number, with a point for decimals and nothing'),
        ('x,y\n"1,234","2,345"\n', 'line 2, x: found "1,234"'),  # thousands, or decimals: not for us to say
        ("x,y,longitude,latitude\n1,2,3,4\n", "found x, y and longitude, latitude, allowed one pair of coordinates"),
        ("x,y,heigth\n1,2,3\n", 'line 1: found column "heigth" (perhaps "height" was meant)'),
        ("x,y\n1,2,3\n", "line 2: found 3 fields, allowed 2, as in the first line; a field with a comma"),
        (",y\n1,2\n", "line 1: found no heading over column 1"),
    ],
)
def test_what_cannot_be_read_is_named(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "h.csv").write_text(text)
    assert said in problems(tmp_path, 'hosts = "h.csv"')


def test_a_wrong_column_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "h.csv").write_text("x,y\n" + "one,2\n" * 5000)
    said = problems(tmp_path, 'hosts = "h.csv"').splitlines()
    assert len(said) == 21 and "and 4,980 more that are wrong" in said[-1]


COVERS = ("daubenmire 3", "Braun-Blanquet 2b", "30 %", "0.25", "12,5%")
MIDDLES = (0.375, 0.20, 0.30, 0.25, 0.125)  # classes: tests/inputs/test_cover_classes.py has their sources


def test_covers_of_any_scale_in_a_table(tmp_path: Path) -> None:
    rows = "".join(f"{20 + 40 * k};50;5;{cover.replace('.', ',')}\n" for k, cover in enumerate(COVERS))
    (tmp_path / "m.csv").write_text("x;y;radius;cover class\n" + rows)
    site = read(tmp_path, 'mats = "m.csv"')
    for k, middle in enumerate(MIDDLES):
        assert site.mat[25, 10 + 20 * k] == pytest.approx(middle)
    assert sum("taken at their middles" in remark for remark in site.remarks) == 2


def test_a_scale_said_for_the_file(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text("x,y,radius,cover\n20,50,5,T\n60,50,5,6\n")
    site = read(tmp_path, 'mats = { file = "m.csv", scale = "modified Daubenmire" }')
    assert (site.mat[25, 10], site.mat[25, 30]) == pytest.approx((0.005, 0.975))
    said = problems(tmp_path, 'mats = { file = "m.csv", scale = "percent" }')
    assert 'm.csv: line 2, cover: found "T", allowed 0 to 100' in said
    (tmp_path / "m.csv").write_text("x,y,radius,cover\n20,50,5,0.3\n")
    remarks = read(tmp_path, 'mats = { file = "m.csv", scale = "percent" }').remarks
    assert any("are they shares" in remark for remark in remarks)
    assert "scale: found" in problems(tmp_path, 'mats = { file = "m.csv", scale = "by eye" }')


DEGREES = "latitude;longitude;state\n49,00020;-122,99950;climbing\n49,00040;-122,99910;bare\n"


def test_places_in_degrees_by_the_site_s_reference_system(tmp_path: Path) -> None:
    pyproj = pytest.importorskip("pyproj")
    (tmp_path / "h.csv").write_text(DEGREES)
    hosts = read(tmp_path, HERE + 'hosts = "h.csv"').hosts
    to_utm = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32610", always_xy=True)
    x, y = to_utm.transform([-122.9995, -122.9991], [49.0002, 49.0004])
    assert hosts.x == pytest.approx(np.array(x) - 500000, abs=1e-6)
    assert hosts.y == pytest.approx(np.array(y) - 5427420, abs=1e-6)


def test_places_in_degrees_by_the_corner_alone(tmp_path: Path) -> None:
    pyproj = pytest.importorskip("pyproj")
    (tmp_path / "h.csv").write_text(DEGREES)
    hosts = read(tmp_path, 'corner = [-123.0, 49.0]\nhosts = "h.csv"').hosts
    local = pyproj.Transformer.from_crs("EPSG:4326", "+proj=tmerc +lat_0=49 +lon_0=-123 +datum=WGS84", always_xy=True)
    x, y = local.transform([-122.9995, -122.9991], [49.0002, 49.0004])
    assert hosts.x == pytest.approx(x, abs=1e-4) and hosts.y == pytest.approx(y, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "site", "said"),
    [
        (DEGREES, "", "found longitude and latitude, allowed x and y in metres"),
        ("longitude,latitude\n49.0002,-122.9995\n", "corner = [-123, 49]\n", "they look swapped"),
        ("longitude,latitude\n500010,5427430\n", "corner = [-123, 49]\n", "metres belong under x and y"),
        ("longitude,latitude\n122.9995,49.0002\n", "corner = [-123, 49]\n", "longitudes negative in the west"),
        ("longitude,latitude\n-122.9995,49.0002\n", "corner = [49, -123]\n", "corner: found [49.0, -123.0]"),
        ("longitude,latitude\n-122.9995,49.0002\n", HERE + "corner = [-123, 49]\n", "either corner, or crs and origin"),
    ],
)
def test_degrees_that_cannot_be_placed(tmp_path: Path, text: str, site: str, said: str) -> None:
    (tmp_path / "h.csv").write_text(text)
    assert said in problems(tmp_path, site + 'hosts = "h.csv"')


def test_coordinates_of_the_map(tmp_path: Path) -> None:
    (tmp_path / "h.csv").write_text("easting,northing\n500010,5427440\n500990,5427440\n")
    assert "790.0 m off the site" in problems(tmp_path, HERE + 'hosts = "h.csv"')
    kept = read(tmp_path, HERE + 'hosts = { file = "h.csv", clip = true }')
    assert kept.hosts.x.tolist() == [10] and kept.hosts.y.tolist() == [20]
    assert any("1 of 2 rows lie off the site" in remark for remark in kept.remarks)


def test_without_pyproj_it_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found: Any = importlib.util.find_spec
    monkeypatch.setattr("spreadsim.inputs.gis.find_spec", lambda name: None if name == "pyproj" else found(name))
    (tmp_path / "h.csv").write_text(DEGREES)
    assert "no pyproj on this machine" in problems(tmp_path, HERE + 'hosts = "h.csv"')
    assert len(read(tmp_path, 'corner = [-123.0, 49.0]\nhosts = "h.csv"').hosts) == 2


def test_more_lines_than_there_may_be_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raw_tables, "MOST_ROWS", 1_000)
    (tmp_path / "a.csv").write_text("x,y\n" + "1,1\n" * 999)
    (tmp_path / "site.toml").write_text('cell_size = 2\nwidth = 40\nheight = 20\nhosts = "a.csv"\n')
    assert len(read_site(tmp_path / "site.toml").hosts) == 999
    (tmp_path / "a.csv").write_text("x,y\n" + "1,1\n" * 1000)
    with pytest.raises(InputError, match=r"a\.csv: found more than 1,000 lines, allowed fewer"):
        read_site(tmp_path / "site.toml")


def test_plain_columns_of_numbers_are_the_same_as_others(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text('units = "us"\ncell_size = 6\nwidth = 60\nheight = 60\nhosts = "a.csv"\n')
    for x in ("10", "10.0", "1e1", "10 ft", "3.048 m"):
        (tmp_path / "a.csv").write_text(f"x,y\n{x},5\n2,3\n")
        assert read_site(tmp_path / "site.toml").hosts.x.tolist() == pytest.approx([3.048, 0.6096], rel=1e-12)
    for x in ("1_0", "nan", "inf", "1e999"):
        (tmp_path / "a.csv").write_text(f"x,y\n{x},5\n2,3\n")
        with pytest.raises(InputError, match="line 2, x"):
            read_site(tmp_path / "site.toml")
