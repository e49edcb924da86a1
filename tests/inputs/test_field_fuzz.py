"""Damaged files of phones, surveys and counts end in a result or an `InputError`, never in anything else.

Each kind is a whole file that can be read. Some are damaged byte by byte; in others a value, a name or a word is
replaced by what breaks readers. Time and memory are bounded by limits of the readers, each tested in its own place.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from spreadsim.inputs import read_site
from spreadsim.inputs.survey_remarks import remarks_on_survey
from spreadsim.views.survey_table import survey_text
from tests.inputs.test_gis_fuzz import damaged
from tests.inputs.test_table_fuzz import FIELDS, ends

pytest.importorskip("pyproj")
pytest.importorskip("defusedxml")

GPX = """<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">
<metadata><name>a walk</name></metadata>
<wpt lat="49.00010" lon="-122.99990"><name>tree climbing</name><extensions><accuracy>4</accuracy></extensions></wpt>
<wpt lat="49.00015" lon="-122.99985"><name>mat 70 % radius 3 m</name><desc>by the wall</desc></wpt>
<wpt lat="49.00012" lon="-122.99980"><name>017</name><sym>Flag</sym></wpt>
<trk><name>mat Daubenmire 3</name><trkseg><trkpt lat="49.0001" lon="-122.9998"/><trkpt lat="49.0002" lon="-122.9998"/>
<trkpt lat="49.0002" lon="-122.9997"/><trkpt lat="49.0001" lon="-122.9998"/></trkseg></trk>
<trk><name>boundary</name><trkseg><trkpt lat="49" lon="-123"/><trkpt lat="49" lon="-122.9995"/>
<trkpt lat="49.0003" lon="-122.9995"/><trkpt lat="49.0003" lon="-123"/><trkpt lat="49" lon="-123"/></trkseg></trk></gpx>"""
KML = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><name>climbing</name>
<Placemark><name>a</name><ExtendedData><Data name="height"><value>12</value></Data></ExtendedData>
<Point><coordinates>-122.9999,49.0001,0</coordinates></Point></Placemark></Folder>
<Placemark><name>mat cover 0.4</name><LineString><coordinates>-122.9999,49.0001 -122.9998,49.0002</coordinates>
</LineString></Placemark><Placemark><name>outline</name><Polygon><outerBoundaryIs><LinearRing><coordinates>-123,49
-122.9995,49 -122.9995,49.0003 -123,49.0003 -123,49</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>
</Document></kml>"""
SURVEY = """occurrenceID,modified,eventID,eventDate,decimalLatitude,decimalLongitude,geodeticDatum,\
coordinateUncertaintyInMeters,occurrenceStatus,organismQuantity,organismQuantityType,samplingEffort,sampleSizeValue,\
sampleSizeUnit,locationID,footprintWKT,state
a,2024-05-03,v1,2024-05-01/2024-05-03,49.0002,-122.9995,WGS84,5,present,2b,Braun-Blanquet Scale,3 observer-hours,,,,,
a,2024-05-02,v1,2024-05-01/2024-05-03,49.0002,-122.9996,WGS84,5,present,2b,Braun-Blanquet Scale,3 observer-hours,,,,,
b,,v2,2024-06,,,,,absent,,,2 people x 90 min; 400 m2,,,,,
c,,v3,2024-07-01,49.0001,-122.9999,WGS84,30,absent,,,,0.5,ha,,,
,,v4,7/13/2024,,,,,present,3,stems,1:30,,,,"POLYGON ((-123 49, -122.9999 49, -122.9999 49.0001, -123 49))",climbing
"""
COUNTS = "unit,state,count,kind\n,climbing,3,\n,bare,12,fence\n"
SITE = "cell_size = 2\nwidth = 40\nheight = 20\ncorner = [-123.0, 49.0]\n"
SITES = {
    "gpx": 'crs = "auto"\nboundary = "a.gpx"\nhosts = { file = "a.gpx", clip = true }\n'
    'mats = { file = "a.gpx", clip = true, width = 2, radius = 3, cover = 0.5 }\n',
    "kml": 'crs = "auto"\nboundary = "a.kml"\nhosts = { file = "a.kml", clip = true }\n'
    'mats = { file = "a.kml", clip = true, width = 2 }\n',
    "survey": SITE + 'survey = "a.csv"\n',
    "counts": SITE + 'host_counts = "counts.csv"\n',
}
FILES = {"gpx": ("a.gpx", GPX), "kml": ("a.kml", KML), "survey": ("a.csv", SURVEY), "counts": ("counts.csv", COUNTS)}
ODD = (
    *FIELDS,
    *(
        "180.1",
        "-91",
        "0",
        "1e-300",
        "9" * 5000,
        "&a;",
        "]]>",
        "<!--",
        "<wpt/>",
        "</gpx>",
        "<a b='c'>",
        "../../a",
        "1e999",
    ),
    *("2024-02-30", "2024-05-01/2023-01-01", "9999-12", "0000", "45321", "12:99", "-2 hours", "POLYGON EMPTY"),
    *("POLYGON ((0 0, 1 1, 0 1, 1 0, 0 0))", "POINT (1 1)", "POLYGON ((nan nan, 1 1, 2 2, nan nan))", "mat radius 0 m"),
    *(
        "cover 1e9",
        "boundary",
        "not fruiting",
        "radius 9999999 km",
        "EPSG:99999",
        "EPSG:27700",
        "absent",
        "r",
        "daubenmire",
    ),
)
_VALUE = re.compile(r'(?<=")[^"<>]*(?=")|(?<=>)[^<>]*(?=<)|\w+')


def with_odd_values(text: str, rng: np.random.Generator, table: bool) -> bytes:
    """Replace a few values, or names, by odd ones."""
    for _ in range(int(rng.integers(1, 4))):
        odd = ODD[int(rng.integers(len(ODD)))]
        if table:
            lines = [line.split(",") for line in text.split("\n")]
            row = lines[int(rng.integers(len(lines) - 1))]
            row[int(rng.integers(len(row)))] = odd
            text = "\n".join(",".join(line) for line in lines)
        else:
            places = [match.span() for match in _VALUE.finditer(text)]
            first, last = places[int(rng.integers(len(places)))]
            text = text[:first] + odd + text[last:]
    return text.encode("utf-8", "replace")


def looked_at(path: Path) -> None:
    """Read a site and look at all that its survey says."""
    site = read_site(path)
    if site.survey is not None:
        survey_text(site)
        list(remarks_on_survey(site))


def cases_of(folder: Path, kind: str, cases: int, seed: int) -> int:
    rng, good = np.random.default_rng(seed), 0
    for name, text in FILES.values():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "site.toml").write_text(SITES[kind], encoding="utf-8")
    assert ends(looked_at, folder / "site.toml")  # whole, it can be read
    name, text = FILES[kind]
    for case in range(cases):
        data = damaged(text.encode(), rng) if case % 3 == 0 else with_odd_values(text, rng, name.endswith("csv"))
        (folder / name).write_bytes(data)
        good += ends(looked_at, folder / "site.toml")
    return good


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("kind", FILES)
def test_damaged_files_end_in_a_result_or_an_input_error(tmp_path: Path, kind: str) -> None:
    assert 0 < cases_of(tmp_path, kind, 40, 1) < 40  # some are read, some are refused


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "cases"), [("gpx", 1500), ("kml", 1500), ("survey", 1500), ("counts", 500)])
def test_fifteen_hundred_damaged_files_of_each_kind(tmp_path: Path, kind: str, cases: int) -> None:
    assert 0 < cases_of(tmp_path, kind, cases, 2) < cases
