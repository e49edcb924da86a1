"""Files for other programs, opened by GDAL (rasterio, pyogrio) and read as CSV: right place, right size, same numbers."""

import csv

import numpy as np
import pyogrio.raw
import pytest
import rasterio
import shapely
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, Experiment, InputError, Site, Strategy, Task
from spreadsim.cli import cli

UTM = "EPSG:32633"
ORIGIN = (500_000.0, 5_200_000.0)
CELL = 5.0


@pytest.fixture(scope="module")
def outcomes():
    """Six by four cells at a known place: mat in the north-west, two hosts, two units."""
    mat = np.zeros((4, 6))
    mat[0, :2] = 0.9
    units = np.where(np.arange(6) < 3, 1, 2) * np.ones((4, 1), int)
    hosts = {
        "x": [2.0, 27.5],
        "y": [18.0, 3.0],
        "state": ["fruiting", "bare"],
        "top_light": [1.0, 0.4],
        "kind": ["tree", "fence"],
    }
    site = Site.from_arrays(
        CELL, mat=mat, hosts=hosts, units=units, unit_names=("brook", "=hill"), crs=UTM, origin=ORIGIN
    )
    experiment = Experiment(
        "Export test",
        site,
        spreadsim.load_vine("wintercreeper"),
        (Crew("staff", 20.0),),
        (Strategy("no action"), Strategy("pull / it", tasks=[Task("pull")])),
        years=3,
        replicates=5,
        notice="Invented.",
    )
    return spreadsim.compare(experiment)


def test_a_map_lies_where_the_site_does(outcomes, tmp_path):
    path = spreadsim.export_map(outcomes, tmp_path / "map.tif", "mean_cover", strategy="no action", year=2)
    with rasterio.open(path) as file:
        assert file.crs.to_epsg() == 32633
        assert file.bounds == (ORIGIN[0], ORIGIN[1], ORIGIN[0] + 6 * CELL, ORIGIN[1] + 4 * CELL)
        assert file.shape == (4, 6)
        assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert file.tags()["strategy"] == "no action" and file.tags()["year"] == "2"
        wanted = outcomes["mean_cover"].sel(strategy="no action", year=2).to_numpy()
        np.testing.assert_array_equal(file.read(1), wanted)
        # the mapped corner is where it was mapped
        assert next(file.sample([(ORIGIN[0] + 1, ORIGIN[1] + 4 * CELL - 1)]))[0] == wanted[0, 0] > 0.8
    assert [found.name for found in tmp_path.iterdir()] == ["map.tif"]


def test_ground_holds_hosts_units_and_mat(outcomes, tmp_path):
    path = spreadsim.export_ground(outcomes, tmp_path / "ground.gpkg", strategy="no action", year=0, share=1.0)
    assert {str(name) for name in pyogrio.list_layers(path)[:, 0]} == {"hosts", "units", "mat"}
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="hosts")
    assert meta["crs"] == UTM
    points = shapely.get_coordinates(shapely.from_wkb(shapes))
    np.testing.assert_allclose(points, [[ORIGIN[0] + 2.0, ORIGIN[1] + 18.0], [ORIGIN[0] + 27.5, ORIGIN[1] + 3.0]])
    columns = dict(zip(meta["fields"], fields, strict=True))
    assert list(columns["state"]) == ["fruiting", "bare"] and list(columns["kind"]) == ["tree", "fence"]
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="units")
    areas = dict(
        zip(dict(zip(meta["fields"], fields, strict=True))["name"], shapely.area(shapely.from_wkb(shapes)), strict=True)
    )
    assert areas == {"brook": 12 * CELL**2, "=hill": 12 * CELL**2}
    _, _, shapes, _ = pyogrio.raw.read(path, layer="mat")
    assert shapely.area(shapely.from_wkb(shapes)).sum() == 2 * CELL**2
    assert tuple(shapely.total_bounds(shapely.from_wkb(shapes))) == (
        ORIGIN[0], ORIGIN[1] + 3 * CELL, ORIGIN[0] + 2 * CELL, ORIGIN[1] + 4 * CELL,
    )  # fmt: skip


def read(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_tables_hold_the_datasets_numbers(outcomes, tmp_path):
    rows = read(spreadsim.export_table(outcomes, tmp_path / "a.csv", "by-replicate"))
    assert len(rows) == 2 * 5 * 4
    row = next(row for row in rows if (row["strategy"], row["replicate"], row["year"]) == ("pull / it", "3", "2"))
    wanted = outcomes.sel(strategy="pull / it", replicate=3, year=2)
    assert float(row["infested_area (m2)"]) == float(wanted["infested_area"])
    assert float(row["hours (h)"]) == pytest.approx(float(wanted["hours"].sum()), rel=1e-12)
    rows = read(spreadsim.export_table(outcomes, tmp_path / "b.csv", "by-year"))
    row = next(r for r in rows if (r["outcome"], r["strategy"], r["year"]) == ("mat_area", "no action", "3"))
    values = outcomes["mat_area"].sel(strategy="no action", year=3).to_numpy()
    assert float(row["mean"]) == pytest.approx(values.mean(), rel=1e-12)
    assert float(row["low"]) <= values.mean() <= float(row["high"])
    rows = read(spreadsim.export_table(outcomes, tmp_path / "c.csv", "work"))
    total = sum(float(row["hours (h)"]) for row in rows if row["strategy"] == "pull / it")
    assert total == pytest.approx(float(outcomes["hours"].sel(strategy="pull / it").mean("replicate").sum()), rel=1e-12)
    rows = read(spreadsim.export_table(outcomes, tmp_path / "d.csv", "parameters"))
    speed = [float(row["mat.front_speed (m/yr)"]) for row in rows]
    np.testing.assert_array_equal(speed, outcomes["mat.front_speed"].to_numpy())


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda d, p: spreadsim.export_map(d, p, "covr", strategy="no action"), 'found "covr", allowed'),
        (lambda d, p: spreadsim.export_map(d, p, strategy="nothing"), 'strategy: found "nothing"'),
        (lambda d, p: spreadsim.export_map(d, p, strategy="no action", year=9), "year: found 9, allowed 0 to 3"),
        (lambda d, p: spreadsim.export_ground(d, p, strategy="no action", share=0.0), "share: found 0.0"),
        (lambda d, p: spreadsim.export_table(d, p, "all"), 'table: found "all", allowed'),
    ],
)
def test_what_is_not_there_is_named(outcomes, tmp_path, call, told):
    with pytest.raises(InputError, match=told.replace("(", r"\(")):
        call(outcomes, tmp_path / "x")
    assert not list(tmp_path.iterdir())


def test_a_year_without_maps_is_named(outcomes, tmp_path):
    maps = outcomes["occupancy"].where(outcomes["year"] != 2)
    with pytest.raises(InputError, match=r"year: found 2, whose maps were not kept, allowed 0, 1, 3"):
        spreadsim.export_map(outcomes.assign(occupancy=maps), tmp_path / "x.tif", strategy="no action", year=2)


def test_without_the_libraries_it_says_what_to_install(outcomes, tmp_path, monkeypatch):
    monkeypatch.setattr("spreadsim.exports.needs.find_spec", lambda name: None)
    with pytest.raises(InputError, match=r"pip install \"spreadsim\[gis\]\""):
        spreadsim.export_map(outcomes, tmp_path / "x.tif", strategy="no action")


def test_the_command_writes_everything(outcomes, tmp_path):
    from spreadsim.store import write

    (tmp_path / "r").mkdir()
    write(outcomes, tmp_path / "r" / "outcomes.nc")
    done = CliRunner().invoke(cli, ["export", str(tmp_path / "r")])
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "r" / "export").iterdir()}
    assert {"by-year.csv", "work.csv", "occupancy-strategy-1-year-3.tif", "ground-strategy-0-year-0.gpkg"} <= names
    assert len(names) == 4 + 2 * 2 * 2 + 2 * 2
    assert "strategy-1: pull / it" in done.output
