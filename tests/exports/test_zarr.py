"""Outcomes as a Zarr store: the same values, written chunk by chunk, nothing else overwritten."""

import json
import tracemalloc

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner

from spreadsim import InputError, export_zarr, open_outcomes, store
from spreadsim.analysis.outcomes import by_year
from spreadsim.cli import cli
from tests.analysis.synthetic import outcomes


@pytest.fixture
def dataset():
    return outcomes(replicates=7, years=4, shape=(3, 5))


@pytest.mark.parametrize("lazily", [False, True])
def test_a_store_opens_as_the_file_does(dataset, lazily, tmp_path, monkeypatch):
    monkeypatch.setattr("spreadsim.exports.zarr_store._CHUNK_BYTES", 200)
    given = store.open_outcomes(store.write(dataset, tmp_path / "outcomes.nc")) if lazily else dataset
    path = export_zarr(given, tmp_path / "outcomes.zarr")
    assert {file.name for file in tmp_path.iterdir()} <= {"outcomes.nc", "outcomes.zarr"}
    with open_outcomes(path) as back:
        assert not back["mat_area"].variable._in_memory
        xr.testing.assert_equal(back, dataset)
        for name in dataset.variables:
            assert back[name].dtype == dataset[name].dtype, name
            assert back[name].attrs == dataset[name].attrs, name
        assert back["mat_area"].encoding["chunks"] == (1, 7 if lazily else 5, 5)  # the file has one chunk
        assert back["occupancy"].encoding["chunks"] == (1, 1, 3, 5)


def test_coordinates_are_named_by_each_variable(dataset, tmp_path):
    path = export_zarr(dataset, tmp_path / "outcomes.zarr")
    assert "coordinates" not in json.loads((path / "zarr.json").read_text())["attributes"]
    assert "strategy_name" in json.loads((path / "mat_area" / "zarr.json").read_text())["attributes"]["coordinates"]


def test_an_older_store_is_replaced_and_anything_else_is_left(dataset, tmp_path):
    path = export_zarr(dataset, tmp_path / "outcomes.zarr")
    (tmp_path / ".outcomes.zarr.77.part").mkdir()  # of a killed process
    export_zarr(dataset.assign(mat_area=dataset["mat_area"] + 1), path)
    with open_outcomes(path) as back:
        np.testing.assert_array_equal(back["mat_area"], dataset["mat_area"] + 1)
    assert [file.name for file in tmp_path.iterdir()] == ["outcomes.zarr"]
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "a.txt").write_text("kept")
    file = store.write(dataset, tmp_path / "outcomes.nc")
    for taken in (tmp_path / "letters", tmp_path / "letters" / "a.txt", file):
        with pytest.raises(InputError, match="found something else than a Zarr store"):
            export_zarr(dataset, taken)
    assert (tmp_path / "letters" / "a.txt").read_text() == "kept" and file.is_file()


def test_an_older_store_stays_when_the_disk_refuses(dataset, tmp_path, monkeypatch):
    path = export_zarr(dataset, tmp_path / "outcomes.zarr")

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("spreadsim.exports.zarr_store._regions", refuse)
    with pytest.raises(OSError, match="No space"):
        export_zarr(dataset, path)
    with open_outcomes(path) as back:
        xr.testing.assert_equal(back, dataset)
    assert [file.name for file in tmp_path.iterdir()] == ["outcomes.zarr"]


def test_the_command_writes_a_store_when_asked(dataset, tmp_path):
    store.write(dataset, tmp_path / "outcomes.nc")
    done = CliRunner().invoke(cli, ["export", str(tmp_path), "--what", "zarr"])
    assert done.exit_code == 0, done.output
    assert done.output == f"1 file in {tmp_path / 'export'}\n"
    done = CliRunner().invoke(cli, ["export", str(tmp_path / "export" / "outcomes.zarr"), "--what", "tables"])
    assert done.exit_code == 0, done.output
    assert (tmp_path / "export" / "export" / "by-year.csv").exists()


@pytest.mark.parametrize("bound", [1.0, 3000.0, 1e9])
def test_work_is_summed_in_strips_with_the_same_bits(bound, tmp_path, monkeypatch):
    monkeypatch.setattr("spreadsim.strips.strip_of.__defaults__", (bound,))
    data = outcomes(replicates=23, years=6)
    values = data["hours"].copy(data=np.random.default_rng(3).lognormal(0, 3, data["hours"].shape))
    values[:, :, :, :, -1] = np.nan
    data = data.assign(hours=values)
    wanted = values.sum(["season", "task"], skipna=True).where(data["year"] > 0)
    for given in (data, open_outcomes(store.write(data, tmp_path / "outcomes.nc"))):
        found = by_year(given, "hours")
        assert found.dims == ("strategy", "replicate", "year")
        assert found.to_numpy().tobytes() == wanted.to_numpy().tobytes()
        assert set(found.coords) == {"strategy", "replicate", "year"}


def test_work_arrays_are_never_whole_in_memory(tmp_path, monkeypatch):
    """1,500 replicates of 4 strategies, 30 years and 4 seasons by task: the array is far above what reading it takes."""
    monkeypatch.setattr("spreadsim.strips.strip_of.__defaults__", (2e5,))
    data = outcomes(replicates=1500, years=30)
    size = data["hours"].nbytes
    path = store.write(data[["hours"]].assign_attrs(data.attrs), tmp_path / "outcomes.nc")
    del data
    with open_outcomes(path) as lazily:
        tracemalloc.start()
        try:
            found = by_year(lazily, "hours")
            _, peak = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
        assert found.nbytes < peak < size / 2, (found.nbytes, peak, size)
