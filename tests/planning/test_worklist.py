"""The work list: hours and places against the simulation, sessions, the tally, files and sheets."""

import csv
import dataclasses
import re
from base64 import b64encode
from functools import cache
from hashlib import sha256
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, InputError, Site, Strategy, Task, Weather
from spreadsim.cli import cli
from spreadsim.exports import write_rows
from spreadsim.planning.worklist import Notes, WorkList, read_tally, sessions_of, tally_rows, work_list
from spreadsim.planning.worklist.material import material_text
from spreadsim.planning.worklist.place import FIND, GROUND, HOST
from spreadsim.planning.worklist.sessions import own_hours
from spreadsim.planning.worklist.tables import line_rows, place_rows, points
from spreadsim.planning.worklist.worked import Reader
from spreadsim.views.work_sheets import work_sheets
from spreadsim.views.work_sheets.session_map import as_known

EXPERIMENT = "experiments/too-much-ground/experiment.toml"
SEASONS, WORLDS = 8, 12
EAST = "=1+1"  # a spreadsheet would reckon it out


@cache
def small() -> Experiment:
    """A wood of 60 m with two mats, two units, a led crew, follow-up within the list, sprays, planting and looking."""
    rng = np.random.default_rng(3)
    mat = np.zeros((30, 30))
    mat[4:9, 4:10] = 0.9
    mat[20:24, 20:26] = 0.7
    x, y = rng.uniform(0, 60, 60), rng.uniform(0, 60, 60)
    inside = mat[29 - (y // 2).astype(int), (x // 2).astype(int)] > 0
    hosts = {"x": x, "y": y, "state": np.where(inside, "climbing", "bare"), "top_light": np.ones(60)}
    climbed = np.flatnonzero(inside)
    hosts["state"][climbed[:2]] = "fruiting"
    hosts["known"], hosts["placed"] = np.ones(60, bool), np.zeros(60, bool)
    hosts["known"][climbed[[0, 3]]] = False
    hosts["placed"][climbed[4]] = True
    units = np.where(np.arange(30) < 15, 1, 2) * np.ones(mat.shape, int)
    site = Site.from_arrays(
        2.0,
        mat=mat,
        units=units,
        unit_names=["west <script>", EAST],
        hosts=hosts,
        sensitive=mat * rng.random(mat.shape) > 0.7,
        crs="EPSG:32610",
        origin=(500000.0, 5200000.0),
        title="<script>alert(1)</script> & a path",
    )
    tasks = (
        Task("scout", name="@look", seasons=["winter"], share=0.2),
        Task("cut", name="stems", follow_up=FollowUp(2, 2, "cut-and-treat")),
        Task("clear-ring", share=0.3),
        Task(
            "foliar-spray", name="spray mats", instead="pull", follow_up=FollowUp(3, 1, "spot-spray"), crews=["staff"]
        ),
        Task("pull", units=[EAST], haul_out=True, seasons=["spring", "summer"]),
        Task("plant"),
    )
    crews = (
        Crew("friends", 9.0, may=["scout", "cut", "pull", "plant"], volunteers=True, leader="staff", people=4.0,
             session_hours=3.0, turnout=0.9, turnout_spread=0.2),
        Crew("staff", {"winter": 8.0, "spring": 6.0, "autumn": 6.0}, price=30.0),
    )  # fmt: skip
    strategies = (Strategy("no action"), Strategy("all of it", tasks=tasks))
    return Experiment(
        "Test list", site, spreadsim.load_vine("wintercreeper"), crews, strategies, years=4, replicates=WORLDS,
        weather=Weather((1.0, 2.0, 3.0, 2.0)), notice="Invented.",
    )  # fmt: skip


@cache
def listed() -> WorkList:
    return work_list(small(), "all of it", seasons=SEASONS)


def by_season(values, tasks: int):
    """(worlds, seasons, tasks) of an outcome by year and season."""
    table = np.nan_to_num(values.sel(strategy="all of it").to_numpy()[:, 1:, :, :tasks])
    return table.reshape(len(table), -1, tasks)[:, :SEASONS]


def test_hours_are_what_the_simulation_spent():
    """World by world, season by season, task by task; and all of them are found again in the units."""
    work, data = listed(), spreadsim.compare(small())
    tasks = len(work.strategy.tasks)
    spent = by_season(data["hours"], tasks)
    assert (spent.sum(axis=(0, 1)) > 0).all(), "a task that never works tests nothing"
    np.testing.assert_allclose(work.crew_hours.sum(axis=-1), spent, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(work.done.by_unit.sum(axis=-1), work.crew_hours, rtol=1e-9, atol=1e-9)
    follow = by_season(data["follow_up_hours"], tasks)
    np.testing.assert_allclose(work.done.hours[..., 1, :].sum(axis=-1), follow, rtol=1e-12, atol=1e-12)


def test_places_are_those_that_the_simulation_treated():
    """Treated hosts and ground of a season are among the places gone to; the rest are clean visits, which cost hours."""
    work, data = listed(), spreadsim.compare(small())
    tasks = len(work.strategy.tasks)
    for outcome, gone in (("hosts_treated", work.done.hosts), ("area_treated", work.done.area)):
        treated, went = by_season(data[outcome], tasks), gone.sum(axis=-1)
        fresh = work.done.hours[..., 1, :].sum(axis=-1) == 0
        assert treated.sum() > 0 and fresh.any()
        assert (went >= treated - 1e-6).all()
        np.testing.assert_allclose(went[fresh], treated[fresh], atol=1e-6)  # without visits nothing is found clean


def test_places_hold_all_hours_of_their_task():
    work = listed()
    for (season, task), sums in work.done.places.items():
        np.testing.assert_allclose(sums.hours.sum(), work.crew_hours[:, season, task].sum(), rtol=1e-9, atol=1e-9)
        assert (sums.count <= WORLDS).all() and (sums.visits <= sums.count).all()
        worked = (work.crew_hours[:, season, task].sum(axis=-1) > 0).sum()
        assert sums.count.max() <= worked


def test_the_list_does_not_depend_on_threads_or_length():
    one, more = (
        work_list(small(), "all of it", seasons=3, workers=1),
        work_list(small(), "all of it", seasons=3, workers=3),
    )
    assert np.array_equal(one.crew_hours, more.crew_hours) and np.array_equal(one.done.by_unit, more.done.by_unit)
    assert list(place_rows(one)) == list(place_rows(more))
    longer = [row for row in place_rows(listed()) if (row[0], row[1]) in {(1, "winter"), (1, "spring"), (1, "summer")}]
    assert longer == list(place_rows(one))[1:]


def test_hosts_stand_in_the_order_of_how_many_worlds_came_to_them():
    work = listed()
    first = [place for place in work.places if place.season == 0 and place.task == 1 and place.kind == HOST]
    assert [place.share for place in first] == sorted((place.share for place in first), reverse=True)
    assert "mapped fruiting" in first[0].about and [place.order for place in first] == list(range(1, len(first) + 1))
    assert all(place.treatments == ("cut",) for place in first)
    later = [place for place in work.places if place.season == 3 and place.task == 1]
    visits = [place for place in later if place.visit and place.kind == HOST]
    assert visits and {place.label for place in visits} <= {place.label for place in first}
    assert any("cut-and-treat" in place.treatments for place in visits)


def test_sessions_take_the_hours_that_a_crew_spends():
    work = listed()
    sessions = sessions_of(work)
    assert [session.number for session in sessions] == list(range(1, len(sessions) + 1))
    own = np.median(own_hours(work).sum(axis=2), axis=0)
    for season in range(SEASONS):
        for k, crew in enumerate(work.experiment.crews):
            mine = [session for session in sessions if session.season == season and session.crew == k]
            largest = max(
                (job.place.hours for session in mine for job in session.jobs if job.place.kind == "host"), default=0
            )
            assert sum(session.hours for session in mine) <= own[season, k] + largest / 2 + 1e-9
            assert all(
                crew.may_do(small().treatment(name)) for s in mine for j in s.jobs for name in j.place.treatments[:1]
            )
    friends = [session for session in sessions if session.crew == 0]
    assert friends and all(
        session.hours <= 12.0 + 2.0 for session in friends
    )  # four people for three hours, and a host
    halves = sessions_of(work, hours=4.0)
    assert len(halves) > len(sessions)
    assert np.isclose(sum(s.hours for s in halves), sum(s.hours for s in sessions))
    assert all(session.spots for session in sessions if any(job.place.kind in (HOST, GROUND) for job in session.jobs))
    for session in sessions:
        named = [place.label for spot in session.spots for place in spot]
        assert sorted(session.numbers.values()) == list(range(1, len(named) + 1)) and set(session.numbers) == set(named)
    with pytest.raises(InputError, match="session_hours: found 0"):
        sessions_of(work, hours=0)


def check_sheets(work: WorkList) -> set[str]:
    """Crews may do all that their sheets name; nobody is sent twice, nor for nothing. Gives what volunteers do."""
    experiment, given, volunteers = work.experiment, {}, set()
    for session in sessions_of(work):
        crew = experiment.crews[session.crew]
        jobs = [(job.place.label, job.place.task) for job in session.jobs]
        assert len({label for label, _ in jobs}) == len(jobs), "a number twice on a sheet"
        for job in session.jobs:
            used = [experiment.treatment(name) for name in job.place.treatments]
            assert used and all(crew.may_do(treatment) for treatment in used)
            assert round(job.hours, 2) > 0
            if crew.volunteers:
                volunteers |= set(job.place.treatments)
            if job.place.kind == HOST and any(treatment.number("stem_kill") > 0 for treatment in used):
                key = session.season, job.place.label
                assert key not in given, "cut twice in a season"
                given[key] = session.number
        if crew.volunteers:
            told = str(Notes(work).of_session(session))
            names = {name for job in session.jobs for name in job.place.treatments}
            assert "herbicide" not in told or any(experiment.treatment(name).herbicide for name in names)
    return volunteers


def test_no_crew_is_sent_to_what_it_may_not_do():
    assert check_sheets(listed())


def with_herbicide() -> Experiment:
    """Volunteers without herbicide first, and tasks of which they may do only what stands in for it."""
    tasks = (
        Task("cut-and-treat", name="fruiting", targets="fruiting", instead="cut"),
        Task("cut"),
        Task("foliar-spray", name="mats", instead="pull"),
        Task("pull", name="by hand"),
    )
    crews = (
        Crew("friends", 12.0, may=["cut", "pull"], volunteers=True),
        Crew("staff", 6.0, may=["cut", "pull", "cut-and-treat", "foliar-spray"]),
    )
    return dataclasses.replace(small(), crews=crews, strategies=(Strategy("all of it", tasks=tasks),))


def test_volunteers_get_no_herbicide():
    work = work_list(with_herbicide(), "all of it", seasons=2)
    assert {"foliar-spray", "cut-and-treat"} & {name for place in work.places for name in place.treatments}
    assert "pull" in check_sheets(work)


def test_a_host_that_two_tasks_come_to_is_cut_once():
    """Worlds differ in which task comes to a host; every host of one task is listed by the other too."""
    work = work_list(with_herbicide(), "all of it", seasons=2)
    hosts = [place for place in work.places if place.kind == HOST]
    both = [
        dataclasses.replace(place, task=1 - place.task, treatments=("cut",), hours=0.3, cells=place.cells)
        for place in hosts
    ]
    assert both and {place.task for place in hosts} <= {0, 1}
    check_sheets(dataclasses.replace(work, places=[*work.places, *both]))


def test_a_tally_reads_back(tmp_path):
    work = listed()
    path = write_rows(tmp_path / "tally.csv", tally_rows(work, sessions_of(work)))
    empty = read_tally(path)
    assert all(not row.done and row.hours is None and row.date is None for row in empty.rows)
    assert f"{len(empty.rows)} have no entry" in empty.sentence
    jobs = [(session, job) for session in sessions_of(work) for job in session.jobs]
    assert [(row.session, row.place, row.number) for row in empty.rows] == [
        (session.number, job.place.label, session.numbers.get(job.place.label)) for session, job in jobs
    ]
    assert {row.task for row in empty.rows} == {work.strategy.tasks[job.place.task].label for _, job in jobs}
    assert any(row.task == "@look" for row in empty.rows), "a name like a formula comes back as it was"
    lines = list(csv.DictReader(path.open()))
    for line in lines[:4]:
        line |= {"done": "Yes", "hours": str(2 * float(line["planned_hours"])), "date": "2027-01-16", "people": "6"}
    lines[4] |= {"done": "part", "found": "3", "notes": "Steep; came back"}
    semicolons = tmp_path / "filled.csv"  # as spreadsheets of some countries save it
    with semicolons.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(lines[0]), delimiter=";")
        writer.writeheader()
        writer.writerows(
            {key: value.replace(".", ",") if key == "hours" else value for key, value in line.items()} for line in lines
        )
    filled = read_tally(semicolons)
    assert [row.place for row in filled.rows] == [row.place for row in empty.rows]
    assert filled.rows[4].notes == "Steep; came back" and filled.rows[0].people == 6
    assert "4 are done and 1 in part" in filled.sentence and ", 2 times." in filled.sentence
    assert "3 further hosts" in filled.sentence
    older = [
        {key: one for key, one in line.items() if key not in ("strategy", "site", "something_else")} for line in lines
    ]
    with (tmp_path / "older.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, list(older[0]))
        writer.writeheader()
        writer.writerows(older)
    assert read_tally(tmp_path / "older.csv") == filled, "tallies of older versions lack three columns"
    answer = CliRunner().invoke(cli, ["tally", str(semicolons)])
    assert answer.exit_code == 0 and " ".join(answer.output.split()) == filled.sentence


@pytest.mark.parametrize(
    ("column", "text", "told"),
    [
        ("done", "maybe", r'line 2, done: found "maybe", allowed'),
        ("hours", "-1", r'line 2, hours: found "-1"'),
        ("people", "2.5", r"line 2, people: .*whole number"),
        ("date", "16.1.2027", r"line 2, date: .*2027-01-30"),
        ("session", "", r"line 2, session"),
        ("number", "x", r'line 2, number: found "x"'),
    ],
)
def test_a_wrong_tally_is_told_by_line(tmp_path, column, text, told):
    rows = list(tally_rows(listed(), sessions_of(listed())))
    line = dict(zip(rows[0], map(str, rows[1]), strict=True)) | {column: text}
    path = tmp_path / "tally.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([rows[0], line.values()])
    with pytest.raises(InputError, match=told):
        read_tally(path)
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([rows[0], rows[1], rows[1]])
    with pytest.raises(InputError, match="twice in session 1, allowed once"):
        read_tally(path)
    path.write_text("session,place\n1,H1\n")
    with pytest.raises(InputError, match="no column number"):
        read_tally(path)


def test_what_goes_with_the_work_is_said():
    work = listed()
    rows = list(line_rows(work))
    table = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    spray = next(row for row in table if row["treatment"] == "foliar-spray")
    assert "pull" in spray["if_fewer_fit_days"] and "label" in spray["cautions"] and "spot-spray" in spray["come_back"]
    assert all(row["haul_out"].startswith("carry out") for row in table if row["task"] == "pull")
    assert {row["unit"] for row in table if row["task"] == "pull"} == {EAST}
    stems = next(row for row in table if row["task"] == "stems" and row["season"] == "winter" and row["year"] == 1)
    assert "summer of year 1" in stems["come_back"]
    assert spray["material"] == "herbicide as the product label says"
    sprayed = next(s for s in sessions_of(work) if any("foliar-spray" in job.place.treatments for job in s.jobs))
    told = Notes(work).of_session(sprayed)
    assert any("label" in text for text in told["gear"]) and "partridgeberry" in told["alike"]
    assert "herbicide as the product label says" in told["material"]
    rate = re.compile(r"\d\s*(%|ml|oz|l/ha|gal)", re.IGNORECASE)
    for text in (*told["gear"], told["material"], *told["cautions"], *(row["material"] for row in table)):
        assert not rate.search(text), "no herbicide rates"


def test_material_is_said_in_words():
    """25 m3 of chips for 100 m2 (25 cm deep), common practice, no source."""
    treatments = [spreadsim.load_treatment(name) for name in ("mulch", "tarp", "spot-spray", "plant", "pull")]
    assert material_text(treatments, 120.0) == (
        "30 m3 for mulch; tarp for 120 m2, and what overlaps; herbicide as the product label says; "
        "native plants for 120 m2"
    )
    assert material_text(treatments[:2], 120.0, "us") == "39 yd3 for mulch; tarp for 1,300 ft2, and what overlaps"


def test_hours_are_told_as_a_part_of_the_crews_hours():
    work = listed()
    rows = list(line_rows(work))
    table = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    offered = {("friends", "winter"): 9.0, ("staff", "winter"): 8.0, ("staff", "autumn"): 6.0}
    for row in table:
        planned = offered.get((row["crew"], row["season"]))
        if planned:
            assert row["crew_hours_planned"] == planned
            place = 4 * (row["year"] - 1) + ["winter", "spring", "summer", "autumn"].index(row["season"])
            task = [one.label for one in work.strategy.tasks].index(row["task"])
            crew, unit = ["friends", "staff"].index(row["crew"]), ["west <script>", EAST].index(row["unit"]) + 1
            spent = np.quantile(work.done.by_unit[:, place, task, crew, unit], [0.5, 0.05, 0.95])
            np.testing.assert_allclose([row[f"hours_{one}"] for one in ("median", "low", "high")], spent, atol=0.006)
            assert np.isclose(row["share_of_crew_hours"], row["hours_median"] / planned, atol=2e-3)
    late = Crew("late", {"spring": 5.0}, years=[2, 3], lead_seasons=6)
    other = dataclasses.replace(work, experiment=dataclasses.replace(small(), crews=(*small().crews, late)))
    assert [other.planned_hours(season, 2) for season in range(16)] == [0.0] * 9 + [5.0] + [0.0] * 6
    assert f"all {WORLDS} simulated worlds" in work.origin


def test_crews_are_sent_only_to_what_they_may_know():
    """Vine that nobody knows and hosts known only as a count are hours to find them, and no place on any map."""
    work, hosts = listed(), small().site.hosts
    hidden = np.flatnonzero((hosts.state > 0) & ~hosts.known | hosts.placed)
    assert len(hidden) == 3
    labels = {f"H{j}" for j in hidden}
    assert not labels & {place.label for place in work.places}
    assert not any(name.split(" ")[1] in labels for _, _, name, _ in points(work, sessions_of(work)))
    found = [place for place in work.places if place.kind == FIND]
    assert found and any("known only as a count" in place.about for place in found)
    for place in found:
        sums = work.done.places[place.season, place.task]
        mine = hidden[Reader(small(), work.strategy).unit[hosts.cell[hidden]] == place.unit]
        np.testing.assert_allclose(place.hours * place.share * WORLDS, sums.hours[mine].sum())
    drawn = as_known(small().site).hosts
    assert (drawn.state[hidden] == 0).all() and (drawn.state > 0).sum() == (hosts.state > 0).sum() - 3
    mat = small().site.mat.ravel()
    removes = {t for t, task in enumerate(work.strategy.tasks) if task.treatment in ("foliar-spray", "pull")}
    ground = [place for place in work.places if place.kind == GROUND and place.task in removes]
    assert ground and all((mat[place.cells] > 0).any() for place in ground)


def test_sheets_escape_what_comes_from_inputs():
    work, sessions = listed(), sessions_of(listed())
    text = work_sheets(work, sessions[:2], Notes(work))
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; a path" in text and "west &lt;script&gt;" in text
    assert "<script" not in text.lower()
    style = text.split("<style>")[1].split("</style>")[0]
    hashed = b64encode(sha256(style.encode()).digest()).decode()
    assert f"default-src 'none'; img-src data:; style-src 'sha256-{hashed}'" in text
    assert not re.search(r"(src|href)=\"(?!data:)|url\(|@import|style=", text)
    assert text.count('<section class="sheet') == 2 and text.count("data:image/png;base64,") == 2
    assert re.search(r"ground: 46\.95\d{3} N, 122\.99\d{3} W \(WGS 84\); \d+ m east", text)
    assert "Invented." in text and "an ambulance gets in by" in text and f"all {WORLDS} simulated worlds" in text
    lines = re.findall(r'class="number">(\d*)</th><td>(\w+)</td>', text)
    assert lines == [
        (str(session.numbers.get(job.place.label, "")), job.place.label)
        for session in sessions[:2]
        for job in session.jobs
    ]


def test_tables_hold_no_formula(tmp_path):
    work = listed()
    for name, rows in (
        ("list", line_rows(work)),
        ("places", place_rows(work)),
        ("tally", tally_rows(work, sessions_of(work))),
    ):
        lines = list(csv.reader(write_rows(tmp_path / f"{name}.csv", rows).open()))
        fields = {field for line in lines for field in line}
        assert "'" + EAST in fields and EAST not in fields and "'@look" in fields
        assert not any(field[:1] in tuple("=+@") for field in fields)


def test_files_for_a_gis_and_a_phone(tmp_path):
    pyogrio, pyproj = pytest.importorskip("pyogrio"), pytest.importorskip("pyproj")
    from spreadsim.exports import export_places, export_points
    from spreadsim.planning.worklist.tables import layers

    work = listed()
    sessions = sessions_of(work)
    listed_points = points(work, sessions)
    assert {name for _, _, name, _ in listed_points} == {
        f"{s.number}-{number} {label}" for s in sessions for label, number in s.numbers.items()
    }
    path = export_places(work.experiment.site, layers(work), tmp_path / "list.gpkg")
    _, _, shapes, fields = pyogrio.raw.read(path, layer="ground")
    import shapely

    areas = shapely.area(shapely.from_wkb(shapes))
    names = list(pyogrio.read_info(path, layer="ground")["fields"])
    np.testing.assert_allclose(areas, fields[names.index("area_m2")].astype(float), atol=0.06)
    assert pyogrio.read_info(path, layer="hosts")["crs"] == "EPSG:32610"
    gpx = export_points(work.experiment.site, listed_points, tmp_path / "list.gpx")
    root = ElementTree.parse(gpx).getroot()
    space = "{http://www.topografix.com/GPX/1/1}"
    found = root.findall(f"{space}wpt")
    assert len(found) == len(listed_points) > 0 and root.get("version") == "1.1"
    back = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32610", always_xy=True)
    places = np.array([point[:2] for point in listed_points])
    read = np.array([(float(one.get("lon")), float(one.get("lat"))) for one in found])
    np.testing.assert_allclose(np.column_stack(back.transform(*read.T)), places, atol=0.02)
    # the order that the schema of GPX 1.1 wants (topografix.com/GPX/1/1/gpx.xsd)
    assert all([child.tag for child in one] == [f"{space}name", f"{space}desc"] for one in found)
    _, _, shapes, fields = pyogrio.raw.read(gpx, layer="waypoints")
    read = shapely.get_coordinates(shapely.from_wkb(shapes))
    np.testing.assert_allclose(np.column_stack(back.transform(*read.T)), places, atol=0.02)
    info = pyogrio.read_info(gpx, layer="waypoints")
    assert info["crs"] == "EPSG:4326"
    assert fields[list(info["fields"]).index("name")].tolist() == [point[2] for point in listed_points]
    nowhere = dataclasses.replace(work.experiment.site, crs=None)
    with pytest.raises(InputError, match="GPX: found a site without crs"):
        export_points(nowhere, listed_points, tmp_path / "none.gpx")


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match='strategy: found "no action", allowed one with tasks: "all of it"') as caught:
        work_list(small(), "no action", seasons=99)
    assert "seasons: found 99, allowed 1 to 12" in str(caught.value)


def test_the_command_writes_everything_and_keeps_a_filled_tally(tmp_path):
    arguments = [
        "worklist",
        EXPERIMENT,
        "--strategy",
        "come back first",
        "--seasons",
        "1",
        "--replicates",
        "3",
    ]
    done = CliRunner().invoke(cli, [*arguments, "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    told = " ".join(done.output.split())
    assert told.startswith("Made from all 3 simulated worlds") and re.search(
        r"Winter of year 1: volunteers \d\d h \(\d\d to \d\d\) of 40 h; 2 sessions", told
    )
    assert "Left out: worklist.gpx: GPX: found a site without crs" in told
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {"worklist.csv", "places.csv", "tally.csv", "sheets.html", "worklist.gpkg"}
    lines = list(csv.reader((tmp_path / "tally.csv").open()))
    lines[1][lines[0].index("done")] = "yes"
    csv.writer((tmp_path / "tally.csv").open("w", newline="")).writerows(lines)
    again = CliRunner().invoke(cli, [*arguments, "--out", str(tmp_path)])
    assert isinstance(again.exception, InputError) and "it would be lost" in str(again.exception)
