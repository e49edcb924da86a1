"""An experiment put into a dataset of outcomes and got back."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim.inputs import Crew, Experiment, InputError, Site, Weather, embed, load_vine, read_experiment, unembed


def dataset(experiment: Experiment) -> xr.Dataset:
    attrs, variables = embed(experiment)
    return xr.Dataset({name: xr.Variable(*parts) for name, parts in variables.items()}, attrs=attrs)


def test_an_experiment_comes_back_from_memory(experiment: Experiment) -> None:
    assert unembed(dataset(experiment)) == experiment


def test_an_experiment_comes_back_from_disk(experiment: Experiment, tmp_path: Path) -> None:
    path = tmp_path / "outcomes.nc"
    code = {"zlib": True, "complevel": 4}
    made = dataset(experiment)
    made.to_netcdf(path, engine="h5netcdf", encoding={name: code for name in made.data_vars})
    assert read_experiment(path) == experiment
    assert read_experiment(str(path.rename(tmp_path / "renamed"))) == experiment


def test_a_file_and_its_embedded_twin_are_equal(folder: Path, tmp_path: Path) -> None:
    experiment = read_experiment(folder / "experiment.toml")
    dataset(experiment).to_netcdf(tmp_path / "outcomes.nc", engine="h5netcdf")
    assert read_experiment(tmp_path / "outcomes.nc") == experiment


def test_a_site_without_hosts_comes_back() -> None:
    site = Site.from_arrays(1, mat=[[0.0, 1.0]])
    experiment = Experiment("bare", site, load_vine("wintercreeper"), (), ())
    again = unembed(dataset(experiment))
    assert again == experiment and len(again.site.hosts) == len(again.site.sources) == 0


def test_nothing_of_the_machine_is_embedded(experiment: Experiment) -> None:
    here = replace(experiment, path=Path("/home/somebody/experiment.toml"))
    text = bytes(embed(here)[1]["input_experiment"][1]).decode()
    assert "somebody" not in text and unembed(dataset(here)) == experiment


def test_every_variable_says_what_it_is(experiment: Experiment) -> None:
    attrs, variables = embed(experiment)
    assert attrs["input_format"] == 4 and len(attrs["input_sha256"]) == 64
    assert len({said["sha256"] for _, _, said in variables.values()}) > 10
    for name, (dims, array, said) in variables.items():
        assert name.startswith("input_") and said["long_name"] and said["units"]
        assert array.ndim == len(dims) and array.dtype != bool and array.dtype.kind in "iuf"
        assert all(dim in ("y", "x") or dim.startswith("input_") for dim in dims)
        if "flag_values" in said:
            assert said["flag_values"].dtype == array.dtype
            assert len(said["flag_meanings"].split()) == len(said["flag_values"])


def test_outcomes_of_the_first_format_are_read(experiment: Experiment) -> None:
    """They have no boundary, funds or events, and say less of crews and tasks."""
    ground = replace(experiment.site, boundary_mat=np.zeros_like(experiment.site.boundary_mat))
    crews = (Crew("staff", 3, ["cut", "pull"], price=35.0),)
    plain = replace(experiment, site=ground, crews=crews, funds=(), events=(), weather=Weather(3))
    made = dataset(plain)
    data = json.loads(bytes(made["input_experiment"].values).decode())
    for name in ("funds", "events"):
        assert data["experiment"].pop(name) == []
    for crew in data["experiment"]["crews"]:
        for name in ("turnout_spread", "session_hours", "setup_hours", "leader", "people_per_leader"):
            del crew[name]
        for name in ("walking_minutes", "minimum_charge", "lead_seasons", "years"):
            del crew[name]
    for strategy in data["experiment"]["strategies"]:
        for task in strategy["tasks"]:
            del task["permit_seasons"]
    data["experiment"]["weather"] = {"fit_days": data["experiment"]["weather"]["fit_days"]}
    text = np.frombuffer(json.dumps(data).encode(), np.uint8)
    older = made.drop_vars(["input_boundary_mat", "input_experiment"]).assign_attrs(input_format=1)
    assert unembed(older.assign(input_experiment=("input_byte", text))) == plain


def test_a_long_experiment_fits(experiment: Experiment, tmp_path: Path) -> None:
    """Attributes of HDF5 end at 64 kB; this is longer."""
    long = replace(
        experiment, crews=tuple(Crew(f"crew {k}" + "x" * 200, 1) for k in range(400)), strategies=(), funds=()
    )
    made = dataset(long)
    assert made.sizes["input_byte"] > 70_000
    made.to_netcdf(tmp_path / "outcomes.nc", engine="h5netcdf")
    assert read_experiment(tmp_path / "outcomes.nc") == long


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.drop_vars("input_experiment"), "input_experiment: found nothing"),
        (lambda d: d.assign_attrs(input_format=99), "input_format: found 99, allowed 1 to 5"),
        (lambda d: d.drop_attrs(deep=False), "input_format: found None"),
        (lambda d: d.drop_vars("input_canopy"), "found damaged text"),
        (lambda d: d.assign(input_experiment=("b", np.frombuffer(b"{}", np.uint8))), "found damaged text"),
        (lambda d: d.assign(input_experiment=("b", np.frombuffer(b"\xff[", np.uint8))), "found damaged text"),
        (
            lambda d: d.assign(input_experiment=("b", np.frombuffer(b"[" * 90_000, np.uint8))),
            "found damaged text",
        ),
        (lambda d: d.assign(input_mat=d.input_mat + 2), "mat[0, 0]"),
        (lambda d: d.assign(input_host_kind=d.input_host_kind + 90), "found damaged text"),
    ],
)
def test_damage_is_named(experiment: Experiment, change: Any, said: str) -> None:
    with pytest.raises(InputError) as caught:
        unembed(
            change(dataset(experiment).assign_attrs(input_format=3))
        )  # whose values have no hash to be held against
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (lambda d: d.assign(input_canopy=d.input_canopy.copy(data=d.input_canopy.values * 0.5)), "input_canopy: found"),
        (lambda d: d.assign(input_mat=d.input_mat.drop_attrs()), "input_mat: found values that were changed"),
        (lambda d: d.drop_vars([name for name in d if "host" in name]), "input_sha256: found"),
        (lambda d: d.drop_vars("input_boundary_mat"), "input_sha256: found"),
        (lambda d: d.assign_attrs(input_sha256="0" * 64), "input_sha256: found"),
        (
            lambda d: d.assign(
                input_experiment=d.input_experiment.copy(
                    data=np.frombuffer(bytes(d.input_experiment.values).replace(b'"seed": ', b'"seed":1'), np.uint8)
                )
            ),
            "input_experiment: found values that were changed",
        ),
    ],
)
def test_what_was_changed_since_it_was_written_is_noticed(experiment: Experiment, change: Any, named: str) -> None:
    """All of these would be read as another experiment without a word."""
    made = dataset(experiment)
    with pytest.raises(InputError) as caught:
        unembed(change(made))
    assert named in str(caught.value) and len(caught.value.problems) == 1
    assert unembed(made) == experiment  # and what was not changed is read


def test_a_file_that_is_not_ours_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "other.nc"
    xr.Dataset({"a": ("x", [1.0])}).to_netcdf(path, engine="h5netcdf")
    with pytest.raises(InputError, match="found nothing, allowed outcomes written by spreadsim") as caught:
        read_experiment(path)
    assert caught.value.problems[0].startswith(str(path))
