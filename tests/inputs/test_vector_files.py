"""Features read from GeoPackage and GeoJSON."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely

from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import crs_of, utm_zone
from spreadsim.inputs.vector_file import Features, read_features
from tests.inputs.making import UTM, geojson, gpkg, points

HOLED = shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(2, 2), (4, 2), (4, 4), (2, 4)]])


def take(path: Path, layer: str | None = None) -> tuple[Features | None, str]:
    check = Check(path.name)
    found = read_features(path, check, layer=layer)
    assert (found is None) == bool(check.problems.found)
    return found, "\n".join(map(str, check.problems.found))


def good(path: Path, layer: str | None = None) -> Features:
    found, said = take(path, layer)
    assert found is not None, said
    return found


def test_a_geopackage_comes_back_as_it_was_written(tmp_path: Path) -> None:
    fields = {
        "State": ["bare", None, "fruiting"],
        "height": [1.5, np.nan, 3.0],
        "number": [1, 2, 3],
        "known": [True, False, True],
    }
    shapes = [HOLED, None, shapely.MultiPolygon([shapely.box(20, 0, 21, 1), shapely.box(30, 0, 31, 1)])]
    found = good(gpkg(tmp_path / "a.gpkg", shapes, fields))
    assert len(found) == 3 and found.crs == crs_of(UTM, Check(""), "")
    assert shapely.equals_exact(found.geometries[0], HOLED) and found.geometries[1] is None
    assert found.geometries[2].area == 2
    assert found.field("state").tolist() == ["bare", None, "fruiting"]
    assert found.field("HEIGHT").tolist() == [1.5, None, 3.0] and found.field("number").tolist() == [1, 2, 3]
    assert found.field("known").tolist() == [True, False, True] and found.field("other") is None
    assert found.places == ('layer "data", feature 1', 'layer "data", feature 2', 'layer "data", feature 3')


def test_a_layer_has_to_be_chosen_where_there_are_several(tmp_path: Path) -> None:
    path = gpkg(tmp_path / "a.gpkg", points((1, 1)), layer="trees")
    gpkg(path, [HOLED], layer="mats")
    assert "found 2 layers, allowed the name of one of" in take(path)[1]
    assert good(path, "mats").geometries[0].area == 96
    assert 'layer: found "stems", allowed one of "trees", "mats"' in take(path, "stems")[1]


def test_what_is_no_reference_system_is_none(tmp_path: Path) -> None:
    with pytest.warns(UserWarning, match="crs"):
        path = gpkg(tmp_path / "a.gpkg", points((1, 1)), crs=None)
    assert good(path).crs is None


def test_geojson_is_in_degrees_and_heights_are_left_out(tmp_path: Path) -> None:
    path = geojson(
        tmp_path / "a.geojson", [shapely.Point(-123, 49, 80), None, HOLED], [{"a": [1]}, {"b": 2}, {"a": "x"}]
    )
    found = good(path)
    assert found.crs == crs_of("EPSG:4326", Check(""), "")
    assert not shapely.has_z(found.geometries).any() and found.geometries[1] is None
    assert found.field("a").tolist() == ["[1]", None, "x"] and found.field("b").tolist() == [None, 2, None]
    assert found.places[2] == "features[2]"


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "Point", "coordinates": [1, 2]}',
        '{"geometry": {"type": "Point", "coordinates": [1, 2]}, "type": "Feature"}',
    ],
)
def test_one_feature_or_a_bare_geometry_is_geojson_too(tmp_path: Path, text: str) -> None:
    (tmp_path / "a.json").write_text("\ufeff \n" + text, encoding="utf-8")
    assert good(tmp_path / "a.json").geometries[0] == shapely.Point(1, 2)


def test_the_member_crs_of_the_older_standard_counts(tmp_path: Path) -> None:
    named = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32610"}}
    assert good(geojson(tmp_path / "a.geojson", points((1, 1)), crs=named)).crs.to_epsg() == 32610
    wrong = geojson(tmp_path / "b.geojson", points((1, 1)), crs={"type": "name", "properties": {"name": "mine"}})
    assert 'crs: found "mine", allowed a coordinate reference system' in take(wrong)[1]


@pytest.mark.parametrize("indent", [None, 1])
def test_geojson_is_what_json_makes_of_it(tmp_path: Path, indent: int | None) -> None:
    rng = np.random.default_rng(3)
    features = [
        {
            "type": "Feature",
            "id": k,
            "properties": {"n": k, "s": 'a "quoted" ] } text'},
            "geometry": {"type": "Point", "coordinates": rng.random(2).tolist()},
        }
        for k in range(50)
    ]
    whole = {"name": "x", "features": features, "bbox": [0, 0, 1, 1], "type": "FeatureCollection"}
    (tmp_path / "a.geojson").write_text(json.dumps(whole, indent=indent))
    found = good(tmp_path / "a.geojson")
    assert shapely.get_coordinates(found.geometries).tolist() == [f["geometry"]["coordinates"] for f in features]
    assert found.field("n").tolist() == list(range(50))


COLLECTION = '{"type": "FeatureCollection", "features": [%s]}'
FEATURE = '{"type": "Feature", "properties": null, "geometry": %s}'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "found an empty file, allowed a GeoPackage"),
        ("[1, 2]", "found something else"),
        ("{", "line 1, column 2: found no JSON (Expecting value)"),
        ('{"type" "x"}', "line 1, column 9: found no JSON (Expecting ':')"),
        ('{"type": "x",}', "line 1, column 14: found no JSON (Expecting value)"),
        ('{"type": "Point"} x', "found no JSON (Extra data)"),
        ("{}", 'type: found nothing, allowed one of "FeatureCollection"'),
        ('{"type": "Topology"}', 'type: found "Topology"'),
        ('{"type": "FeatureCollection"}', "features: found nothing, allowed a list"),
        ('{"type": "FeatureCollection", "features": {}}', "features: found {}, allowed a list"),
        (COLLECTION % "3", "features[0]: found 3, allowed an object with type"),
        (COLLECTION % "\n\n3 4", "line 3, column 3: found no JSON (Expecting ',')"),
        (COLLECTION % (FEATURE % "7"), "features[0].geometry: found 7, allowed null, or an object with type"),
        (COLLECTION % (FEATURE % '{"type": "Point"}'), "features[0]: a geometry that cannot be read"),
        (
            COLLECTION % (FEATURE % '{"type": "Point", "coordinates": [1e999, 2]}'),
            "features[0]: a geometry that cannot",
        ),
        (
            COLLECTION % (FEATURE % '{"type": "Point", "coordinates": ["1", "2"]}'),
            "features[0]: a geometry that cannot",
        ),
        (
            COLLECTION % (FEATURE % '{"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [2, 0]]]}'),
            "features[0]: a geometry that cannot be read: IllegalArgumentException: Points of LinearRing do not form a closed",
        ),
        ('{"type": "Feature", "geometry": null, "properties": [1]}', "feature.properties: found [1]"),
        ('{"a": ' * 100_000, "nested too deeply"),
        ('{"type": "Point", "coordinates": ' + "[" * 100_000, "nested too deeply"),
        ('{"a": ' + "9" * 10_000 + "}", "no usable JSON"),
    ],
)
def test_faults_of_geojson(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "a.geojson").write_text(text)
    assert said in take(tmp_path / "a.geojson")[1]


def test_other_files_are_called_by_what_they_are(tmp_path: Path) -> None:
    (tmp_path / "a.gpkg").write_bytes(b"\x00\x00\x27\x0a" + bytes(96))
    assert (
        "found a shapefile, allowed a GeoPackage (.gpkg), GeoJSON (.geojson), GPX or KML file"
        in take(tmp_path / "a.gpkg")[1]
    )
    (tmp_path / "b.gpkg").write_bytes(b"SQLite format 3\0" + bytes(200))
    assert "cannot be read as a GeoPackage" in take(tmp_path / "b.gpkg")[1]
    (tmp_path / "c.geojson").write_bytes(b'{"a": "\xff"}')
    assert "found bytes that are not UTF-8 text" in take(tmp_path / "c.geojson")[1]
    assert "found no such file" in take(tmp_path / "none.gpkg")[1] and "found a folder" in take(tmp_path)[1]
    assert "found a layer" in take(geojson(tmp_path / "d.geojson", points((1, 1))), "x")[1]


def test_features_are_moved_as_proj_moves_them(tmp_path: Path) -> None:
    # The central meridian of zone 10 is 123 W; on the equator it is at (500000, 0), by definition.
    found = good(geojson(tmp_path / "a.geojson", [shapely.Point(-123, 0), None, shapely.Point(-123, 45)]))
    check = Check("")
    utm = crs_of(UTM, check, "")
    moved = found.moved_to(utm, check)
    assert shapely.get_coordinates(moved.geometries[:1])[0] == pytest.approx([500_000, 0], abs=1e-6)
    # Length of the meridian from the equator to 45 degrees on WGS 84: 4984944.378 m (Snyder 1987, from memory); k0 0.9996
    assert moved.geometries[2].y == pytest.approx(4984944.378 * 0.9996, abs=0.01) and moved.geometries[1] is None
    back = moved.moved_to(found.crs, check)
    assert back.geometries[2].y == pytest.approx(45, abs=1e-9)
    lost = good(geojson(tmp_path / "b.geojson", [shapely.Point(-123, 95)])).moved_to(utm, check)
    assert lost is None and "features[0]: found x -123 to -123, y 95 to 95" in str(check.problems.found[0])


@pytest.mark.parametrize(
    ("longitude", "latitude", "zone"),
    [
        (-180, 10, "EPSG:32601"),
        (-123.1, 49, "EPSG:32610"),
        (-120.0, 49, "EPSG:32611"),
        (151.2, -33.9, "EPSG:32756"),
        (180, 1, "EPSG:32660"),
    ],
)
def test_zones_of_utm(longitude: float, latitude: float, zone: str) -> None:
    assert utm_zone(longitude, latitude) == zone
    area = crs_of(zone, Check(""), "").area_of_use
    assert area.west <= longitude <= area.east and area.south <= latitude <= area.north
