"""Survey records: what was found, what was looked for and not found, and where nobody looked."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from spreadsim import read_survey
from spreadsim.inputs import InputError, Site, read_site, survey_grounds
from spreadsim.inputs.dates import span_of
from spreadsim.inputs.effort import effort_of
from spreadsim.inputs.survey import Survey
from spreadsim.inputs.survey_remarks import remarks_on_survey
from spreadsim.views.survey_table import survey_text

CORNER = (-123.001, 49.0)
RECORDS = """eventID,eventDate,decimalLatitude,decimalLongitude,geodeticDatum,coordinateUncertaintyInMeters,occurrenceStatus,organismQuantity,organismQuantityType,samplingEffort,locationID,identificationRemarks,recordedBy
v1,2024-05-01/2024-05-03,49.0002,-123.0005,WGS84,5,present,2b,Braun-Blanquet Scale,3 observer-hours,north,sure,somebody
v1,2024-05-01/2024-05-03,49.0003,-123.0005,WGS84,,absent,,,3 observer-hours,north,,somebody
v2,2024-06,,,,,absent,,,2 people x 90 min; 400 m2,south,,somebody
"""


def survey(folder: Path, text: str, **how: str) -> Survey:
    (folder / "s.csv").write_text(text, encoding="utf-8")
    return read_survey(folder / "s.csv", **how)


def faults(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        survey(folder, text)
    return str(caught.value).replace(f"{folder}/", "")


@pytest.fixture
def wood() -> Site:
    """Give a site of three units of 20 x 100 m from the north, and 40 m without a unit in the south."""
    units = np.repeat([1, 2, 3, 0, 0], 10)[:, None] * np.ones((1, 50), dtype=int)
    return Site.from_arrays(2, mat=np.zeros((50, 50)), units=units, unit_names=["North", "South", "third"])


def test_records_and_events(folder: Path) -> None:
    found = survey(folder, RECORDS)
    assert len(found) == 3 and [event.name for event in found.events] == ["v1", "v2"]
    first, second, third = found.records
    assert (first.found, second.found, third.found) == (True, False, False)
    assert first.dates == (date(2024, 5, 1), date(2024, 5, 3)) and third.dates == (date(2024, 6, 1), date(2024, 6, 30))
    assert first.position == (-123.0005, 49.0002) and first.uncertainty == 5 and third.position is None
    assert first.cover is not None and (first.cover.code, first.cover.scale) == ("2b", "braun-blanquet")
    assert (first.cover.low, first.cover.high) == (0.15, 0.25)
    assert first.remarks == "sure" and not first.on_host
    assert [(event.hours, event.area) for event in found.events] == [(3.0, None), (3.0, 400.0)]  # once a visit


def test_by_unit(folder: Path, wood: Site) -> None:
    by = survey(folder, RECORDS).by_unit(wood, corner=CORNER)
    assert {name: one.status for name, one in by.items()} == {
        "North": "found",
        "South": "looked, not found",
        "third": "unknown",  # nobody looked: not clean
    }
    assert (by["North"].hours, by["North"].visits, by["North"].found, by["North"].absent) == (3.0, 1, 1, 1)
    assert (by["South"].hours, by["South"].area, by["South"].last) == (3.0, 400.0, date(2024, 6, 30))
    alone = survey(folder, RECORDS).by_unit()
    assert set(alone) == {"north", "south"}


def test_by_cell(folder: Path, wood: Site) -> None:
    by = survey(folder, RECORDS).by_cell(wood, corner=CORNER)
    assert by.hours.sum() == pytest.approx(6) and by.found.sum() == pytest.approx(1)
    assert (by.hours[:10] > 0).all() and by.hours[10:20].sum() == pytest.approx(3) and by.area[10:20].sum() == 400
    assert by.unknown[20:35].all()
    # the find lies 36.6 m east and 22.2 m north of the corner (within 5 m), off the unit that it names
    row, column = np.nonzero(by.found)
    x, y = (column + 0.5) * 2, (50 - row - 0.5) * 2
    assert np.hypot(x - 36.58, y - 22.24).max() < 5 + 1.5 and by.found.max() < 0.1
    assert not by.unknown[by.found > 0].any()


def test_places_in_metres_need_no_map(folder: Path, wood: Site) -> None:
    text = "x,y,unit,status,hours\n10,90,,present,1\n10,70,,absent,0.5\n,,third,absent,2\n500,500,,absent,1\n"
    found = survey(folder, text)
    by = found.by_unit(wood)
    assert (by["North"].found, by["South"].absent, by["third"].hours, by[""].hours) == (1, 1, 2.0, 1.0)
    cells = found.by_cell(wood)
    assert cells.found[4, 5] == 1 and cells.hours[14, 5] == 0.5 and cells.unplaced == ("line 5",)


def test_footprints(folder: Path) -> None:
    pytest.importorskip("pyproj")
    shapely = pytest.importorskip("shapely")
    from pyproj import Transformer

    site = Site.from_arrays(2, mat=np.zeros((50, 50)), crs="EPSG:32610", origin=(500_000.0, 5_400_000.0))
    back = Transformer.from_crs("EPSG:32610", "EPSG:4326", always_xy=True)
    square = shapely.transform(
        shapely.box(500_010, 5_400_010, 500_030, 5_400_020), lambda xy: np.column_stack(back.transform(*xy.T))
    )
    by = survey(folder, f'occurrenceStatus,footprintWKT,hours\nabsent,"{square.wkt}",4\n').by_cell(site)
    assert by.hours[40:45, 5:15] == pytest.approx(np.full((5, 10), 4 / 50), rel=1e-6)
    assert by.area.sum() == pytest.approx(200, rel=1e-6) and by.unknown.sum() == 2450


def test_a_datum_is_brought_to_wgs_84(folder: Path) -> None:
    pyproj = pytest.importorskip("pyproj")
    text = "decimalLatitude,decimalLongitude,geodeticDatum,status\n40,-90,NAD27,present\n40,-90,,present\n"
    found = survey(folder, text)
    east, north = pyproj.Transformer.from_crs("EPSG:4267", "EPSG:4326", always_xy=True).transform(-90, 40)
    assert found.records[0].position == pytest.approx((east, north))
    assert found.records[1].position == (-90, 40) and any("WGS 84 is taken" in one for one in found.remarks)
    assert 'found "mars"' in faults(folder, text.replace("NAD27", "mars"))


def test_hosts_and_other_columns(folder: Path) -> None:
    text = "tag,state,status,individualCount,organismQuantity,organismQuantityType,basisOfRecord\nT7,climbing,,1,4,stems,x\n"
    record = survey(folder, text).records[0]
    assert record.found and record.on_host and (record.host, record.state, record.count) == ("T7", "climbing", 1)
    assert record.quantity == ("4", "stems") and record.cover is None


def test_humboldt_terms(folder: Path) -> None:
    text = "eco:samplingEffortValue,samplingEffortUnit,isAbsenceReported,totalAreaSampledInSquareKilometers\n90,person minutes,true,0.002\n"
    event = survey(folder, text).events[0]
    assert (event.hours, event.area, event.found, event.said) == (1.5, pytest.approx(2000), False, "90 person minutes")
    event = survey(folder, "sampleSizeValue,sampleSizeUnit,status\n0.5,hectare,absent\n").events[0]
    assert (event.hours, event.area) == (None, 5000.0)


def test_one_of_several_species(folder: Path) -> None:
    text = "scientificName,status\nHedera helix,present\nRubus,present\n,present\n"
    assert "found 2 species" in faults(folder, text)
    found = survey(folder, text, name="hedera  Helix")
    assert len(found) == 2 and any("1 of 3 rows are of other species" in one for one in found.remarks)


def test_a_sheet_with_dates(folder: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "survey"
    for row in (["eventDate", "status", "hours"], [date(2024, 1, 30), "absent", 1.5]):
        book.active.append(row)
    book.save(folder / "s.xlsx")
    record = read_survey(folder / "s.xlsx").records[0]
    assert record.dates == (date(2024, 1, 30), date(2024, 1, 30))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("status\nabsent\n", "line 2, status: found absent, and nothing on how long or how much was looked at"),
        ("status,effort\nabsent,10 km by foot\n", 'line 2, effort: found "10 km by foot", allowed hours'),
        ("status,hours\nabsent,-1\n", "line 2, effort: found -1.0"),
        ("hours\n1\n", "line 2, occurrenceStatus: found nothing, allowed present or absent"),
        ("status\nmaybe\n", 'line 2, status: found "maybe"'),
        ("status,individualCount\npresent,0\n", "found present with a quantity of none"),
        ("status,individualCount,hours\nabsent,3,1\n", "found absent with a quantity"),
        ("status,organismQuantity\npresent,3\n", "organismQuantityType: found nothing, allowed both"),
        (
            "status,organismQuantity,organismQuantityType\npresent,7,Daubenmire\n",
            'organismQuantity: found "7", allowed a class',
        ),
        ("eventID,status,hours\na,absent,1\na,absent,2\n", "line 3, effort: found 2.0, allowed the hours of its event"),
        ("eventID,status,date\na,present,2024\na,present,2023\n", "line 3, date: found"),
        ("status,date\npresent,45321\n", "the number of a day in a spreadsheet (2024-01-30"),
        ("status,date\npresent,1/2/2024\n", "day and month can't be told apart"),
        ("status,date\npresent,2024-02-30\n", 'found "2024-02-30"'),
        ("status,latitude,longitude\npresent,-123,49\n", "they look swapped"),
        ("status,latitude\npresent,49\n", "line 2, longitude: found nothing"),
        ("status,x\npresent,4\n", "line 2, y: found nothing"),
        ("status,samplingEffortValue\npresent,4\n", "samplingEffortUnit: found nothing"),
        ("status,state\npresent,dead\n", 'state: found "dead"'),
        ("status,individualCount\npresent,1.5\n", "found 1.5, allowed a whole number"),
        ("", "found an empty file"),
    ],
)
def test_faults(folder: Path, text: str, said: str) -> None:
    assert said in faults(folder, text)


def test_faults_of_places(folder: Path, wood: Site) -> None:
    for text, said in (
        ("status,unit\npresent,west\n", 'line 2, locationID: found "west", allowed one of "North"'),
        ("status,latitude,longitude\npresent,49,-123\n", "corner = (longitude, latitude)"),
        ("status,footprintWKT\npresent,POINT (1 2)\n", "corner = (longitude, latitude)"),
    ):
        with pytest.raises(InputError) as caught:
            survey(folder, text).by_unit(wood)
        assert said in str(caught.value)
    pytest.importorskip("shapely")
    with pytest.raises(InputError, match="allowed a valid polygon in well-known text"):
        survey(folder, "status,footprintWKT\npresent,POINT (1 2)\n").by_cell(wood, corner=CORNER)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2024", date(2024, 1, 1), date(2024, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2024-12", date(2024, 12, 1), date(2024, 12, 31)),
        ("2024-05-06T14:30Z", date(2024, 5, 6), date(2024, 5, 6)),
        ("2024-05-06/2024-06-01", date(2024, 5, 6), date(2024, 6, 1)),
        ("2024-05-06/09", date(2024, 5, 6), date(2024, 5, 9)),
        ("2024-05/06", date(2024, 5, 1), date(2024, 6, 30)),
        ("2024-05-06/06-02", date(2024, 5, 6), date(2024, 6, 2)),
    ],
)
def test_dates(text: str, first: date, last: date) -> None:
    assert span_of(text) == (first, last)


@pytest.mark.parametrize(
    "text", ["", "soon", "2024-13", "2024-5-6", "2024-05-06/2024-05-01", "9999", "2024-05-06/", "/2024"]
)
def test_what_is_no_date(text: str) -> None:
    assert span_of(text) is None or text == "9999"


def test_slashed_dates_are_read_where_the_column_tells(folder: Path) -> None:
    for text, days in (("13/2/2024\n1/2/2024", [(2, 13), (2, 1)]), ("2/13/2024\n2/1/2024", [(2, 13), (2, 1)])):
        rows = "\n".join(f"present,{one}" for one in text.split("\n"))
        found = survey(folder, f"status,date\n{rows}\n")
        assert [(one.dates[0].month, one.dates[0].day) for one in found.records if one.dates] == days
        assert any("no other reading fits" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("text", "hours", "area"),
    [
        ("2 hours", 2, None),
        ("90 min", 1.5, None),
        ("3 observer-hours", 3, None),
        ("1 h 30 min", 1.5, None),
        ("1:30", 1.5, None),
        ("2 people x 1.5 h", 3, None),
        ("10 observers × 30 minutes", 5, None),
        ("400 m2", None, 400),
        ("2 hours and 0.5 ha", 2, 5000),
    ],
)
def test_efforts(text: str, hours: float | None, area: float | None) -> None:
    effort = effort_of(text)
    assert effort is not None and (effort.hours, effort.area) == (hours, area)


@pytest.mark.parametrize(
    "text", ["10 km by foot", "40 trap-nights", "a while", "hours", "-2 hours", "2 hours and a bit"]
)
def test_what_is_no_effort(text: str) -> None:
    assert effort_of(text) is None


def test_the_newest_row_of_an_occurrence_corrects_the_others(folder: Path) -> None:
    head = "occurrenceID,modified,status,x,y,hours\n"
    text = head + "a,2024-05-01,present,4,4,\na,2024-05-02T09:00Z,absent,4,4,1\na,2024-05-02T10:00+02:00,present,9,9,\n"
    found = survey(folder, text + "b,,present,1,1,\nb,,present,1,1,\n,,present,3,3,\n,,present,2,2,\n")
    assert [(one.place, one.found) for one in found.records] == [
        ("line 3", False),  # 09:00 in Greenwich is an hour later than 10:00 two hours east of it
        ("line 5", True),
        ("line 7", True),
        ("line 8", True),
    ]
    assert any("occurrenceID: line 2, line 4, line 6" in remark for remark in found.remarks)
    for other in ("a,,absent,4,4,1\n", "a,yesterday,present,5,5,\n", "a,2024-05-01,present,5,5,\n"):
        said = faults(folder, head + "a,2024-05-01,present,4,4,\n" + other)
        assert 'line 3, occurrenceID: found "a" again, which is in line 2 with other values' in said


def test_two_at_one_place(folder: Path, wood: Site) -> None:
    rows = "2024-05-01,present,10,90,,\n2024-05-01,present,10,90,,\n2024-05-01,absent,10,90,,1\n"
    found = survey(
        folder, "date,status,x,y,tag,hours\n" + rows + "2024-05-01,present,10,90,T1,\n2024-06-01,present,10,90,,\n"
    )
    said = "\n".join(found.remarks)
    assert "the same of the same place and day, listed twice? line 3 as line 2" in said
    assert "present and absent at the same place on the same day: line 4 and line 2" in said
    assert len(found) == 5 and found.by_cell(wood).found[4, 5] == 4  # only said: each still counts


def remarks_of(folder: Path, records: str, more: str = 'hosts = "own.csv"') -> tuple[str, Site]:
    """Give what is remarked on a survey of a site with a climbed host at (10, 10)."""
    (folder / "s.csv").write_text(records, encoding="utf-8")
    (folder / "own.csv").write_text("x,y,state\n10,10,climbing\n")
    (folder / "own.toml").write_text(f'cell_size = 2\nwidth = 80\nheight = 40\nsurvey = "s.csv"\n{more}\n')
    site = read_site(folder / "own.toml")
    return "\n".join(remarks_on_survey(site)), site


def test_finds_are_held_against_the_map(folder: Path) -> None:
    said, site = remarks_of(folder, "status,x,y\npresent,12,12\npresent,70,30\n")
    assert "1 record of vine where the map has none within 10 m: line 3" in said
    assert len(site.hosts) == 1 and not site.mat.any()  # a survey changes no map
    told = survey_text(site)
    assert told.startswith("Survey s.csv: 2 records of 2 visits, 2 of vine.") and "unknown, not clean" in told
    assert max(map(len, told.splitlines())) <= 80


def test_a_later_absence_at_the_place_agrees_with_a_map_without_vine(folder: Path) -> None:
    head = "date,status,x,y,hours\n"
    before, after = "2023-05-01,present,70,30,\n", "2024-05-01,absent,70,30,1\n"
    assert "vine where the map has none" not in remarks_of(folder, head + before + after)[0]
    assert "vine where the map has none" in remarks_of(folder, head + before + after.replace("2024", "2022"))[0]
    assert "vine where the map has none" in remarks_of(folder, head + before + after.replace("70,30", "60,30"))[0]
    said, _ = remarks_of(folder, head + before + after, "")
    assert "vine was found on the site (last on 2023-05-01 and not when people looked last, on 2024-05-01)" in said
    said, _ = remarks_of(folder, head + after)
    assert "people looked on the site, last on 2024-05-01, and found none, and the map has 1 climbed host there" in said


def test_what_may_lie_anywhere_lies_nowhere(folder: Path) -> None:
    text = "status,x,y,uncertainty,hours\npresent,40,20,30000,\nabsent,40,20,1e308,1\n"
    said, site = remarks_of(folder, text)
    assert "2 visits lie nowhere on the site, or without a place, or may lie anywhere: line 2, line 3" in said
    assert site.survey is not None and site.survey.by_cell(site).unknown.all()


def test_places_of_records_are_bounded(folder: Path, wood: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(survey_grounds, "_MOST_CELLS", 4_000)
    found = survey(folder, "status,x,y,uncertainty\n" + "present,50,50,45\n" * 5)
    with pytest.raises(InputError, match=r"line 4: found places that cover more than 4,000 cells, up to here"):
        found.by_unit(wood)


def test_units_of_records_on_a_site_without_units(folder: Path) -> None:
    said, site = remarks_of(folder, "status,unit,x,y\npresent,north,12,12\n")
    assert "records name units (locationID), and the site has none: only their places count" in said
    assert site.survey is not None and list(site.survey.by_unit(site)) == [""]


def test_the_survey_of_a_site_by_its_reference_system_or_corner(folder: Path) -> None:
    pyproj = pytest.importorskip("pyproj")
    text = "decimalLatitude,decimalLongitude,geodeticDatum,status\n49.0001,-122.9999,WGS84,present\n"
    east, north = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32610", always_xy=True).transform(-123.0, 49.0)
    for where in ("corner = [-123.0, 49.0]", f'crs = "EPSG:32610"\norigin = [{east}, {north}]'):
        site = remarks_of(folder, text, where)[1]
        assert site.survey is not None
        assert np.argwhere(site.survey.by_cell(site).found).tolist() == [[14, 3]]  # 7.3 m east and 11.1 m north
    with pytest.raises(InputError, match=r"s\.csv: line 2: found a place in longitude and latitude"):
        remarks_of(folder, text)
    (folder / "own.toml").write_text(
        'cell_size = 2\nwidth = 8\nheight = 8\nsurvey = { file = "s.csv", specie = "a" }\n'
    )
    with pytest.raises(InputError, match=r"survey\.specie"):
        read_site(folder / "own.toml")


def test_a_survey_without_records(folder: Path) -> None:
    said, site = remarks_of(folder, "status,x,y\n")
    assert survey_text(site) == "Survey s.csv: no records, so all of the ground is unknown, not clean."
    assert "vine where the map has none" not in said
