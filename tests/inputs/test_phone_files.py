"""GPX and KML of a phone: what points and tracks become, by their words."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from spreadsim.inputs import InputError, Site, phone_xml, read_site
from spreadsim.inputs.local_plane import local_degrees, local_metres
from spreadsim.inputs.phone_words import cover_said, radius_said, role_of, state_of
from spreadsim.inputs.phone_xml import POINT, Mark

pytest.importorskip("pyproj")
pytest.importorskip("defusedxml")
CORNER = (-123.0, 49.0)  # an invented wood at the middle of a UTM zone
UP, EAST = 111_207.0, 73_172.0  # m in a degree there; WGS 84, by series of its radii


def at(x: float, y: float) -> tuple[float, float]:
    return CORNER[0] + x / EAST, CORNER[1] + y / UP


def ring(x: float, y: float, radius: float, count: int = 90, left: int = 0) -> list[tuple[float, float]]:
    turns = [2 * math.pi * k / count for k in range(count - left)]
    return [at(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def wpt(x: float, y: float, name: str, more: str = "") -> str:
    lon, lat = at(x, y)
    return f'<wpt lat="{lat!r}" lon="{lon!r}"><name>{name}</name>{more}</wpt>'


def trk(points: list[tuple[float, float]], name: str) -> str:
    inside = "".join(f'<trkpt lat="{lat!r}" lon="{lon!r}"><ele>3</ele></trkpt>' for lon, lat in points)
    return f"<trk><name>{name}</name><trkseg>{inside}</trkseg></trk>"


def gpx(folder: Path, *parts: str) -> None:
    text = '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">' + "".join(parts)
    (folder / "a.gpx").write_text(text + "</gpx>", encoding="utf-8")


def kml(folder: Path, *parts: str) -> None:
    text = '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>' + "".join(parts)
    (folder / "a.kml").write_text(text + "</Document></kml>", encoding="utf-8")


def placemark(shape: str, name: str, more: str = "") -> str:
    return f"<Placemark><name>{name}</name>{more}{shape}</Placemark>"


def coordinates(points: list[tuple[float, float]]) -> str:
    return "<coordinates>" + " ".join(f"{lon!r},{lat!r},0" for lon, lat in points) + "</coordinates>"


def read(folder: Path, toml: str) -> Site:
    (folder / "site.toml").write_text('crs = "auto"\ncell_size = 1\n' + toml)
    return read_site(folder / "site.toml")


def problems(folder: Path, toml: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, toml)
    return str(caught.value).replace(f"{folder}/", "")


OUTLINE = trk(ring(50, 50, 60), "boundary")


def test_points_become_hosts(folder: Path) -> None:
    accuracy = "<extensions><accuracy>4.5</accuracy></extensions>"
    gpx(
        folder,
        OUTLINE,
        wpt(20, 30, "tree 1", "<desc>Climbing, not fruiting yet; large</desc>" + accuracy),
        wpt(30, 30, "FRUITING fence"),
        wpt(40, 30, "017"),
        wpt(50, 50, "mat 70%, radius 3 m"),
    )
    hosts = read(folder, 'boundary = "a.gpx"\nhosts = "a.gpx"\n').hosts
    assert hosts.state.tolist() == [1, 2, 0] and hosts.kind == ("tree", "fence", "tree")
    assert hosts.girth == ("large", "medium", "medium")
    assert hosts.uncertainty[0] == 4.5 and np.isnan(hosts.uncertainty[1])
    assert hosts.x[1] - hosts.x[0] == pytest.approx(10 * 0.9996, abs=0.01)  # UTM is 0.4 per mille short there
    climbing = read(folder, 'boundary = "a.gpx"\nhosts = { file = "a.gpx", state = "climbing" }\n')
    assert climbing.hosts.state.tolist() == [1, 2, 1]
    assert any('so they are climbing (point 3 "017"): are all trees?' in remark for remark in climbing.remarks)
    said = read(folder, 'boundary = "a.gpx"\nhosts = "a.gpx"\n').remarks
    assert any('1 of 3 points say no state, so they are bare (point 3 "017")' in remark for remark in said)
    assert any('no hosts by their words: point 4 "mat 70%, radius 3 m"' in remark for remark in said)


def test_tracks_become_mats(folder: Path) -> None:
    creek = [at(70, 70), at(70, 90)]
    gpx(
        folder,
        OUTLINE,
        wpt(60, 60, "mat 70% radius 3 m"),
        wpt(20, 30, "tree, climbing"),
        trk(ring(50, 50, 6, left=2), "mat cover 0.5"),
        trk(creek, "mat by the creek, Daubenmire 3"),
    )
    site = read(folder, 'boundary = "a.gpx"\nmats = { file = "a.gpx", width = 2 }\n')
    areas = (np.pi * 9 * 0.7, np.pi * 36 * 0.5, (20 * 2 + np.pi) * 0.375)
    assert site.mat.sum() == pytest.approx(sum(areas) * 0.9996**2, rel=0.01)
    assert site.plantable.sum() == pytest.approx(np.pi * 3600 * 0.9996**2, rel=0.005)
    said = problems(folder, 'boundary = "a.gpx"\nmats = "a.gpx"\n')
    assert 'track 3 "mat by the creek, Daubenmire 3": found an open track, 20 m between its ends' in said


def test_kml_folders_data_and_outlines(folder: Path) -> None:
    square = [at(0, 0), at(100, 0), at(100, 100), at(0, 100), at(0, 0)]
    hole = [at(40, 40), at(60, 40), at(60, 60), at(40, 60), at(40, 40)]
    rings = [f"<LinearRing>{coordinates(one)}</LinearRing>" for one in (square, hole)]
    polygon = (
        f"<Polygon><outerBoundaryIs>{rings[0]}</outerBoundaryIs><innerBoundaryIs>{rings[1]}</innerBoundaryIs></Polygon>"
    )
    data = "<ExtendedData><Data name='State'><value>fruiting</value></Data><Data name='Height'><value>21</value></Data></ExtendedData>"
    point = f"<Point>{coordinates([at(10, 20)])}</Point>"
    kml(
        folder,
        f"<Folder><name>Climbing hosts</name>{placemark(point, '1')}{placemark(point.replace('Point', 'Point'), '2', data)}</Folder>",
        placemark(polygon, "outline"),
    )
    site = read(folder, 'boundary = "a.kml"\nhosts = "a.kml"\n')
    assert site.hosts.state.tolist() == [1, 2] and site.hosts.height.tolist() == [18, 21]
    assert site.plantable.sum() == pytest.approx((10_000 - 400) * 0.9996**2, rel=0.003)


def test_outlines_of_units_have_the_names_of_tracks(folder: Path) -> None:
    gpx(folder, OUTLINE, trk(ring(30, 50, 15), "north slope"), trk(ring(70, 50, 15), ""))
    assert read(folder, 'boundary = "a.gpx"\nunit = "a.gpx"\n').unit_names == ("north slope", "unit 2")


@pytest.mark.parametrize(
    ("words", "state", "role"),
    [
        ("fruiting oak", "fruiting", "host"),
        ("climbed", "climbing", "host"),
        ("no fruit, climbing", "climbing", "host"),
        ("bare", "bare", "host"),
        ("mat under trees", "", "mat"),
        ("material", "", "unsaid"),
        ("wall", "", "host"),
        ("boundary", "", "boundary"),
        ("grapefruit", "", "unsaid"),
    ],
)
def test_words(words: str, state: str, role: str) -> None:
    mark = Mark("point 1", POINT, [[(0.0, 0.0)]], words=words)
    assert (state_of(mark), role_of(mark)) == (state, role)


def test_words_of_mats() -> None:
    for words, cover, radius in (
        ("mat 70 % radius 3 m", "70 %", "3 m"),
        ("mat, cover 0.7; radius: 10 ft", "0.7", "10 ft"),
        ("patch braun-blanquet 2b", "braun-blanquet 2b", ""),
        ("mat", "", ""),
    ):
        mark = Mark("point 1", POINT, [[(0.0, 0.0)]], words=words)
        assert (cover_said(mark), radius_said(mark)) == (cover, radius)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "<!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx><wpt lat='1' lon='1'><name>&a;</name></wpt></gpx>",
            "definitions of entities",
        ),
        ("<gpx><wpt lat='1' lon='1'>", "line 1: not valid XML"),
        ("<html></html>", "XML of another kind (html)"),
        ("<gpx>" + "<a>" * 10_000, "nested more than 100 deep"),
        ("<gpx><wpt lat='91' lon='1'/></gpx>", "point 1: found a position that is none"),
        ("<gpx><wpt lat='nan' lon='1'/></gpx>", "point 1: found a position that is none"),
        ("<gpx><wpt lat='1' lon='1'><wpt lat='2' lon='2'/></wpt></gpx>", "a point or track within another one"),
        ("<gpx></gpx>", "found 0 points, 0 tracks, 0 outlines, allowed points"),
        ("PK\x03\x04", "a zip file, such as KMZ"),
        ("", "not valid XML"),
        ("<?xml version='1.0' encoding='nonsense'?><gpx/>", "not valid XML"),
    ],
)
def test_faults_of_phone_files(folder: Path, text: str, said: str) -> None:
    (folder / "b.gpx").write_text(text)
    assert said in problems(folder, 'hosts = "b.gpx"\n')


def test_keys_of_a_phone_file(folder: Path) -> None:
    gpx(folder, OUTLINE, wpt(20, 30, "mat"), wpt(30, 30, "017"))
    said = problems(folder, 'boundary = "a.gpx"\nmats = "a.gpx"\n')
    assert 'point 1 "mat", radius: found nothing' in said and "cover = 0.7 beside file" in said
    assert "state: found" in problems(folder, 'boundary = "a.gpx"\nhosts = { file = "a.gpx", state = "dead" }\n')
    (folder / "a.geojson").write_text("{}")
    assert "mats.width: found 2, allowed none" in problems(folder, 'mats = { file = "a.geojson", width = 2 }\n')


def test_entities_are_neither_expanded_nor_fetched(folder: Path) -> None:
    (folder / "secret.txt").write_text("tree, climbing")
    bomb = "".join(f"<!ENTITY a{k} '{f'&a{k - 1};' * 10}'>" for k in range(1, 30))
    kinds = {
        "bomb": f"<!DOCTYPE gpx [<!ENTITY a0 'aaaaaaaaaa'>{bomb}]>",
        "file": f'<!DOCTYPE gpx [<!ENTITY a29 SYSTEM "file://{folder}/secret.txt">]>',
        "address": '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/none.dtd" [<!ENTITY % a29 SYSTEM "http://127.0.0.1:9/">]>',
    }
    for dtd in kinds.values():
        text = f"<?xml version='1.0'?>{dtd}<gpx><wpt lat='49' lon='-123'><name>&a29;</name></wpt></gpx>"
        for name in ("b.gpx", "b.kml"):
            (folder / name).write_text(text)
            assert f"{name}: found definitions of entities (DTD)" in problems(folder, f'hosts = "{name}"\n')


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        ("_MOST_MARKS", "more than 4 points and tracks"),
        ("_MOST_POINTS", "4 positions"),
        ("_MOST_ELEMENTS", "4 elements"),
    ],
)
def test_more_than_there_may_be_is_refused(
    folder: Path, monkeypatch: pytest.MonkeyPatch, limit: str, said: str
) -> None:
    monkeypatch.setattr(phone_xml, limit, 4)
    gpx(folder, *(wpt(20, 30 + k, "climbing") for k in range(5)))
    assert said in problems(folder, 'hosts = "a.gpx"\n')


def test_what_is_left_unread_needs_no_order(folder: Path) -> None:
    junk = "<metadata><name>mat</name><a><b/></a></metadata>"
    many = [wpt(20 + k % 50, 30 + k // 50, "climbing") + junk for k in range(600)]  # more than is parsed at once
    gpx(folder, junk, *many, OUTLINE)
    site = read(folder, 'boundary = "a.gpx"\nhosts = "a.gpx"\n')
    assert len(site.hosts) == 600 and (site.hosts.state == 1).all()
    across = site.hosts.x.reshape(12, 50) - site.hosts.x[0]
    assert across == pytest.approx(np.broadcast_to(np.arange(50) * 0.9996, (12, 50)), abs=0.05)


def test_problems_of_many_marks_are_counted(folder: Path) -> None:
    gpx(folder, OUTLINE, *(wpt(20, 30 + k / 10, "mat 50 %") for k in range(300)))
    said = problems(folder, 'boundary = "a.gpx"\nmats = "a.gpx"\n').splitlines()
    assert len(said) == 21 and said[-1] == "a.gpx: 280 more points, tracks and outlines not looked at"


def test_degrees_of_metres_and_back() -> None:
    rng = np.random.default_rng(4)
    x, y = rng.uniform(-1e5, 1e5, (2, 300))
    for latitude in (-60.0, 0.0, 49.0, 70.0):
        east, north = local_metres(*local_degrees(x, y, (179.99, latitude)), (179.99, latitude))
        assert np.abs(np.concatenate([east - x, north - y])).max() < 1e-4


def test_a_phone_file_where_a_table_is_wanted(folder: Path) -> None:
    gpx(folder, OUTLINE, wpt(20, 30, "climbing"))
    said = problems(folder, 'boundary = "a.gpx"\nhost_counts = "a.gpx"\n')
    assert "a.gpx: found XML, such as GPX and KML files or a web page, allowed a CSV file" in said
    (folder / "a.kmz").write_bytes(b"PK\3\4 and so on")
    said = problems(folder, 'boundary = "a.gpx"\nhosts = "a.kmz"\n')
    assert "found a packed KML file (.kmz), allowed the KML file in it" in said
