"""Sites read from files: what is read, in which units, and how faults are named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim.inputs import InputError, read_site

Edit = Callable[[str, str, str], Path]


def problems(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_site(path)
    return str(caught.value).replace(f"{path.parent}/", "")


def ground(path: Path, *, flip_y: bool = False, coords: bool = True, **changes: Any) -> None:
    """Write layers: 3 rows by 4 columns of 2 m; the north-west cell has canopy 0.9."""
    canopy = np.zeros((3, 4))
    canopy[0, 0] = 0.9
    unit = np.array([[1, 1, 2, 2]] * 3, dtype=np.int16)
    data: dict[str, Any] = {"canopy": (("y", "x"), canopy), "unit": (("y", "x"), unit), **changes}
    places = {"y": [105.0, 103.0, 101.0], "x": [11.0, 13.0, 15.0, 17.0]} if coords else {}
    dataset = xr.Dataset(data, coords=places)
    if flip_y:
        dataset = dataset.isel(y=slice(None, None, -1))
    dataset.to_netcdf(path, engine="h5netcdf")


def test_everything_is_read(folder: Path) -> None:
    site = read_site(folder / "site.toml")
    assert (site.ny, site.nx, site.cell_size) == (10, 20, 2.0)
    assert site.title == "An invented wood" and site.notice == "Invented."
    assert (site.canopy == 0.5).all() and site.background_seed == 10 and site.unit_names == ("north",)
    hosts = site.hosts
    assert hosts.x.tolist() == [1, 3.5, 39.9] and hosts.y.tolist() == [1, 19, 0]
    assert hosts.cell.tolist() == [180, 1, 199]
    assert hosts.state.tolist() == [0, 2, 1] and hosts.kind == ("tree", "tree", "fence")
    assert hosts.top_light.tolist() == [0.75, 0.8, 0.75] and hosts.height.tolist() == [18, 18, 1.5]
    assert hosts.known.tolist() == [True, True, False]
    assert np.array_equal(hosts.years_climbing, [np.nan, 12, np.nan], equal_nan=True)
    assert site.mat.sum() * 4 == pytest.approx(np.pi * 9 * 0.9, rel=0.02)
    assert (site.sources.x[0], site.sources.y[0], site.sources.hosts[0]) == (-20, 5, 2)


def test_feet_and_acres_are_the_same_site(folder: Path, tmp_path: Path) -> None:
    metric = read_site(folder / "site.toml")
    foot, acre = 0.3048, 4046.8564224

    def feet(line: str, lengths: list[int]) -> str:
        fields = line.split(",")
        return ",".join(repr(float(f) / foot) if k in lengths and f else f for k, f in enumerate(fields))

    for name, lengths in (("hosts.csv", [0, 1]), ("mats.csv", [0, 1, 2]), ("sources.csv", [0, 1])):
        head, *lines = (folder / name).read_text().splitlines()
        (folder / name).write_text("\n".join([head, *(feet(line, lengths) for line in lines)]))
    text = (folder / "site.toml").read_text()
    for key, value in (("cell_size", 2), ("width", 40), ("height", 20)):
        text = text.replace(f"{key} = {value}", f"{key} = {value / foot!r}")
    text = text.replace("background_seed = 10", f"background_seed = {10 * acre / 1e4!r}")
    (folder / "site.toml").write_text(text + 'units = "us"\n')
    us = read_site(folder / "site.toml")
    assert us.cell_size == pytest.approx(2, rel=1e-12) and (us.ny, us.nx) == (metric.ny, metric.nx)
    assert us.hosts.x == pytest.approx(metric.hosts.x, rel=1e-12)
    assert us.hosts.height.tolist() == metric.hosts.height.tolist()
    assert us.mat == pytest.approx(metric.mat, abs=0.01)
    assert us.sources.x == pytest.approx(metric.sources.x)
    assert us.background_seed == pytest.approx(10, rel=1e-12)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("cell_size = 2\n", "cell_size = 200\n", "site.toml: cell_size: found 200.0, allowed 0.1 to 100 m"),
        ("cell_size = 2\n", 'cell_size = "2"\n', 'site.toml: cell_size: found "2", allowed a finite number'),
        ("width = 40\n", "", "site.toml: width: found nothing"),
        ("width = 40\n", "width = -40\n", "site.toml: width: found -40.0"),
        (
            "width = 40\n",
            "width = 41\n",
            "site.toml: width: found 41.0, allowed a whole number of cells of 2 m",
        ),
        ("width = 40\n", "width = 1e300\n", "site.toml: width: found 1e+300"),
        ("width = 40\n", "width = 40000\nheight = 400000\n", "not valid TOML"),
        ("height = 20\n", "height = inf\n", "site.toml: height: found inf"),
        ("canopy = 0.5", "canopy = 1.5", "site.toml: canopy: found 1.5, allowed 0 to 1"),
        (
            "canopy = 0.5",
            'canopy = "dense"',
            'site.toml: canopy: found "dense", allowed 0 to 1, "from hosts", or a GeoTIFF',
        ),
        ("canopy = 0.5", 'canopy = "from hosts"', "site.toml: crown_radius: found nothing"),
        ("canopy = 0.5", "crown_radius = 3", "site.toml: crown_radius: found 3.0, allowed none, unless"),
        ("background_seed = 10", "background_seed = -10", "site.toml: background_seed: found -10.0"),
        ("background_seed = 10", "background_seeds = 10", '(perhaps "background_seed" was meant)'),
        ('["north"]', '["north", "north"]', "site.toml: unit_names[1]: found"),
        ('["north"]', "[3]", "site.toml: unit_names[0]: found 3, allowed a text"),
        ("cell_size = 2\n", 'units = "imperial"\n', 'site.toml: units: found "imperial"'),
        ('"hosts.csv"', '"../hosts.csv"', 'site.toml: hosts: found "../hosts.csv", allowed a path relative'),
        ('"hosts.csv"', '"/etc/passwd"', 'site.toml: hosts: found "/etc/passwd"'),
        ('"hosts.csv"', "'C:\\hosts.csv'", "site.toml: hosts: found"),
        ('"hosts.csv"', "'..\\hosts.csv'", "site.toml: hosts: found"),
        ('"hosts.csv"', '"none.csv"', "none.csv: found no such file"),
        ('"hosts.csv"', '"."', "found a folder"),
        ('"mats.csv"', "3", "site.toml: mats: found 3, allowed a text"),
        ("canopy = 0.5", "origin = [1, 2, 3]", "site.toml: origin: found [1.0, 2.0, 3.0]"),
        ("cell_size = 2\n", "cell_size = \n", "not valid TOML: Invalid value (at line 4, column 13)"),
    ],
)
def test_faults_of_a_site_file(edit: Edit, folder: Path, old: str, new: str, said: str) -> None:
    edit("site.toml", old, new)
    assert said in problems(folder / "site.toml")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("hosts.csv", "", "hosts.csv: found an empty file"),
        ("hosts.csv", "x\n1\n", 'hosts.csv: line 1: found no column "y"'),
        ("hosts.csv", "x,y,z\n1,2,3\n", 'hosts.csv: line 1: found column "z"'),
        ("hosts.csv", "x,y,x\n1,2,3\n", 'hosts.csv: line 1: found column "x" twice'),
        ("hosts.csv", "x,y\n1,2\n1\n", "hosts.csv: line 3: found 1 fields, allowed 2"),
        ("hosts.csv", "x,y\n1,two\n", 'hosts.csv: line 2, y: found "two", allowed a finite number'),
        ("hosts.csv", "x,y\n1,nan\n", 'hosts.csv: line 2, y: found "nan"'),
        ("hosts.csv", "x,y\n1,1_0\n", 'hosts.csv: line 2, y: found "1_0"'),
        ("hosts.csv", "x,y\n1,\n", "hosts.csv: line 2, y: found nothing"),
        ("hosts.csv", "x,y\n\n\n1,1\n1,99\n", "hosts.csv: line 5, y: found 99.0, allowed 0 to 20"),
        ("hosts.csv", "x,y,state\n1,1,dead\n", 'hosts.csv: line 2, state: found "dead"'),
        ("hosts.csv", "x,y,known\n1,1,perhaps\n", 'hosts.csv: line 2, known: found "perhaps"'),
        ("hosts.csv", 'x,y\n1,"2\n', "hosts.csv: line 2: not valid CSV"),
        ("hosts.csv", "x,y\n1,\x00\n", "hosts.csv: line"),
        ("hosts.csv", "x,y\n1," + "9" * 200_000 + "\n", "hosts.csv: line 2: not valid CSV"),
        (
            "mats.csv",
            "x,y,radius,cover\n1,1,0,0.5\n",
            "mats.csv: line 2, radius: found 0.0, allowed more than 0",
        ),
        ("mats.csv", "x,y,radius,cover\n1,1,3,50\n", "mats.csv: line 2, cover: found 50.0, allowed 0 to 1"),
        ("mats.csv", "x,y,radius,cover\n1,99,3,0.5\n", "mats.csv: line 2, y: found 99.0, allowed 0 to 20"),
        ("mats.csv", "x,y,radius\n1,1,3\n", 'mats.csv: line 1: found no column "cover"'),
        ("sources.csv", "x,y,hosts\n1,1,-2\n", "sources.csv: line 2, hosts: found -2.0"),
    ],
)
def test_faults_of_csv_files(folder: Path, name: str, text: str, said: str) -> None:
    (folder / name).write_text(text, encoding="utf-8")
    assert said in problems(folder / "site.toml")


def test_faults_of_several_files_are_said_together(folder: Path, edit: Edit) -> None:
    (folder / "hosts.csv").write_text("x,y\n1,99\n")
    (folder / "mats.csv").write_text("x,y,radius,cover\n1,1,3,50\n")
    edit("site.toml", "canopy = 0.5", "canopy = 1.5")
    said = problems(folder / "site.toml")
    assert len(said.splitlines()) == 3


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_spreadsheets_of_all_lands(folder: Path, mark: str) -> None:
    text = (folder / "hosts.csv").read_text().replace(",", mark).replace("\n", "\r\n").replace("x", " X ")
    (folder / "hosts.csv").write_bytes(b"\xef\xbb\xbf" + text.replace(" X ", "X").encode())
    assert read_site(folder / "site.toml").hosts.x.tolist() == [1, 3.5, 39.9]


def test_canopy_from_hosts(folder: Path, edit: Edit) -> None:
    edit("site.toml", "canopy = 0.5", 'canopy = "from hosts"\ncrown_radius = 2\ncanopy_window = 2')
    site = read_site(folder / "site.toml")
    share = 1 - np.exp(-np.pi * 4 / 4)
    assert np.flatnonzero(site.canopy).tolist() == [1, 180]  # the two trees, not the fence
    assert site.canopy.ravel()[[1, 180]] == pytest.approx(share, rel=1e-12)
    assert site.hosts.top_light[0] == pytest.approx(1 - share / 2)


LAYERED = 'layers = "ground.nc"\nhosts = "own.csv"\n'


@pytest.fixture
def layered(folder: Path) -> Callable[..., Path]:
    """Write a site of layers, with a host in the north-west cell."""

    def write(toml: str = LAYERED, **layers: Any) -> Path:
        ground(folder / "ground.nc", **layers)
        (folder / "own.csv").write_text("x,y\n0.5,5.5\n")
        (folder / "layered.toml").write_text(toml)
        return folder / "layered.toml"

    return write


@pytest.mark.parametrize("flip_y", [False, True])
def test_layers_are_turned_north_up(layered: Callable[..., Path], flip_y: bool) -> None:
    site = read_site(layered(flip_y=flip_y))
    assert (site.ny, site.nx, site.cell_size, site.origin) == (3, 4, 2.0, (10.0, 100.0))
    assert site.canopy[0, 0] == 0.9 and site.canopy.sum() == pytest.approx(0.9)
    assert site.unit[0].tolist() == [1, 1, 2, 2] and site.unit_names == ("unit 1", "unit 2")
    assert site.hosts.top_light[0] == pytest.approx(0.55)


BEYOND = np.zeros((3, 4), dtype=np.int8)
BEYOND[0, 1] = BEYOND[2, 3] = 1


@pytest.mark.parametrize("flip_y", [False, True])
def test_mat_beyond_the_boundary_may_be_a_layer(layered: Callable[..., Path], flip_y: bool) -> None:
    layers = {"boundary_mat": (("y", "x"), BEYOND)}
    site = read_site(layered(flip_y=flip_y, **layers))
    assert np.argwhere(site.boundary_mat).tolist() == [[0, 1], [2, 3]]
    # what the table names is added
    both = read_site(layered(LAYERED + 'boundary_mat = [{side = "west", from = 2, to = 4}]\n', flip_y=flip_y, **layers))
    assert np.argwhere(both.boundary_mat).tolist() == [[0, 1], [1, 0], [2, 3]]
    assert not read_site(layered()).boundary_mat.any()
    alone = layered('layers = "ground.nc"\n', canopy=(("y", "x"), np.zeros((3, 4))), **layers)
    assert read_site(alone).boundary_mat.sum() == 2


def test_layers_without_coordinates_need_a_cell_size(layered: Callable[..., Path]) -> None:
    assert "cell_size: found nothing" in problems(layered(coords=False))
    site = read_site(layered(LAYERED + "cell_size = 3\n", coords=False))
    assert (site.cell_size, site.origin) == (3.0, (0.0, 0.0)) and site.canopy[0, 0] == 0.9


def test_a_crs_is_found_the_cf_way(layered: Callable[..., Path]) -> None:
    crs = ((), np.int32(0), {"crs_wkt": "PROJCS[...]"})
    assert read_site(layered(crs=crs)).crs == "PROJCS[...]"
    assert read_site(layered(LAYERED + 'crs = "EPSG:26910"\n', crs=crs)).crs == "EPSG:26910"


def test_packed_layers_are_unpacked(folder: Path, layered: Callable[..., Path]) -> None:
    path = layered()
    dataset = xr.open_dataset(folder / "ground.nc", engine="h5netcdf").load()
    dataset.close()
    code = {"canopy": {"dtype": "uint8", "scale_factor": 0.01, "add_offset": 0.0, "_FillValue": 255}}
    dataset.to_netcdf(folder / "packed.nc", engine="h5netcdf", encoding=code)
    path.write_text(LAYERED.replace("ground", "packed"))
    assert read_site(path).canopy[0, 0] == pytest.approx(0.9)


PLANTABLE = np.ones((3, 4))
PLANTABLE[1, 2] = 0
MAT = np.zeros((3, 4))
MAT[1, 2] = 0.4


@pytest.mark.parametrize(
    ("toml", "layers", "said"),
    [
        (
            LAYERED,
            {"plantable": (("y", "x"), PLANTABLE), "mat": (("y", "x"), MAT)},
            "ground.nc: mat[1, 2]: found 0.4, allowed 0",
        ),
        (LAYERED, {"mat": (("y", "x"), MAT * 4)}, "ground.nc: mat[1, 2]: found 1.6, allowed 0 to 1"),
        (LAYERED, {"mat": (("y", "x"), MAT * np.nan)}, "ground.nc: mat[0, 0]: found nan"),
        (LAYERED, {"unit": (("y", "x"), MAT)}, "ground.nc: unit[1, 2]: found 0.4, allowed whole numbers"),
        (LAYERED, {"mat": (("x",), MAT[0])}, "ground.nc: mat: found dimensions ('x',)"),
        (
            LAYERED + 'boundary_mat = [{side = "north"}]\n',
            {"boundary_mat": (("y", "x"), MAT)},
            "ground.nc: boundary_mat[1, 2]: found 0.4, allowed whole numbers",
        ),
        (
            LAYERED,
            {"boundary_mat": (("y", "x"), 1.0 * (MAT > 0))},
            "ground.nc: boundary_mat[1, 2]: found 1.0, allowed 0: only",
        ),
        (LAYERED, {"boundary_mat": (("y", "x"), BEYOND * np.nan)}, "ground.nc: boundary_mat[0, 0]: found nan"),
        (
            LAYERED + "width = 4\n",
            {},
            "layered.toml: width: found 4.0, allowed none, since the layers give it",
        ),
        (LAYERED + "cell_size = 3\n", {}, "layered.toml: cell_size: found 3.0, allowed 2 m"),
        (LAYERED + "canopy = 0.4\n", {}, "layered.toml: canopy: found 0.4, allowed none, since the layers"),
        (LAYERED + 'unit_names = ["a"]\n', {}, "layered.toml: unit_names: found 1 names, allowed at least 2"),
        (LAYERED.replace("ground", "none"), {}, "none.nc: found no such file"),
        (LAYERED.replace("ground.nc", "own.csv"), {}, "own.csv: cannot be read as a NetCDF-4 file"),
    ],
)
def test_faults_of_layers(layered: Callable[..., Path], toml: str, layers: dict[str, Any], said: str) -> None:
    assert said in problems(layered(toml, **layers))


def test_layers_must_be_square_and_even(folder: Path, layered: Callable[..., Path]) -> None:
    path = layered()
    for places, said in (
        ({"y": [9.0, 6.0, 3.0], "x": [0.0, 2.0, 4.0, 6.0]}, "y: found 3.0, allowed square cells"),
        ({"y": [9.0, 7.0, 4.0], "x": [0.0, 2.0, 4.0, 6.0]}, "y: found steps from"),
        ({"y": [np.nan, 7.0, 5.0], "x": [0.0, 2.0, 4.0, 6.0]}, "y: found [nan"),
    ):
        xr.Dataset({"canopy": (("y", "x"), np.zeros((3, 4)))}, coords=places).to_netcdf(
            folder / "ground.nc", engine="h5netcdf"
        )
        assert f"ground.nc: {said}" in problems(path)
    xr.Dataset({"other": (("y", "x"), np.zeros((3, 4)))}).to_netcdf(folder / "ground.nc", engine="h5netcdf")
    assert "ground.nc: found variables ['other']" in problems(path)


def test_a_disc_stops_at_a_barrier_and_may_not_start_on_one(folder: Path, layered: Callable[..., Path]) -> None:
    path = layered(LAYERED + 'mats = "m.csv"\n', plantable=(("y", "x"), PLANTABLE))
    (folder / "m.csv").write_text("x,y,radius,cover\n3,3,2.5,1\n")
    site = read_site(path)
    assert site.mat[1, 2] == 0 and site.mat[1, 1] == 1 and site.mat[2, 2] > 0
    (folder / "m.csv").write_text("x,y,radius,cover\n5,3,2.5,1\n")
    assert "m.csv: line 2: found a mat on a barrier" in problems(path)


def test_mapped_and_layered_mat_add_up_to_the_higher(folder: Path, layered: Callable[..., Path]) -> None:
    path = layered(LAYERED + 'mats = "m.csv"\n', mat=(("y", "x"), np.full((3, 4), 0.5)))
    (folder / "m.csv").write_text("x,y,radius,cover\n3,3,2,0.9\n")
    site = read_site(path)
    assert site.mat.min() == 0.5 and 0.7 < site.mat[1, 1] <= 0.9 and site.mat[1, 3] == 0.5
