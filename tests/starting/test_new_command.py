"""`spreadsim new`: from numbers, from answers on a terminal, from a boundary."""

import json
import re

import pytest
from click.testing import CliRunner

from spreadsim import cli, cli_new
from spreadsim.inputs import read_experiment


def test_it_says_what_was_assumed_and_the_next_commands(tmp_path, capsys):
    folder = tmp_path / "my wood"
    assert cli.main(["new", str(folder), "--area", "10 ac", "--climbed", "12", "--yes"]) == 0
    out = capsys.readouterr().out
    assert "invented site of 10 acres" in out and "12 climbed" in out and "Canopy cover" in out
    for command in ("check", "compare"):
        assert f"spreadsim {command} '{folder / 'experiment.toml'}'" in out
    assert cli.main(["check", str(folder / "experiment.toml")]) == 0
    out = capsys.readouterr().out
    assert out.endswith("Nothing is wrong with it.\n") and "your total" in out and "differs" not in out
    assert (folder / "results" / "site.png").stat().st_size > 10_000


def test_a_full_folder_and_bad_numbers_are_refused(tmp_path, capsys):
    (tmp_path / "a").write_text("")
    assert cli.main(["new", str(tmp_path), "--yes"]) == 2
    assert "nothing is overwritten" in capsys.readouterr().err
    assert cli.main(["new", str(tmp_path / "b"), "--mat", "much", "--trees", "x"]) == 2
    err = capsys.readouterr().err
    assert "--mat: found" in err and "--trees: found" in err and not (tmp_path / "b").exists()


def test_on_a_terminal_it_asks_and_asks_again(tmp_path, monkeypatch):
    monkeypatch.setattr(cli_new, "on_terminal", lambda: True)
    answers = ["", "30 acres", "lots", "55 %", "", "", "20", "", "", "", "pai", "6", "wat", ""]
    folder = tmp_path / "asked"
    result = CliRunner().invoke(cli.cli, ["new", str(folder)], input="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    assert re.search(r'Canopy cover.*: lots\n  found "lots", allowed a share', result.output)
    assert "Trees per area [80/ac]" in result.output and "Of these, fruiting [5]" in result.output
    read = read_experiment(folder / "experiment.toml")
    assert read.units == "us" and read.weather.fit_days[0] == 6 and read.site.sensitive.any()
    assert (read.site.hosts.state >= 1).sum() == 20 and (read.site.hosts.state == 2).sum() == 5


def polygon(tmp_path):
    ring = [[-122.70, 45.50], [-122.696, 45.5005], [-122.695, 45.503], [-122.699, 45.5035], [-122.70, 45.50]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    path = tmp_path / "edge.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    return path, ring


@pytest.mark.parametrize("beyond", ["both", "nothing"])
def test_a_boundary_is_filled(tmp_path, capsys, beyond):
    pyproj = pytest.importorskip("pyproj")
    path, ring = polygon(tmp_path)
    folder = tmp_path / "new"
    arguments = ["--boundary", str(path), "--mat", "5 %", "--climbed", "30", "--beyond", beyond, "--yes"]
    assert cli.main(["new", str(folder), *arguments]) == 0, capsys.readouterr().err
    site = read_experiment(folder / "experiment.toml").site
    area = abs(pyproj.Geod(ellps="WGS84").polygon_area_perimeter(*zip(*ring, strict=True))[0])  # on the ellipsoid
    square = site.cell_size**2
    assert site.plantable.sum() * square == pytest.approx(area, rel=0.01)
    assert (site.mat * site.plantable).sum() * square == pytest.approx(0.05 * area, rel=0.01)
    east, north = pyproj.Transformer.from_crs(4326, site.crs, always_xy=True).transform(-122.70, 45.50)
    assert site.origin[0] - 3 <= east <= site.origin[0] + 3 + site.cell_size
    assert site.origin[1] - 3 <= north <= site.origin[1] + 3 + site.cell_size
    assert bool(len(site.sources)) == (beyond == "both")
    capsys.readouterr()
    assert cli.main(["check", str(folder / "experiment.toml"), "--out", str(tmp_path / "seen")]) == 0
    assert "differs" not in capsys.readouterr().out


def test_a_file_that_is_no_boundary_is_refused(tmp_path, capsys):
    path = tmp_path / "points.geojson"
    point = {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [7.0, 50.0]}}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [point]}))
    assert cli.main(["new", str(tmp_path / "x"), "--boundary", str(path), "--yes"]) == 2
    assert "no polygon and no track" in capsys.readouterr().err


def test_an_area_beside_a_boundary_is_refused(tmp_path, capsys):
    pytest.importorskip("pyproj")
    path = tmp_path / "edge.geojson"
    ring = [[-122.7, 45.5], [-122.698, 45.5], [-122.698, 45.501], [-122.7, 45.5]]
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    assert cli.main(["new", str(tmp_path / "x"), "--boundary", str(path), "--area", "40 ac", "--yes"]) == 2
    assert 'found "40 ac", allowed none beside --boundary, whose outline has' in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


def test_a_boundary_is_no_mat_of_the_same_walk(tmp_path, capsys):
    pytest.importorskip("pyproj")
    point = '<wpt lat="48" lon="-123"><name>fruiting</name></wpt>'
    track = "<trk><name>{}</name><trkseg>{}</trkseg></trk>"
    sides = {"mat 50 %": 0.0003, "boundary": 0.001, "": 0.002}

    def walked(name: str) -> str:
        ends = ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))
        at = "".join(f'<trkpt lat="{48 + y * sides[name]}" lon="{-123 + x * sides[name]}"/>' for x, y in ends)
        return track.format(name, at)

    def new(folder: str, *names: str) -> tuple[int, str]:
        (tmp_path / "a.gpx").write_text("<gpx>" + point + "".join(map(walked, names)) + "</gpx>")
        code = cli.main(["new", str(tmp_path / folder), "--boundary", str(tmp_path / "a.gpx"), "--yes"])
        said = capsys.readouterr()
        return code, said.out + said.err

    # 111.2 m in 0.001 degrees of latitude, 74.6 m in longitude there: 0.829 ha, and four times that
    assert "an invented site of 0.829 ha" in new("a", "mat 50 %", "boundary", "")[1]
    assert "an invented site of 3.32 ha" in new("b", "mat 50 %", "")[1]
    code, said = new("c", "mat 50 %")
    assert code == 2 and "found only points, or tracks that are mats by their words" in said


def test_a_small_site_has_few_climbed_trees_if_nothing_is_said(tmp_path, capsys):
    assert cli.main(["new", str(tmp_path / "a"), "--area", "0.1 ha", "--yes"]) == 0
    assert "with 20 trees,\n4 climbed, 1 of these fruiting" in capsys.readouterr().out
