"""Damaged and odd tables, spreadsheets and experiment files end in a result or an `InputError`, never in anything else."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from spreadsim.inputs import InputError, read_experiment, read_site
from tests.inputs.conftest import EXPERIMENT, HOSTS, MATS, SITE, SOURCES
from tests.inputs.test_gis_fuzz import damaged

SEPARATORS = (",", ";", "\t", "|", ", ", "")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "utf-7", "utf-32")
FIELDS = (
    *(
        "",
        "0",
        "1,5",
        "1.5",
        "-3",
        "1e400",
        "nan",
        "inf",
        "-0",
        "0x10",
        "1_0",
        "٣",
        "½",
        "9" * 400,
        "1,234,567",
        "1.234,5",
    ),
    *(
        "=1+1",
        "=cmd|' /C calc'!A0",
        "+1",
        "-1",
        "@SUM(A1)",
        "#REF!",
        "#N/A",
        "# example",
        "# explanation",
        "2026-05-01",
        "1-May",
    ),
    *(
        "daubenmire 3",
        "daubenmire 9",
        "30 %",
        "300 %",
        "braun-blanquet +",
        "r",
        "6 ft",
        "6'",
        "6 furlongs",
        "true",
        "perhaps",
    ),
    *(
        "bare",
        "climbing",
        "Fruiting",
        "tree",
        "<b>",
        "a\nb",
        'a"b',
        "a;b",
        "\x00",
        "\ufeff",
        "\u202e",
        "😀",
        "\ud800",
        "é" * 300,
    ),
)
HEADINGS = (
    *(
        "x",
        "y",
        "X (ft)",
        "y_m",
        "state",
        "kind",
        "radius",
        "cover",
        "Cover class",
        "height (ft)",
        "known",
        "hosts",
        "notes",
    ),
    *(
        "longitude",
        "latitude",
        "easting",
        "northing",
        "",
        " ",
        "z",
        "x",
        "top light",
        "years-climbing",
        "=x",
        "#",
        "\x00",
    ),
)


def ends(read: Callable[[Path], object], path: Path) -> bool:
    """Read; tell whether it came to a result, and hold an `InputError` to naming what is wrong in few words."""
    try:
        read(path)
    except InputError as error:
        assert error.problems and all(0 < len(problem) < 2000 for problem in error.problems)
        assert len(error.problems) < 400
        return False
    return True


def written(folder: Path) -> Path:
    """Write a small experiment with all its tables."""
    for name, text in (("site.toml", SITE), ("hosts.csv", HOSTS), ("mats.csv", MATS), ("sources.csv", SOURCES)):
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "experiment.toml").write_text(EXPERIMENT, encoding="utf-8")
    assert ends(read_experiment, folder / "experiment.toml")
    return folder


def odd_tables(rng: np.random.Generator, cases: int) -> Iterator[bytes]:
    """Tables of odd headings and fields, written in many ways."""
    plain = [HOSTS, MATS, SOURCES]
    for case in range(cases):
        mark = SEPARATORS[int(rng.integers(len(SEPARATORS)))]
        if case % 2:
            lines = [line.split(",") for line in plain[int(rng.integers(3))].splitlines()]
            for _ in range(int(rng.integers(1, 4))):
                row = lines[int(rng.integers(len(lines)))]
                row[int(rng.integers(len(row)))] = FIELDS[int(rng.integers(len(FIELDS)))]
        else:
            width = int(rng.integers(1, 6))
            lines = [[HEADINGS[k] for k in rng.integers(len(HEADINGS), size=width)]]
            lines += [[FIELDS[k] for k in rng.integers(len(FIELDS), size=width)] for _ in range(int(rng.integers(5)))]
        quoted = rng.random() < 0.5
        text = "\r\n".join(mark.join(f'"{one}"' if quoted else one for one in line) for line in lines)
        data = text.encode(ENCODINGS[int(rng.integers(len(ENCODINGS)))], errors="replace")
        yield damaged(data, rng) if data and rng.random() < 0.3 else data


def csv_cases(folder: Path, cases: int, seed: int) -> int:
    rng, good = np.random.default_rng(seed), 0
    written(folder)
    toml = [SITE, "corner = [-123.0, 49.0]\n" + SITE, 'units = "us"\n' + SITE]
    for k, name in enumerate(("hosts", "mats", "sources") * 3):
        (folder / f"{k}.toml").write_text(toml[k // 3].replace(f"{name}.csv", "odd.csv"), encoding="utf-8")
    for case, data in enumerate(odd_tables(rng, cases)):
        (folder / "odd.csv").write_bytes(data)
        good += ends(read_site, folder / f"{case % 9}.toml")
    return good


def spreadsheet() -> bytes:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for name, text in (("mats", MATS), ("climbed hosts", HOSTS)):
        cells = book.create_sheet(name)
        for line in text.splitlines():
            cells.append([float(one) if one.replace(".", "").isdigit() else one or None for one in line.split(",")])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def damaged_within(whole: bytes, rng: np.random.Generator) -> bytes:
    """Damage a part of a spreadsheet before it is packed, so that the damage gets as far as the reader of its XML."""
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as packed, zipfile.ZipFile(held, "w") as into:
        names = packed.namelist()
        hit = [n for n in names if "sheet" in n or "workbook" in n or "shared" in n]
        chosen = hit[int(rng.integers(len(hit)))]
        for name in names:
            data = packed.read(name)
            into.writestr(name, damaged(data, rng) if name == chosen else data)
    return held.getvalue()


def spreadsheet_cases(folder: Path, cases: int, seed: int) -> int:
    rng, good, whole = np.random.default_rng(seed), 0, spreadsheet()
    text = SITE.replace("hosts.csv", "a.xlsx").replace("mats.csv", "a.xlsx")
    written(folder)
    (folder / "site.toml").write_text(text, encoding="utf-8")
    (folder / "a.xlsx").write_bytes(whole)
    assert ends(read_site, folder / "site.toml")
    for case in range(cases):
        (folder / "a.xlsx").write_bytes(damaged_within(whole, rng) if case % 3 else damaged(whole, rng))
        good += ends(read_site, folder / "site.toml")
    return good


ODD_VALUES = (
    *(
        "9" * 5000,
        "-" + "9" * 400,
        "1e999",
        "nan",
        "-inf",
        "0x" + "f" * 3000,
        "true",
        '""',
        "''",
        "1979-05-27T07:32:00Z",
        "00:00:00",
    ),
    *(
        "[]",
        "{}",
        "[[]]",
        "[1, 'a']",
        "{ file = 'a.csv' }",
        "{ file = '../a' }",
        "{ file = 3, crs = 4 }",
        "'/etc/passwd'",
    ),
    *(
        '"\\u0000"',
        '"\\U0001F600"',
        '"' + "a" * 10_000 + '"',
        "'hosts.csv'",
        "[" * 300 + "]" * 300,
        "{a=" * 100 + "1" + "}" * 100,
    ),
)
DEEP = {
    "arrays": "canopy = " + "[" * 10_000 + "]" * 10_000,
    "arrays without an end": "canopy = " + "[" * 10_000,
    "tables in tables": "canopy = " + "{a = " * 10_000 + "1" + "}" * 10_000,
    "a key of 10,000 parts": ".".join(["a"] * 10_000) + " = 1",
    "a heading of 10,000 parts": "[" + ".".join(["a"] * 10_000) + "]",
    "a whole number of 100,000 digits": "canopy = " + "9" * 100_000,
    "10,000 keys": "\n".join(f"k{k} = {k}" for k in range(10_000)),
}


@pytest.mark.parametrize("name", DEEP)
@pytest.mark.parametrize("file", ["site.toml", "experiment.toml"])
def test_toml_without_measure(folder: Path, name: str, file: str) -> None:
    (folder / file).write_text(DEEP[name] + "\n" + (folder / file).read_text())
    read = read_site if file == "site.toml" else read_experiment
    with pytest.raises(InputError) as caught:
        read(folder / file)
    assert file in str(caught.value) and all(len(problem) < 2000 for problem in caught.value.problems)


def toml_cases(folder: Path, cases: int, seed: int) -> int:
    rng, good = np.random.default_rng(seed), 0
    written(folder)
    for case in range(cases):
        name, text = (("experiment.toml", EXPERIMENT), ("site.toml", SITE))[int(rng.random() < 0.4)]
        if case % 2:
            data = damaged(text.encode(), rng)
        else:
            lines = text.splitlines()
            valued = [k for k, line in enumerate(lines) if " = " in line]
            for k in rng.choice(valued, size=int(rng.integers(1, 3))):
                value = ODD_VALUES[int(rng.integers(len(ODD_VALUES)))]
                lines[k] = f"{lines[k].split(' = ')[0]} = {value}"
            data = "\n".join(lines).encode()
        (folder / "odd.toml").write_bytes(data)
        good += ends(read_site if name == "site.toml" else read_experiment, folder / "odd.toml")
    return good


CASES = {"csv": (csv_cases, 2000), "spreadsheets": (spreadsheet_cases, 700), "toml": (toml_cases, 2300)}


@pytest.mark.parametrize("kind", CASES)
def test_damaged_files_end_in_a_result_or_an_input_error(tmp_path: Path, kind: str) -> None:
    assert 0 < CASES[kind][0](tmp_path, 60, 1) < 60  # some are read, some are refused


@pytest.mark.slow
@pytest.mark.parametrize("kind", CASES)
def test_five_thousand_damaged_files(tmp_path: Path, kind: str) -> None:
    run, cases = CASES[kind]
    assert 0 < run(tmp_path, cases, 2) < cases
