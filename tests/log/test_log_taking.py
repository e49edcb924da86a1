"""Lines of work taken into the log: what is read, what is kept, what is refused, and that nothing old is changed."""

import csv
import dataclasses
import re
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim import InputError, add_to_log, read_log
from spreadsim.inputs.site_mark import is_same_site, site_mark
from spreadsim.log.entry import FIELDS, Entry
from spreadsim.log.reading import COLUMNS

from .wood import EAST, HOSTS, MAPPED, TODAY, experiment, experiment_of, site_of, take, write


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_lines_are_kept_with_names_of_their_own(tmp_path):
    added = take(
        tmp_path, "2024-12-10,West,,stems,,friends,6,3,Yes,2,,steep,\n2025-03-02,,5,,pull,STAFF,2.5,,partly,,1,,"
    )
    assert added.path == tmp_path / "log" / "2025-1.csv" and not added.remarks
    log = read_log(experiment(), tmp_path / "log")
    assert log.entries == added.entries and log.mapped == MAPPED
    first, second = log.entries
    assert (first.line, first.unit, first.task, first.hours, first.people) == ("2025-1:1", "west", "stems", 6.0, 3)
    assert (first.done, first.found, first.notes, first.date) == ("yes", 2, "steep", date(2024, 12, 10))
    unit = int(site_of().unit.ravel()[site_of().hosts.cell[5]])
    assert (second.host, second.unit) == (5, ["", "west", EAST][unit])
    assert (second.treatment, second.crew, second.done, second.something_else) == ("pull", "staff", "part", 1)
    assert log.taken == {"2025-1": f"{TODAY} from noted.csv"}
    assert [log.season_of(entry.date) for entry in log.entries] == [0, 1]


def test_a_file_of_a_year_is_never_written_again(tmp_path):
    take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,")
    before = contents(tmp_path / "log")
    assert take(tmp_path, "2025-02-10,west,,stems,,staff,3,1,yes,,,,").path.name == "2025-2.csv"
    assert take(tmp_path, "2026-02-10,west,,stems,,staff,3,1,yes,,,,").path.name == "2026-1.csv"
    assert contents(tmp_path / "log").items() >= before.items()
    log = read_log(experiment(), tmp_path / "log")
    assert [entry.line for entry in log.entries] == ["2025-1:1", "2025-2:1", "2026-1:1"]


def test_the_same_lines_twice_are_refused_and_a_list_that_grew_gives_what_is_new(tmp_path):
    first = "2025-01-10,west,,stems,,staff,3,1,yes,,,,\n2025-01-10,west,,stems,,staff,3,1,yes,,,,"
    take(tmp_path, first)
    before = contents(tmp_path / "log")
    with pytest.raises(InputError, match=r"in the log already \(2025-1.csv was taken on 2027-02-01 from noted.csv\)"):
        take(tmp_path, first, name="again.csv")
    assert contents(tmp_path / "log") == before
    more = take(
        tmp_path, first + "\n2025-01-10,west,,stems,,staff,3,1,yes,,,,\n2025-01-11,west,,stems,,staff,3,1,yes,,,,"
    )
    assert more.known == 2 and [entry.date.day for entry in more.entries] == [10, 11]
    assert "crew, day, place and work are those of 2025-1:2" in more.remarks[0]


def test_only_checked_nothing_is_written(tmp_path):
    added = take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,", only_check=True)
    assert added.path is None and len(added.entries) == 1 and not (tmp_path / "log").exists()


def test_a_correction_is_a_new_line_and_the_newest_counts(tmp_path):
    take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,4,,,\n2025-01-11,,3,stems,,staff,1,1,yes,,,,")
    before = contents(tmp_path / "log")
    take(tmp_path, ",,,,,,5,,part,,,,2025-1:1")
    take(tmp_path, f"2025-01-12,{EAST},,@look,,friends,2,2,yes,,,,2025-2:1".replace("=", "'="))
    assert contents(tmp_path / "log").items() >= before.items()
    log = read_log(experiment(), tmp_path / "log")
    assert len(log.entries) == 4 and log.newest["2025-1:1"] == log.newest["2025-2:1"] == "2025-3:1"
    middle = log.entries[2]
    assert (middle.unit, middle.task, middle.crew, middle.date) == ("west", "stems", "staff", date(2025, 1, 10))
    assert (middle.hours, middle.done, middle.found) == (5.0, "part", None), "what came of it is its own"
    assert [entry.line for entry in log.counting] == ["2025-1:2", "2025-3:1"]
    assert (log.counting[1].unit, log.counting[1].task) == (EAST, "@look")
    for name, told in (
        ("2025-1:1", 'found "2025-1:1", allowed 2025-3:1, the newest'),
        ("2025-1:9", 'found "2025-1:9", allowed the name of a line of the log, such as 2025-3:1'),
    ):
        with pytest.raises(InputError, match=re.escape(told)):
            take(tmp_path, f",,,,,,6,,part,,,,{name}")
    with pytest.raises(InputError, match=r"line 3, corrects: .* allowed each line once: line 2 corrects it"):
        take(tmp_path, ",,,,,,6,,part,,,,2025-1:2\n,,,,,,7,,part,,,,2025-1:2")


BAD = {
    "2025-01-10,north,,stems,,staff,3,1,yes,,,,": r'line 2, unit: found "north", allowed one of "west", "=1\+1"',
    "2025-01-10,,80,stems,,staff,3,1,yes,,,,": "line 2, host: found 80, allowed 0 to 79: the site has 80 hosts",
    "2025-01-10,,oak,stems,,staff,3,1,yes,,,,": 'line 2, host: found "oak", allowed the number of a host',
    "2025-01-10,west,,stems,,nobody,3,1,yes,,,,": 'line 2, crew: found "nobody", allowed one of "friends", "staff"',
    "2025-01-10,west,,stem,,staff,3,1,yes,,,,": 'line 2, task: found "stem", allowed a task, one of "@look", "stems"',
    "2025-01-10,west,,,burn,staff,3,1,yes,,,,": 'line 2, treatment: found "burn", allowed one of "clear-ring"',
    "2024-11-19,west,,stems,,staff,3,1,yes,,,,": "line 2, date: found 2024-11-19, allowed a day from 2024-11-20 on",
    "2027-02-02,west,,stems,,staff,3,1,yes,,,,": "line 2, date: found 2027-02-02, allowed no day after today, 2027-02-01",
    "2025-02,west,,stems,,staff,3,1,yes,,,,": 'line 2, date: found "2025-02", allowed one day',
    "soon,west,,stems,,staff,3,1,yes,,,,": 'line 2, date: found "soon", allowed a date such as',
    ",west,,stems,,staff,3,1,yes,,,,": "line 2, date: found nothing, allowed a day such as",
    "2025-01-10,west,,stems,,,3,1,yes,,,,": "line 2, crew: found nothing, allowed one of",
    "2025-01-10,west,,,,staff,3,1,yes,,,,": "line 2, task: found nothing, allowed a task or a treatment",
    "2025-01-10,,,stems,,staff,3,1,yes,,,,": "line 2, unit: found nothing, allowed a unit, a host, or x and y",
    "2025-01-10,west,,stems,,staff,49,2,yes,,,,": "line 2, hours: found 49.0, allowed at most 24 h a day for each of 2",
    "2025-01-10,west,,stems,,staff,25,,yes,,,,": "for each of 1: the experiment says so; write how many were there",
    "2025-01-10,west,,stems,,staff,-1,1,yes,,,,": "line 2, hours: found -1.0, allowed 0 to 1,000,000",
    "2025-01-10,west,,stems,,staff,many,1,yes,,,,": 'line 2, hours: found "many", allowed a finite number',
    "2025-01-10,west,,stems,,staff,3,0,yes,,,,": "line 2, people: found 0.0, allowed a whole number, at least 1",
    "2025-01-10,west,,stems,,staff,3,1,perhaps,,,,": 'line 2, done: found "perhaps", allowed one of "yes", "part", "no"',
    "2025-01-10,west,,stems,,staff,3,1,no,,,,": 'line 2, hours: found 3.0, allowed none where done says "no"',
    "2025-01-10,west,,stems,,staff,3,1,yes,1.5,,,": "line 2, found: found 1.5, allowed a whole number",
    "2025-01-10,west,,stems,,staff,3,1,yes,,,=A1,": "line 2, notes: found the formula =A1, allowed a value",
    "2025-01-10,west,,stems,,staff,3,1,yes,,,,2025-1:1": "corrects: .* allowed nothing: the log has no lines yet",
    "2025-01-10,west": "line 2: found 2 fields, allowed 13",
    "": "found no line below the headings, allowed at least one line of work",
}


@pytest.mark.parametrize("line", list(BAD))
def test_bad_lines_are_named_and_nothing_is_written(tmp_path, line):
    with pytest.raises(InputError, match=BAD[line]) as caught:
        take(tmp_path, line)
    assert len(caught.value.problems) == 1 and "noted.csv" in str(caught.value)
    assert not (tmp_path / "log").exists()


def test_all_that_is_wrong_is_said_at_once_and_the_log_stays(tmp_path):
    take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,")
    before = contents(tmp_path / "log")
    with pytest.raises(InputError) as caught:
        take(tmp_path, "\n".join(line for line in BAD if line.count(",") == 12))
    assert len(caught.value.problems) >= 20
    assert contents(tmp_path / "log") == before


def test_a_day_has_24_hours_for_each_with_the_lines_of_the_log(tmp_path):
    take(tmp_path, "2025-01-10,west,,stems,,staff,10,1,yes,,,,")
    told = "found 25 h of staff on 2025-01-10 (2025-1:1 of the log, line 2, line 3), allowed at most 24 h a day for each of 1"
    with pytest.raises(InputError, match=re.escape(told)):
        take(tmp_path, "2025-01-10,west,,@look,,staff,10,1,yes,,,,\n2025-01-10,west,,pull,,staff,5,1,yes,,,,")
    added = take(tmp_path, "2025-01-10,west,,@look,,staff,7,1,yes,,,,")
    assert "17 h of staff on 2025-01-10" in added.remarks[0] and "more than 16 h for each of 1" in added.remarks[0]
    corrected = take(tmp_path, ",,,,,,3,,yes,,,,2025-1:1")
    assert not corrected.remarks, "what is corrected no longer counts"
    added = take(tmp_path, "2025-01-10,west,,pull,,staff,30,6,yes,,,,")
    assert not added.remarks, "six people were there"


@pytest.mark.parametrize(
    ("head", "line", "told"),
    [
        ("unit,crew,hours,task", "west,staff,1,stems", 'line 1: found no column "date"'),
        ("date,crew,unit", "2025-01-10,staff,west", 'line 1: found no column "hours"'),
        ("date,date,crew,hours", "2025-01-10,,staff,1", 'found column "date" twice'),
        ("date,crew,hours,task,longitude,latitude", "2025-01-10,staff,1,stems,1,1", "found longitude and latitude"),
        ("date,crew,hours,task,x,y", "2025-01-10,staff,1,stems,999,2001", "x 1000 to 1120, y 2000 to 2120, on the site"),
        ("date,crew,hours,task,x,y", "2025-01-10,staff,1,stems,1001,", "line 2, y: found nothing, allowed both x and y"),
        ("date,crew,hours each,task,unit,done", "2025-01-10,staff,2,stems,west,yes", "say how many there were"),
        ("date,crew,hours,hours each,people,task,unit", "2025-01-10,staff,9,2,4,stems,west", "allowed 4 people x 2 h = 8 h"),
        ("date,crew,hours,task,unit,host,place", "2025-01-10,staff,9,stems,,3,H4", "allowed the host of its place, H4"),
        ("date,crew,hours,task,unit,host", f"2025-01-10,staff,9,stems,'{EAST},3", "where host 3 stands"),
        ("date,crew,hours,task,unit,season", "2025-01-10,staff,9,stems,west,mud", 'season: found "mud"'),
        ("date,crew,hours,task,unit,session", "2025-01-10,staff,9,stems,west,A", 'session: found "A"'),
    ],
)  # fmt: skip
def test_bad_tables_are_named(tmp_path, head, line, told):
    assert int(site_of().unit.ravel()[site_of().hosts.cell[3]]) == 1
    with pytest.raises(InputError, match=re.escape(told)):
        take(tmp_path, line, head=head)


def test_no_other_sheet_and_no_such_file(tmp_path):
    with pytest.raises(InputError, match="only spreadsheets"):
        take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,", sheet="June")
    with pytest.raises(InputError, match=r"none\.csv"):
        add_to_log(experiment(), tmp_path / "none.csv", folder=tmp_path / "log", since=MAPPED)
    with pytest.raises(InputError, match="experiment: found 3"):
        add_to_log(3, tmp_path / "none.csv")
    with pytest.raises(InputError, match="folder: found nothing"):
        read_log(experiment())


def test_people_write_as_they_like(tmp_path):
    head = "When;Team;What was done;Unit;persons;Hours (h);hours per person;Done?;ours;other plant"
    added = take(
        tmp_path,
        "31/1/2025;staff;Stems;WEST;2;3,5;;;x;1\n1/2/2025;friends;pull;the whole site;4;;1,25;;;",
        head=head.replace("Done?", "done"),
    )
    first, second = added.entries
    assert (first.date, first.hours, first.something_else, first.task) == (date(2025, 1, 31), 3.5, 1, "stems")
    assert (second.date, second.hours, second.unit) == (date(2025, 2, 1), 5.0, "")
    assert any("day, month, year" in text for text in added.remarks)
    assert any("empty where hours were worked (line 2, line 3)" in text for text in added.remarks)


def test_a_spreadsheet_is_read_alike(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    pytest.importorskip("defusedxml")
    rows = [
        ["crew", "date", "hours", "people", "done", "unit", "task", "notes"],
        ["staff", date(2025, 1, 31), 3.5, 2, "yes", "west", "stems", "snow"],
        ["friends", "2025-02-01", 5, None, "part", "west", "pull", None],
    ]
    book = openpyxl.Workbook()
    book.active.title = "tally"
    for row in rows:
        book.active.append(row)
    book.save(tmp_path / "filled.xlsx")
    sheet = add_to_log(experiment(), tmp_path / "filled.xlsx", folder=tmp_path / "a", since=MAPPED, today=TODAY)
    table = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    text = add_to_log(experiment(), write(tmp_path / "b.csv", table), folder=tmp_path / "b", since=MAPPED, today=TODAY)
    assert [entry.content for entry in sheet.entries] == [entry.content for entry in text.entries]
    book.active["E3"] = "perhaps"
    book.save(tmp_path / "filled.xlsx")
    with pytest.raises(InputError, match='sheet "tally", row 3, done: found "perhaps"'):
        add_to_log(experiment(), tmp_path / "filled.xlsx", folder=tmp_path / "c", since=MAPPED, today=TODAY)


def test_a_log_of_another_site_is_refused_by_name_and_one_with_more_hosts_is_not(tmp_path):
    take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,")
    for other in (site_of("Another wood", seed=9), site_of("A wood cut short", hosts=HOSTS - 1)):
        with pytest.raises(InputError, match=rf"2025-1.csv: found a log of A wood of two units .*one of {other.title}"):
            read_log(experiment_of(other), tmp_path / "log")
        with pytest.raises(InputError, match="found a log of A wood of two units"):
            take(tmp_path, "2025-01-11,west,,stems,,staff,3,1,yes,,,,", experiment=experiment_of(other))
    longer = experiment_of(site_of(hosts=HOSTS + 5))
    assert len(read_log(longer, tmp_path / "log").entries) == 1
    assert take(tmp_path, "2025-01-11,,84,stems,,staff,3,1,yes,,,,", experiment=longer).entries[0].host == 84
    with pytest.raises(InputError, match=r"2025-2.csv: found a log of"):
        read_log(experiment(), tmp_path / "log")


def test_a_mark_is_of_grid_units_and_hosts_alone():
    site = site_of()
    assert is_same_site(site_mark(site), site) and is_same_site("elsewhere", site) is None
    mapped_again = dataclasses.replace(site, mat=np.zeros_like(site.mat), title="Renamed")
    assert is_same_site(site_mark(site), mapped_again)
    moved = dataclasses.replace(site, origin=(0.0, 0.0))
    assert not is_same_site(site_mark(site), moved)


def test_a_work_list_of_another_site_is_refused(tmp_path):
    head = "date,unit,task,crew,hours,people,done,site"
    mark = site_mark(site_of("Another wood", seed=9))
    line = f"2025-01-10,west,stems,staff,1,1,yes,{mark}"
    with pytest.raises(
        InputError, match=r"line 2 and 1 more lines, site: found \"Another wood .* allowed A wood of two"
    ):
        take(tmp_path, f"{line}\n{line}", head=head)
    assert take(tmp_path, line.replace(mark, site_mark(site_of())), head=head).entries


def test_a_changed_file_of_the_log_is_noticed(tmp_path):
    path = take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,").path
    text = path.read_text()
    path.write_bytes(text.replace("\n", "\r\n").encode())
    assert len(read_log(experiment(), tmp_path / "log").entries) == 1, "ends of lines say nothing"
    path.write_text(text.replace(",3.0,", ",4.0,"))
    with pytest.raises(InputError, match=r"2025-1.csv: found other lines than were taken"):
        read_log(experiment(), tmp_path / "log")
    path.write_text(text.split("\n", 5)[-1])
    with pytest.raises(InputError, match=r"2025-1.csv: found no lines with #"):
        read_log(experiment(), tmp_path / "log")
    path.write_text(text)
    (tmp_path / "log" / "mine.csv").write_text("a")
    with pytest.raises(InputError, match=r"mine.csv: found a file that is no part of the log"):
        read_log(experiment(), tmp_path / "log")


def test_the_day_of_the_map_stays(tmp_path):
    with pytest.raises(InputError, match="since: found nothing, allowed the date of the map"):
        take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,", since=None)
    take(tmp_path, "2025-01-10,west,,stems,,staff,3,1,yes,,,,")
    take(tmp_path, "2025-01-11,west,,stems,,staff,3,1,yes,,,,", since=None)
    with pytest.raises(
        InputError, match="since: found 2025-11-20, allowed 2024-11-20, as in the log, whose years begin"
    ):
        take(tmp_path, "2026-01-12,west,,stems,,staff,3,1,yes,,,,", since="2025-11-20")
    assert take(tmp_path, "2026-01-12,west,,stems,,staff,3,1,yes,,,,", since="2024-12").entries
    assert read_log(experiment(), tmp_path / "log").mapped == MAPPED


PLANNED_HEAD = "session,season,year,crew,unit,task,place,planned_hours,strategy,date,done,hours,people,notes"


def test_a_work_list_is_filled_in_bit_by_bit(tmp_path):
    rows = [f"1,winter,1,staff,west,stems,H{k},2.0,stems first" for k in (1, 2, 3)]
    empty, first = (rows[0], rows[1] + ",2025-01-10,yes,3,2,ice"), rows[2] + ",,part,1,,"
    added = take(tmp_path, "\n".join([empty[0] + ",,,,,", empty[1], first]), head=PLANNED_HEAD)
    assert added.entries[2].date == date(2025, 1, 10) and "for line 4 too, as for the rest" in added.remarks[0]
    later = take(
        tmp_path, "\n".join([rows[0] + ",2025-02-10,yes,2,2,", empty[1], rows[2] + ",,,,,"]), head=PLANNED_HEAD
    )
    assert [entry.corrects for entry in later.entries] == ["2025-1:1"] and later.known == 2
    assert "line 4: empty, but filled in as 2025-1:3 of the log: left out" in later.remarks
    log = read_log(experiment(), tmp_path / "log")
    assert sorted(entry.place for entry in log.counting) == ["H1", "H2", "H3"]
    with pytest.raises(
        InputError, match="found other entries for H2 of session 1 than 2025-1:2 of the log, allowed the same"
    ):
        take(tmp_path, rows[1] + ",2025-01-10,yes,4,2,ice", head=PLANNED_HEAD)
    with pytest.raises(InputError, match="line 3: found H1 twice in session 1, allowed once: line 2 has it"):
        take(tmp_path, "\n".join([rows[0] + ",2026-01-10,yes,4,2,"] * 2), head=PLANNED_HEAD)
    fixed = take(tmp_path, "2025-1:2,4,yes,,", head="corrects,hours,done,date,crew")
    assert (fixed.entries[0].planned_hours, fixed.entries[0].place, fixed.entries[0].session) == (2.0, "H2", 1)


days = st.integers(0, (TODAY - MAPPED).days).map(lambda n: MAPPED + timedelta(days=n))
texts = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.just(" "), max_size=30).map(
    lambda text: " ".join(text.split())
)
notes = texts.filter(lambda text: text[:1] not in tuple("'=+-@#") and not text.startswith('"'))


@st.composite
def lines(draw) -> dict[str, object]:
    people = draw(st.integers(1, 8))
    host = draw(st.none() | st.integers(0, HOSTS - 1))
    unit = "" if host is not None else draw(st.sampled_from(["west", "'" + EAST, "outside the units"]))
    return {
        "date": draw(days).isoformat(), "unit": unit, "host": "" if host is None else host,
        "task": draw(st.sampled_from(["stems", "pull", "spray mats", "'@look"])),
        "crew": draw(st.sampled_from(["friends", "staff"])), "people": people,
        "hours": round(draw(st.floats(0, 0.1 * people)), 3), "done": draw(st.sampled_from(["yes", "part", ""])),
        "found": draw(st.none() | st.integers(0, 9)), "something_else": draw(st.none() | st.integers(0, 9)),
        "notes": draw(notes),
    }  # fmt: skip


@given(st.lists(lines(), min_size=1, max_size=8), st.randoms(), st.booleans())
@settings(max_examples=60, deadline=None)
def test_what_is_taken_comes_back(rows, random, semicolons):
    """Whatever the order of columns, separators and decimal marks; and again from what was kept."""
    names = list(rows[0])
    random.shuffle(names)
    given_rows = [{name: row[name] for name in names} | {"photo": "p.jpg"} for row in rows]
    if semicolons:
        for row in given_rows:
            row["hours"] = str(row["hours"]).replace(".", ",")
    with TemporaryDirectory() as folder:
        path = write(Path(folder) / "noted.csv", given_rows, ";" if semicolons else ",")
        added = add_to_log(experiment(), path, folder=Path(folder) / "log", since=MAPPED, today=TODAY)
        log = read_log(experiment(), Path(folder) / "log")
        with pytest.raises(InputError, match="in the log already"):
            add_to_log(experiment(), path, folder=Path(folder) / "log", today=TODAY)
    assert log.entries == added.entries == log.counting
    for row, entry in zip(rows, log.entries, strict=True):
        assert entry.date.isoformat() == row["date"] and entry.crew == row["crew"]
        assert entry.hours == row["hours"] and entry.people == row["people"] and entry.done == row["done"]
        assert (entry.found, entry.something_else, entry.notes) == (row["found"], row["something_else"], row["notes"])
        assert entry.task == row["task"].removeprefix("'")
        if row["host"] == "":
            assert entry.unit == {"'" + EAST: EAST, "outside the units": ""}.get(row["unit"], row["unit"])
        else:
            number = int(site_of().unit.ravel()[site_of().hosts.cell[row["host"]]])
            assert entry.host == row["host"] and entry.unit == ["", "west", EAST][number]


def test_the_kept_file_has_every_field_and_no_formula(tmp_path):
    path = take(tmp_path, f"2025-01-10,'{EAST},,'@look,,staff,3,1,yes,,,,").path
    rows = [row for row in csv.reader(path.open()) if not row[0].startswith("#")]
    assert tuple(rows[0]) == FIELDS == tuple(one.name for one in dataclasses.fields(Entry))[:-1]
    assert {"'" + EAST, "'@look"} <= set(rows[1])


fields = st.sampled_from(
    ["", "2025-01-10", "1.2.25", "yes", "-3", "1e999", "nan", "=1+1", "#REF!", "H5", "H999", "12", "3,5", "west", "stems",
     "staff", "2025-1:1", "\x00", "a,b", "winter", "0x1", "²", "１２"]
) | texts  # fmt: skip


@given(
    st.lists(st.sampled_from([*COLUMNS, "Date ", "hours (h)", "extra", ""]), min_size=1, max_size=12),
    st.lists(st.lists(fields, max_size=13), max_size=4),
    st.sampled_from(",;\t"),
)
@settings(max_examples=250, deadline=None)
def test_whatever_a_file_holds_it_is_taken_or_refused_in_words(head, rows, separator):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "noted.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, delimiter=separator).writerows([head, *rows])
        try:
            added = add_to_log(experiment(), path, folder=Path(folder) / "log", since=MAPPED, today=TODAY)
        except InputError as error:
            assert error.problems and all(str(path) in text for text in error.problems)
            assert not (Path(folder) / "log").exists()
        else:
            assert read_log(experiment(), Path(folder) / "log").entries == added.entries


def test_two_plain_files_of_bytes_are_refused(tmp_path):
    for content in (b"\xff\xfe\x00", b"PK\x03\x04junk", b"\x00", b""):
        path = tmp_path / "noted.csv"
        path.write_bytes(content)
        with pytest.raises(InputError, match=r"noted\.csv"):
            add_to_log(experiment(), path, folder=tmp_path / "log", since=MAPPED, today=TODAY)
