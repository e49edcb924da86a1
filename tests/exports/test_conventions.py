"""Outcomes, a sweep, a film and a Zarr store as catalogues and readers of CF want them: nothing wrong, nothing invented."""

import functools
import json

import h5py
import numpy as np
import pyproj
import pytest
import xarray as xr

import spreadsim
from spreadsim import Crew, Experiment, Factor, Site, Strategy, Task
from spreadsim.netcdf import NetCDFFile
from spreadsim.schema import VARIABLES
from spreadsim.store import dump, to_disk, write

UTM, ORIGIN, CELL = "EPSG:32633", (500_000.0, 5_200_000.0), 5.0
EPOCH = "1767225600"  # 2026-01-01, by the Unix clock


def experiment(crs=UTM, origin=ORIGIN):
    """Give four by six cells with two hosts, a source outside, and two strategies."""
    hosts = {"x": [2.0, 27.5], "y": [18.0, 3.0], "state": ["fruiting", "bare"]}
    site = Site.from_arrays(
        CELL,
        mat=[[0.9] * 2 + [0.0] * 4] + [[0.0] * 6] * 3,
        hosts=hosts,
        sources={"x": [-10.0], "y": [3.0], "hosts": [2.0]},
        crs=crs,
        origin=origin,
    )
    strategies = (Strategy("no action"), Strategy("pull", tasks=[Task("pull")]))
    vine, crews = spreadsim.load_vine("wintercreeper"), (Crew("staff", 20.0),)
    return Experiment("An invented wood", site, vine, crews, strategies, years=3, replicates=3, notice="Invented.")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Outcomes, sweep and film in files, and the outcomes as a store, by name."""
    folder = tmp_path_factory.mktemp("made")
    outcomes = spreadsim.compare(experiment())
    factor = Factor("years", values=[2, 3])
    sweep = spreadsim.sweep(experiment(), spreadsim.grid([factor]), outcomes=["mat_area", "hours", "cost"])
    paths = {"outcomes": write(outcomes, folder / "outcomes.nc"), "sweep": write(sweep, folder / "sweep.nc")}
    paths["film"] = write(spreadsim.film(experiment(), replicates=2), folder / "film.nc")
    paths["store"] = spreadsim.export_zarr(outcomes, folder / "outcomes.zarr")
    return paths


def said_of(path):
    """Attributes as any program finds them, without undoing what the disk has besides: the file's, and by variable."""
    if path.is_dir():
        held = {about.parent.name: json.loads(about.read_text())["attributes"] for about in path.glob("*/zarr.json")}
        return json.loads((path / "zarr.json").read_text())["attributes"], held
    with h5py.File(path) as file:
        return dict(file.attrs), {name: dict(variable.attrs) for name, variable in file.items()}


def test_a_file_says_what_where_and_how_long(made):
    said, _ = said_of(made["outcomes"])
    assert said["Conventions"] == "CF-1.11, ACDD-1.3" and said["product_version"] == spreadsim.__version__
    words = "24 cells of 5 m over 3 years, in 3 replicate worlds"
    assert "Wintercreeper" in said["summary"] and words in said["summary"] and "wintercreeper" in said["keywords"]
    assert said["time_coverage_duration"] == "P3Y" and said["time_coverage_resolution"] == "P1Y"
    corners = [(0, 0), (30, 0), (30, 20), (0, 20), (0, 0)]
    turn = pyproj.Transformer.from_crs(UTM, "EPSG:4326")  # east and north, into latitude and longitude
    places = [turn.transform(ORIGIN[0] + x, ORIGIN[1] + y) for x, y in corners]
    pairs = said["geospatial_bounds"].removeprefix("POLYGON ((").removesuffix("))").split(", ")
    for pair, place in zip(pairs, places, strict=True):
        assert [float(part) for part in pair.split()] == pytest.approx(place, abs=1e-7)
    assert said["geospatial_bounds_crs"] == "EPSG:4326"
    for k, axis in enumerate(("lat", "lon")):
        along = [place[k] for place in places]
        assert said[f"geospatial_{axis}_min"] == pytest.approx(min(along), abs=2e-7)
        assert said[f"geospatial_{axis}_max"] == pytest.approx(max(along), abs=2e-7)


def test_a_store_says_the_same_and_a_film_its_seasons(made):
    (file, variables), (store, arrays) = said_of(made["outcomes"]), said_of(made["store"])
    file.pop("_NCProperties")  # which library wrote it
    assert set(file) == set(store) and all(np.all(file[name] == value) for name, value in store.items())
    kind = "coverage_content_type"
    assert {name for name, about in arrays.items() if kind not in about} == {"crs"}
    assert all(variables[name][kind] == about[kind] for name, about in arrays.items() if name != "crs")
    kinds = {name: variables[name][kind] for name in ("mat_area", "x", "input_mat", "parameter_mat_front_speed")}
    beside = "auxiliaryInformation"
    assert list(kinds.values()) == ["modelResult", "coordinate", beside, beside]
    film, _ = said_of(made["film"])
    assert film["time_coverage_resolution"] == "P3M" and "season by season" in film["summary"]


def test_nothing_is_invented(made):
    unknown = ("creator", "publisher", "contributor", "license", "project", "program", "acknowledg", "naming_authority")
    said, _ = said_of(made["outcomes"])
    assert not [name for name in said if name.startswith((*unknown, "time_coverage_start", "time_coverage_end"))]


@pytest.mark.parametrize("crs", [None, "a sketch on paper"])
def test_without_a_known_system_no_place_is_claimed(crs):
    coords = {"y": ("y", [7.5, 2.5]), "x": ("x", [2.5, 7.5])}
    said = to_disk(xr.Dataset(coords=coords, attrs={} if crs is None else {"crs": crs})).attrs
    assert not [name for name in said if name.startswith("geospatial")]


def test_without_pyproj_no_place_is_claimed(monkeypatch):
    coords = {"y": ("y", [7.5, 2.5]), "x": ("x", [2.5, 7.5])}
    dataset = xr.Dataset(coords=coords, attrs={"crs": UTM})
    assert "geospatial_lat_min" in to_disk(dataset).attrs
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert "geospatial_lat_min" not in to_disk(dataset).attrs


def test_across_the_180th_meridian_the_west_end_is_the_larger_number():
    # zone 1 begins at 180 degrees; its central meridian, 177 W, is at 500 km
    x = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32601", always_xy=True).transform(180.0, -17.0)[0]
    coords = {"y": ("y", [8_118_500.0, 8_117_500.0]), "x": ("x", [x - 500.0, x + 500.0])}
    said = to_disk(xr.Dataset(coords=coords, attrs={"crs": "EPSG:32701"})).attrs
    assert said["geospatial_lon_min"] > 179.9 and said["geospatial_lon_max"] < -179.9


def test_the_day_is_one_for_the_whole_file_and_can_be_given(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)
    dataset = xr.Dataset(attrs={"title": "t"})
    path = write(dataset, tmp_path / "a.nc")
    assert "date_created" not in dataset.attrs and spreadsim.open_outcomes(path).attrs["date_created"] == "2026-01-01"
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    again = write(spreadsim.open_outcomes(path), tmp_path / "b.nc")  # the same outcomes, another copy
    assert again.read_bytes() == path.read_bytes()


# Helpers of the checker that give the same answer for a file however often they are asked: once for each of its
# variables, so that without a memory a file of 150 variables takes half a minute.
ASKED = (
    "get_auxiliary_coordinate_variables",
    "get_axis_map",
    "get_axis_variables",
    "get_bounds_variables",
    "get_cell_boundary_variables",
    "get_climatology_variable",
    "get_coordinate_variables",
    "get_forecast_metadata_variables",
    "get_geophysical_variables",
    "get_instrument_variables",
    "get_platform_variables",
    "get_time_variable",
    "get_time_variables",
    "get_z_variables",
)
HIGH = 3


def as_pair(value):
    """Points scored, and points to be had."""
    return value if isinstance(value, tuple) else (bool(value), True)


@pytest.fixture
def findings(monkeypatch):
    """What the checker says of a file: rank, and words, by check; offline, with the table of names that it brings."""
    suite = pytest.importorskip("compliance_checker.runner", reason="the checker is in the extra dev").CheckSuite
    from compliance_checker.cf import util
    from compliance_checker.cf.cf_base import CFBaseCheck

    for name in ASKED:
        monkeypatch.setattr(util, name, functools.lru_cache(maxsize=None)(getattr(util, name)))
    monkeypatch.setattr(CFBaseCheck, "_find_cf_standard_name_table", lambda self, dataset: False)
    suite.load_all_available_checkers()

    def ask(path, rules):
        checks = suite()
        dataset = checks.load_dataset(str(path))
        try:
            groups, failed = checks.run_all(dataset, [rules])[rules]
        finally:
            dataset.close()
        assert not failed and len(groups) > 5
        short = [group for group in groups if len({*as_pair(group.value)}) > 1]
        return [(group.weight, group.name, word) for group in short for word in group.msgs]

    return ask


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["outcomes", "sweep", "film", "store"])
def test_the_checker_of_cf_finds_nothing(made, findings, tmp_path, name):
    path = made[name]
    if path.is_dir():  # the checker reads NetCDF; what a store holds is put into a file as it is
        store = xr.open_dataset(path, engine="zarr", consolidated=False, decode_cf=False)
        for variable in store.variables.values():
            if "flag_values" in variable.attrs:  # in JSON whole numbers have no type
                variable.attrs["flag_values"] = np.array(variable.attrs["flag_values"], variable.dtype)
        path = tmp_path / "store.nc"
        with store, NetCDFFile(path, "w") as file:
            dump(store.drop_encoding(), file)
    assert findings(path, "cf:1.11") == []


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["outcomes", "sweep", "film"])
def test_the_checker_of_acdd_finds_nothing_of_high_rank_but_names_that_cf_lacks(made, findings, name):
    told = [(where, word) for rank, where, word in findings(made[name], "acdd:1.3") if rank == HIGH]
    assert {word for _, word in told} == {"standard_name"}
    named = {variable for variable, about in VARIABLES.items() if about.standard_name}
    assert named and not [where for where, _ in told if where.split('"')[1] in named]


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_the_checker_finds_what_is_wrong(findings, tmp_path):
    wrong = xr.Dataset({"a": ("x", [1.0, 2.0], {"units": "furlongs per fortnight x", "standard_name": "mat"})})
    wrong.to_netcdf(tmp_path / "wrong.nc", engine="h5netcdf")
    words = " ".join(word for _, _, word in findings(tmp_path / "wrong.nc", "cf:1.11"))
    assert "furlongs" in words and "standard_name" in words and "Conventions" in words
    assert [word for rank, _, word in findings(tmp_path / "wrong.nc", "acdd:1.3") if rank == HIGH and "summary" in word]
