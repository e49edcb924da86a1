"""A second map as a survey: the finds that it makes, where nobody looked, other files, and what it refuses."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import spreadsim
from spreadsim import InputError, Site
from spreadsim.cli import cli, main
from spreadsim.inputs.checks import Check
from spreadsim.inputs.survey_places import grounds_of
from spreadsim.learning.findings import findings_of
from spreadsim.learning.looked import look
from spreadsim.learning.second_files import read_second
from spreadsim.learning.second_map import survey_of_map
from spreadsim.learning.zones import Zones

from .inventing import DAY
from .small import CELL, MAPPED, SIDE, SURVEYED, site
from .test_learn import EXPERIMENT, SITE, files

WEST, EAST = site().unit_names


def later(move: float = 0.0, extra: int = 0, **more) -> Site:
    """A second map: the old mats grown by a cell, a new patch in each unit, three more climbed hosts."""
    mat = site().mat.copy()
    mat[3, 4:9] = 0.5
    mat[20, 5] = 0.8  # in the west
    mat[10, 35:37] = 0.6  # in the east
    hosts = site().hosts
    state = hosts.state.copy()
    state[np.flatnonzero(state == 0)[:3]] = 1
    x, y = np.clip(hosts.x + move, 0, SIDE * CELL), hosts.y
    x, y = np.append(x, np.full(extra, 150.0)), np.append(y, 10.0 + np.arange(extra))
    words = np.array(["bare", "climbing", "fruiting"])[np.append(state, np.ones(extra, int))]
    return Site.from_arrays(CELL, mat=mat, hosts={"x": x, "y": y, "state": words}, **more)


def found(survey, everywhere=False):
    """Observed numbers by name, the findings, and the effort."""
    check = Check("second map")
    grounds = grounds_of(survey, site(), None)
    looked = look(survey, site(), grounds, DAY, check, everywhere=everywhere)
    findings = findings_of(site(), Zones(site()), grounds, looked, False, check)
    check.done()
    return {one.name: one.observed for one in findings.statistics}, findings, looked.effort


def test_finds_are_those_of_the_two_maps_compared_cell_by_cell():
    second = later()
    observed, findings, effort = found(survey_of_map(site(), second, {WEST: 3.0, EAST: 1.5}))
    units, state = site().unit, second.hosts.state
    at = site().unit.ravel()[site().hosts.cell]
    rows, columns = np.nonzero(site().mat > 0)
    r, c = np.indices(units.shape)
    away = np.min(np.hypot(r[..., None] - rows, c[..., None] - columns), axis=2) * CELL
    for k, name in enumerate((WEST, EAST), 1):
        assert observed[f"climbing hosts, {name}"] == ((state == 1) & (at == k)).sum()
        assert observed[f"fruiting hosts, {name}"] == ((state == 2) & (at == k)).sum()
        old = (away <= 10) & (units == k) & (site().plantable > 0)
        assert observed[f"mat area of the map's mats, {name}"] == pytest.approx((second.mat * old).sum() * CELL**2)
    assert sum(number for name, number in observed.items() if name.startswith("new patches")) == 2
    assert set(findings.mat_cells) == set(np.flatnonzero((second.mat > 0) & (site().plantable > 0)))
    assert findings.hosts == {j: int(s) for j, s in enumerate(state) if s}
    ground = (units == 1).ravel() & (site().plantable > 0).ravel()
    hectares = ground.sum() * CELL**2 / 1e4
    np.testing.assert_allclose(effort.leaf_off[ground], 60 * 3.0 / hectares)


def test_where_nobody_looked_finds_are_places_and_bare_ground_is_no_absence():
    observed, findings, effort = found(survey_of_map(site(), later(), {WEST: 3.0}))
    assert not any(EAST in name for name in observed)
    assert not effort.looked[(site().unit == 2).ravel()].any()
    assert 10 * SIDE + 35 in findings.mat_cells, "what was found elsewhere is there all the same"
    assert sum(number for name, number in observed.items() if name.startswith("new patches")) == 1
    nothing = survey_of_map(site(), later())
    assert found(nothing)[0] == {} and not found(nothing)[2].looked.any()
    assert "no hours are said for the second map" in nothing.remarks[-1]


def test_all_of_the_ground_at_once():
    observed, _, effort = found(survey_of_map(site(), later(), {"Everywhere": 8.0}), everywhere=True)
    assert effort.looked.all()
    by_unit = found(survey_of_map(site(), later(), {WEST: 4.0, EAST: 4.0}))[0]
    assert {name: observed[name] for name in by_unit} == pytest.approx(by_unit)


def test_ground_looked_at_with_nothing_on_it_counts():
    hosts = site().hosts
    bare = Site.from_arrays(CELL, mat=np.zeros((SIDE, SIDE)), hosts={"x": hosts.x, "y": hosts.y})
    observed, findings, effort = found(survey_of_map(site(), bare, {WEST: 2.0}))
    assert observed[f"climbing hosts, {WEST}"] == 0 and effort.looked.any() and not findings.hosts


def test_hosts_are_matched_by_place_and_each_only_once():
    observed, findings, _ = found(survey_of_map(site(), later(move=1.0), {WEST: 3.0, EAST: 1.5}))
    assert sum(number for name, number in observed.items() if "hosts" in name) == (later().hosts.state > 0).sum()
    assert len(findings.hosts) >= 0.9 * (later().hosts.state > 0).sum()
    strange = survey_of_map(site(), later(extra=2), {WEST: 3.0, EAST: 1.5})
    assert any("2 of" in remark and "stand more than 5 m" in remark for remark in strange.remarks)
    exact = found(survey_of_map(site(), later(), {WEST: 3.0, EAST: 1.5}))[0]
    assert found(strange)[0][f"climbing hosts, {EAST}"] == exact[f"climbing hosts, {EAST}"] + 2


@pytest.mark.parametrize(
    ("second", "looked", "message"),
    [
        (Site.from_arrays(2.0, mat=np.zeros((80, 80))), {}, "cell_size: found 2.0, allowed 4 m, as of the first map"),
        (later(origin=(500.0, 0.0), crs="EPSG:32610"), {}, "origin: found a south-west corner at 500.0, 0.0"),
        (Site.from_arrays(CELL, mat=np.zeros((SIDE, 10))), {}, "width: found 40.0, allowed 160 m"),
        (Site.from_arrays(CELL, mat=site().mat), {WEST: 2.0}, "hosts: found nothing, allowed hosts too, bare ones at"),
        (later(), {"north": 3.0}, 'looked: found "north", allowed one of'),
        (later(), {WEST: 0.0}, f"looked, {WEST}: found 0.0, allowed hours of all people together"),
        (later(), {"plots.gpkg": 2.0}, "found a file of outlines, allowed units of the site: it has no crs"),
        (
            Site.from_arrays(CELL, mat=np.zeros((SIDE, SIDE)), hosts={"x": [78.0], "y": [78.0], "state": ["climbing"]}),
            {},
            "found 1 climbed, none of which stands on the first map",
        ),
    ],
)
def test_another_site_and_ground_that_is_not_there_are_named(second, looked, message):
    with pytest.raises(InputError) as caught:
        survey_of_map(site(), second, looked, path="later.toml")
    assert message in str(caught.value) and "later.toml" in str(caught.value)


def test_an_outline_is_ground_that_was_looked_at(tmp_path):
    placed = Site.from_arrays(
        CELL, mat=site().mat, crs="EPSG:32610", origin=(500_000.0, 5_000_000.0), units=site().unit,
        unit_names=site().unit_names,
    )  # fmt: skip
    corners = [(500_000.0, 5_000_000.0), (500_080.0, 5_000_000.0), (500_080.0, 5_000_160.0), (500_000.0, 5_000_160.0)]
    path = tmp_path / "west half.geojson"
    shape = {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32610"}}
    feature = {"type": "Feature", "properties": {}, "geometry": shape}
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": {"type": "name", "properties": named["properties"]},
                                "features": [feature]}))  # fmt: skip
    second = Site.from_arrays(CELL, mat=later().mat, crs="EPSG:32610", origin=(500_000.0, 5_000_000.0))
    survey = survey_of_map(placed, second, {str(path): 2.0})
    check = Check("second map")
    looked = look(survey, placed, grounds_of(survey, placed, None), DAY, check)
    share = (looked.effort.looked).reshape(SIDE, SIDE)
    assert share[:, :20].all() and not share[:, 21:].any()
    assert sum(record.found for record in survey.events[0].records) == int((later().mat[:, :20] > 0).sum())


def write_second(folder: Path) -> list[str]:
    """Files of a first map and a second one; the arguments that name them."""
    path = files(folder)
    second = later()
    rows, columns = np.nonzero(second.mat)
    lines = [f"{(c + 0.5) * CELL},{(SIDE - r - 0.5) * CELL},{CELL / np.sqrt(np.pi):.4f},{second.mat[r, c]:.3f}"
             for r, c in zip(rows, columns, strict=True)]  # fmt: skip
    (folder / "mats2.csv").write_text("\n".join(["x,y,radius,cover", *lines]))
    hosts = second.hosts
    words = np.array(["bare", "climbing", "fruiting"])[hosts.state]
    (folder / "hosts2.csv").write_text(
        "\n".join(["x,y,state", *(f"{x:.1f},{y:.1f},{s}" for x, y, s in zip(hosts.x, hosts.y, words, strict=True))])
    )
    (folder / "second.toml").write_text(
        f'cell_size = {CELL}\nwidth = {SIDE * CELL}\nheight = {SIDE * CELL}\nmats = "mats2.csv"\nhosts = "hosts2.csv"\n'
    )
    return ["learn", str(path), "--since", MAPPED, "--date", SURVEYED, "--replicates", "20", "--out", str(folder / "o")]


def test_the_command_takes_a_second_map(tmp_path):
    arguments = write_second(tmp_path)
    looked = ["--looked", "west", "3", "--looked", "east", "1"]
    answer = CliRunner().invoke(cli, [*arguments, "--map", str(tmp_path / "second.toml"), *looked])
    assert answer.exit_code == 0, answer.output
    whole = (tmp_path / "o" / "found.csv").read_bytes()
    assert b'"climbing hosts, east",9.0,' in whole and b"mat area of the map's mats, west" in whole
    tables = ["--mats", str(tmp_path / "mats2.csv"), "--hosts", str(tmp_path / "hosts2.csv")]
    answer = CliRunner().invoke(cli, [*arguments, *tables, *looked])
    assert answer.exit_code == 0, answer.output
    assert (tmp_path / "o" / "found.csv").read_bytes() == whole
    answer = CliRunner().invoke(cli, [*arguments, "--map", str(tmp_path / "second.toml")])
    assert answer.exit_code == 0 and "no hours are said for the second map" in " ".join(answer.output.split())


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ([], "survey: found no survey, allowed one of --survey, --map, --mats"),
        (["--map", "second.toml", "--survey", "records.csv"], "found --survey and --map, allowed one of"),
        (["--survey", "records.csv", "--looked", "west", "2"], "--looked: found it beside --survey"),
        (["--hosts", "hosts2.csv", "--looked", "west", "2"], "found it with --hosts and no --mats, allowed --mats too"),
        (["--mats", "mats2.csv", "--looked", "west", "2"], "hosts: found nothing, allowed hosts too"),
        (["--map", "second.toml", "--looked", "north", "2"], 'looked: found "north"'),
        (["--map", "site.toml", "--looked", "west", "-2"], "looked, west: found -2.0"),
        (["--map", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_the_command_says_what_is_wrong_and_writes_nothing(more, message, tmp_path, capsys, monkeypatch):
    arguments = write_second(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert main([*arguments, *more]) == 2
    assert message in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "o").exists()


def test_files_of_mats_are_read_on_the_ground_of_the_first_map(tmp_path):
    write_second(tmp_path)
    second = read_second(site(), mats=tmp_path / "mats2.csv")
    assert second.mat.shape == site().mat.shape and not len(second.hosts)
    whole = read_second(site(), tmp_path / "second.toml")
    np.testing.assert_allclose(second.mat, whole.mat)
    assert EXPERIMENT and SITE and spreadsim.survey_of_map is survey_of_map
