"""The file of a learned state: read back exactly, told from another site's, and never a traceback where it is damaged."""

import dataclasses
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import spreadsim
from spreadsim.inputs import (
    Crew,
    Experiment,
    FollowUp,
    InputError,
    Site,
    Start,
    Strategy,
    Task,
    embed,
    load_vine,
    read_experiment,
    read_start,
    site_hash,
    unembed,
    write_start,
)
from tests.model.strategies import few


def site(**changes: Any) -> Site:
    """Twelve by ten cells with three hosts."""
    given = {"mat": np.full((10, 12), 0.2), "hosts": {"x": [3.0, 4.0, 9.0], "y": [3.0, 4.0, 9.0]}}
    return Site.from_arrays(2.0, **(given | changes))


def start(**changes: Any) -> Start:
    """A start that uses everything."""
    values: dict[str, Any] = {
        "years": 2,
        "seed": 7,
        "numbers": [4, 9, 4],
        "values": {"mat.front_speed": [0.5, 0.6, 0.7], "pull.mat_kill": [0.6, 0.7, 0.8]},
        "strategy": Strategy("done, really", tasks=[Task("pull", name="étang", follow_up=FollowUp(2, 2))]),
        "crews": (Crew("staff", {"winter": 12.5}, price=30.0),),
        "site": site_hash(site()),
        "cell_world": [0, 0, 2],
        "cell": [5, 3, 3],
        "cell_cover": [0.0, 0.25, 1.0],
        "cell_known": [False, True, False],
        "host_world": [1],
        "host": [2],
        "host_state": [2],
        "host_known": [True],
        "surveyed": "2026-10-03",
        "notice": "Invented.",
    }
    return Start(**(values | changes))


def experiment(**changes: Any) -> Experiment:
    """An experiment that begins from it."""
    strategies = (Strategy("pull", tasks=[Task("pull", follow_up=FollowUp(2, 2))]),)
    values: dict[str, Any] = {"years": 4, "replicates": 2, "start": start()}
    crews = (Crew("staff", 10),)
    return Experiment("Begun", site(), load_vine("wintercreeper"), crews, strategies, **(values | changes))


@pytest.mark.parametrize("empty", [(), ("cell",), ("host",), ("cell", "host", "values")])
def test_a_file_gives_back_what_was_written(tmp_path: Path, empty: tuple[str, ...]) -> None:
    nothing: dict[str, Any] = {}
    for kind in ("cell", "host"):
        if kind in empty:
            nothing |= {name: [] for name in Start.__dataclass_fields__ if name.startswith(kind)}
    one = start(**nothing, **({"values": {}} if "values" in empty else {}))
    path = write_start(one, tmp_path / "start.nc")
    again = read_start(path, site())
    assert again == one
    assert hash(again) == hash(one)
    assert again.cell.dtype == np.int64 and again.host_state.dtype == np.uint8
    assert not again.numbers.flags.writeable
    with xr.open_dataset(path, engine="h5netcdf") as data:
        for name, variable in data.data_vars.items():
            assert variable.attrs["units"] and variable.attrs["long_name"], name
    assert one != start(seed=8)
    assert one != start(**nothing, values={"mat.front_speed": [0.5, 0.6, 0.71]})


def test_what_is_wrong_is_told_all_at_once() -> None:
    with pytest.raises(InputError) as caught:
        start(years=0, seed=-1, numbers=[-4], values={"a": [1, 2]}, strategy=3, site="", surveyed="soon", notice=3)
    told = str(caught.value).splitlines()
    for text in (
        "years: found 0, allowed 1 to 400, whole",
        "seed: found -1, allowed 0 to 4294967295, whole",
        "numbers[0]: found -4, allowed whole numbers, 0 to 4294967295",
        'values["a"]: found 2 numbers, allowed 1, one for each world',
        "strategy: found 3, allowed a Strategy",
        'site: found "", allowed a text that is not empty',
        'surveyed: found "soon", allowed a date such as 2024-01-31, or nothing',
        "notice: found 3, allowed a text",
        "cell_world[2]: found 2, allowed whole numbers, 0 to 0",
    ):
        assert f"Start: {text}" in told, told


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"cell_world": [0, 2, 1]}, "cell_world: found worlds out of order, allowed rows that are sorted by world"),
        ({"cell": [5, 5, 3]}, "cell: found one more than once in the same world, allowed each once in a world"),
        ({"cell": [5, 3]}, "cell_world: found 3 of cell_world, 2 of cell, 3 of cell_cover, 3 of cell_known"),
        ({"cell_cover": [0.0, np.nan, 1.0]}, "cell_cover[1]: found nan, allowed numbers, 0 to 1"),
        ({"cell_cover": [0.0, 1.2, 1.0]}, "cell_cover[1]: found 1.2, allowed numbers, 0 to 1"),
        ({"host_state": [3]}, "host_state[0]: found 3, allowed whole numbers, 0 to 2"),
        ({"host_state": ["bare"]}, "host_state: found ['bare'], allowed whole numbers, 0 to 2"),
        ({"cell_known": [0, 2, 1]}, "cell_known[1]: found 2, allowed true or false"),
        ({"numbers": []}, "numbers: found 0 worlds, allowed 1 to 1,000,000 worlds"),
        ({"values": [3]}, "values: found [3], allowed arrays by the names of parameters"),
    ],
)
def test_columns_are_checked(changes: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError) as caught:
        start(**changes)
    assert told in str(caught.value)


def test_another_sites_start_is_refused(tmp_path: Path) -> None:
    path = write_start(start(), tmp_path / "start.nc")
    for other in (
        site(mat=np.full((10, 12), 0.3)),
        site(hosts={"x": [3.0, 4.0, 9.0], "y": [3.0, 4.0, 9.5]}),
        site(background_seed=3.0),
        site(mat=np.full((12, 10), 0.2)),
    ):
        with pytest.raises(InputError, match=r"start.nc: found a start that was learned on another site, allowed one"):
            read_start(path, other)
    assert read_start(path, site(title="Called otherwise", notice="Invented.")) == start()


def test_a_start_is_embedded_and_comes_back() -> None:
    one = experiment()
    attrs, variables = embed(one)
    data = xr.Dataset({name: xr.Variable(*parts) for name, parts in variables.items()}, attrs=attrs)
    assert unembed(data) == one
    assert unembed(data).start == start()
    assert attrs["input_format"] == 5
    assert embed(experiment(start=None))[0]["input_format"] == 4
    data["input_start_cell_cover"][1] = 0.26
    with pytest.raises(InputError, match=r"input_start_cell_cover: found values that were changed"):
        unembed(data)
    with pytest.raises(InputError, match="input_sha256: found"):
        unembed(data.drop_vars(["input_start_cell_cover"]))


TOML = """
title = "Begun"
years = 4
replicates = 2
vine = "wintercreeper"
start = "learned/start.nc"
[site]
cell_size = 2
width = 24
height = 20
mats = "mats.csv"
[[crews]]
name = "staff"
hours = 10
[[strategies]]
name = "pull"
[[strategies.tasks]]
treatment = "pull"
"""


def written(folder: Path, text: str = TOML) -> Path:
    """An experiment file with its mats."""
    (folder / "mats.csv").write_text("x,y,radius,cover\n10,10,4,0.8\n")
    (folder / "experiment.toml").write_text(text)
    return folder / "experiment.toml"


def test_an_experiment_names_a_start(tmp_path: Path) -> None:
    path = written(tmp_path)
    with pytest.raises(InputError, match=r"learned/start.nc: found no such file, allowed a NetCDF file that exists"):
        read_experiment(path)
    ground = read_experiment(written(tmp_path, TOML.replace("start =", "notice ="))).site
    (tmp_path / "learned").mkdir()
    one = start(site=site_hash(ground), host_world=[], host=[], host_state=[], host_known=[])
    write_start(one, tmp_path / "learned" / "start.nc")
    found = read_experiment(written(tmp_path))
    assert found.start == one
    assert found.first_year == 2
    assert found.kept_map_years() == (2, 3, 4)
    with pytest.raises(InputError, match=r"learned/start.nc: found a start that was learned on another site"):
        read_experiment(written(tmp_path, TOML.replace("cell_size = 2", "cell_size = 1")))
    with pytest.raises(InputError, match=r"start.years: found 2, allowed 1 to 1: it must end before the years"):
        read_experiment(written(tmp_path, TOML.replace("years = 4", "years = 2")))
    with pytest.raises(InputError, match="start: found 3, allowed a text"):
        read_experiment(written(tmp_path, TOML.replace('"learned/start.nc"', "3")))
    with pytest.raises(InputError, match=r'found "\.\./start\.nc", allowed a path relative to this file'):
        read_experiment(written(tmp_path, TOML.replace("learned/start.nc", "../start.nc")))


def test_maps_are_kept_from_the_start_on() -> None:
    assert experiment(map_years=(0, 1, 3)).kept_map_years() == (2, 3)
    assert experiment(map_years=(1, 4)).kept_map_years() == (4,)


def test_a_start_that_was_changed_is_noticed(tmp_path: Path) -> None:
    path = write_start(start(), tmp_path / "start.nc")
    with h5py.File(path, "r+") as file:
        file["start_cell_cover"][1] = 0.26
    with pytest.raises(InputError, match="start_cell_cover: found values that were changed since they were written"):
        read_start(path, site())


@given(seed=st.integers(0, 2**32 - 1), kind=st.sampled_from(["bytes", "cut", "attribute", "gone", "text"]))
@few(60)
def test_damaged_files_are_bad_input(tmp_path_factory: pytest.TempPathFactory, seed: int, kind: str) -> None:
    rng = np.random.default_rng(seed)
    path = write_start(start(), tmp_path_factory.mktemp("start") / "start.nc")
    if kind in ("bytes", "cut"):
        data = bytearray(path.read_bytes())
        if kind == "cut":
            data = data[: rng.integers(len(data))]
        else:
            for at in rng.integers(0, len(data), 40):
                data[at] = rng.integers(256)
        path.write_bytes(bytes(data))
    else:
        with xr.open_dataset(path, engine="h5netcdf") as opened:
            dataset = opened.load()
        name = str(rng.choice(list(dataset.data_vars)))
        if kind == "gone":
            together = [one for one in dataset.data_vars if str(one).startswith(name[:10])]
            dataset = dataset.drop_vars(together if rng.random() < 0.5 else name)
        elif kind == "attribute":
            dataset[name].attrs["sha256"] = "0" * 64
        else:
            from spreadsim.inputs.hashes import hash_of

            text = rng.choice(["{}", "[]", "3", '{"format": 1}', "\x00", '{"format": "x", "years": null}', "[" * 3000])
            values = np.frombuffer(str(text).encode(), np.uint8)
            dataset = dataset.drop_vars("start_about")
            dataset["start_about"] = (("start_byte",), values, {"sha256": hash_of(values)})
        dataset.to_netcdf(path, engine="h5netcdf")
    try:
        found = read_start(path, site())
    except InputError as error:
        assert str(path) in str(error)
    else:
        assert isinstance(found, Start)
        assert kind == "bytes"  # one that nothing hangs on
        assert found == start()


def test_public_names() -> None:
    assert spreadsim.Start is Start
    assert spreadsim.read_start is read_start
    assert spreadsim.write_start is write_start
    assert dataclasses.replace(experiment(), start=None).first_year == 0
