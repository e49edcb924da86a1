"""Outcomes on disk and back."""

import json
import os

import h5py
import numpy as np
import pytest
import xarray as xr

from spreadsim import store
from spreadsim.errors import InputError
from tests.analysis.synthetic import NAMES, outcomes


@pytest.fixture
def dataset():
    return outcomes(replicates=3, years=4, shape=(3, 5))


def test_what_comes_back_is_what_was_written(dataset, tmp_path):
    before = dataset.copy(deep=True)
    store.write(dataset, tmp_path / "outcomes.nc")
    back = store.open_outcomes(tmp_path / "outcomes.nc")
    xr.testing.assert_equal(back, before)
    for name in before.variables:
        assert back[name].dtype == before[name].dtype, name
        assert back[name].attrs == before[name].attrs, name
    for name, value in before.attrs.items():
        assert back.attrs[name] == value, name
    assert float(back["mat_area"].sel(strategy="no action", year=4)[1]) == float(before["mat_area"][0, 1, 4])
    xr.testing.assert_identical(dataset, before)  # writing leaves the dataset alone


def test_values_stay_on_disk_until_used(dataset, tmp_path):
    back = store.open_outcomes(store.write(dataset, tmp_path / "outcomes.nc"))
    for name in ("mat_area", "occupancy", "mat.front_speed", "hours"):
        assert not back[name].variable._in_memory, name
    back["mat_area"].load()
    assert back["mat_area"].variable._in_memory


def test_one_strategy_alone_goes_there_and_back(dataset, tmp_path):
    alone = dataset.isel(strategy=1, drop=True)
    back = store.open_outcomes(store.write(alone, tmp_path / "outcomes.nc"))
    xr.testing.assert_equal(back, alone)


def test_an_opened_dataset_can_be_written_again(dataset, tmp_path):
    first = store.open_outcomes(store.write(dataset, tmp_path / "first.nc"))
    second = store.open_outcomes(store.write(first, tmp_path / "second.nc"))
    xr.testing.assert_equal(first, second)
    assert (tmp_path / "first.nc").read_bytes() == (tmp_path / "second.nc").read_bytes()
    assert not store.to_disk(first)["mat_area"].encoding
    packed = first.copy()
    packed["mat_area"].encoding = {"dtype": "int16", "scale_factor": 1000.0, "units": "old"}
    third = store.open_outcomes(store.write(packed, tmp_path / "third.nc"))
    xr.testing.assert_equal(third, dataset)  # not packed again as some other file was


def test_the_file_on_disk_follows_cf(dataset, tmp_path):
    store.write(dataset, tmp_path / "outcomes.nc")
    with h5py.File(tmp_path / "outcomes.nc") as file:
        assert file.attrs["Conventions"] == "CF-1.11, ACDD-1.3"
        assert file["strategy"].dtype == np.int32 and file["season"].dtype == np.int32
        assert [name.decode() for name in file["strategy_name"][:]] == list(NAMES)
        assert "strategy_name" in file["mat_area"].attrs["coordinates"]
        assert file["replicate"].attrs["standard_name"] == "realization"
        assert file["y"].attrs["standard_name"] == "projection_y_coordinate"
        for name in ("strategy", "replicate", "year", "season", "task", "y", "x"):
            assert "_FillValue" not in file[name].attrs, name
        assert file["parameter_mat_front_speed"].attrs["parameter_name"] == "mat.front_speed"
        assert "parameter_cut_and_treat_base_kill" in file
        assert not [name for name in file if "." in name or "-" in name]
        for name in ("mat_area", "occupancy", "hours"):
            assert file[name].compression == "gzip", name  # HDF5's word for zlib
        global_names = {"title", "institution", "source", "history", "references", "comment"}
        assert global_names <= set(file.attrs)


def test_units_that_readers_of_cf_do_not_know_are_put_in_their_words(dataset, tmp_path):
    ours = {"light": "share of full sun", "founded": "1 per fruiting host and yr", "pace": "h/host"}
    ours |= {"price": "currency/host", "ground": "currency/m2", "speed": "m/yr"}
    for name, unit in ours.items():
        dataset[f"a.{name}"] = ("replicate", np.zeros(3), {"units": unit, "long_name": name})
    store.write(dataset, tmp_path / "outcomes.nc")
    theirs = {"light": "1", "founded": "1/yr", "pace": "h", "price": "1", "ground": "1/m2", "speed": "m/yr"}
    with h5py.File(tmp_path / "outcomes.nc") as file:
        assert {name: file[f"parameter_a_{name}"].attrs["units"] for name in theirs} == theirs
    back = store.open_outcomes(tmp_path / "outcomes.nc")
    for name, unit in ours.items():
        assert back[f"a.{name}"].attrs == {"units": unit, "long_name": name}


def test_the_same_outcomes_give_the_same_bytes(dataset, tmp_path):
    one, two = (store.write(dataset, tmp_path / name).read_bytes() for name in ("one.nc", "two.nc"))
    assert one == two


def test_attributes_that_netcdf_cannot_hold_are_put_plainly(dataset, tmp_path):
    dataset.attrs |= {"fixed": True, "nothing": None, "long": "x" * 100_000}
    back = store.open_outcomes(store.write(dataset, tmp_path / "outcomes.nc"))
    assert back.attrs["fixed"] == 1 and "nothing" not in back.attrs and len(back.attrs["long"]) == 100_000


def test_a_projection_is_told_in_full_where_pyproj_is_there(dataset, tmp_path):
    pytest.importorskip("pyproj")
    dataset.attrs["crs"] = "EPSG:26910"
    store.write(dataset, tmp_path / "outcomes.nc")
    with h5py.File(tmp_path / "outcomes.nc") as file:
        assert file["crs"].attrs["grid_mapping_name"] == "transverse_mercator"
        assert file["occupancy"].attrs["grid_mapping"] == "crs"
        assert "grid_mapping" not in file["mat_area"].attrs
    assert "crs" not in store.open_outcomes(tmp_path / "outcomes.nc")


def test_parameters_that_would_share_a_name_are_refused(dataset, tmp_path):
    dataset["mat.front-speed"] = dataset["mat.front_speed"]
    with pytest.raises(ValueError, match="share a name on disk"):
        store.write(dataset, tmp_path / "outcomes.nc")
    assert not list(tmp_path.iterdir())


def test_a_failed_write_leaves_the_older_file_and_no_rubbish(dataset, tmp_path, monkeypatch):
    path = store.write(dataset, tmp_path / "outcomes.nc")
    before = path.read_bytes()

    def full(*_):
        raise OSError("no space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="no space"):
        store.write(dataset * 2, path)
    monkeypatch.undo()
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["outcomes.nc"]


def test_a_file_that_is_open_can_be_replaced(dataset, tmp_path):
    path = store.write(dataset, tmp_path / "outcomes.nc")
    older = store.open_outcomes(path)
    expected = float(dataset["mat_area"][1, 1, 1])
    store.write(dataset.assign(mat_area=dataset["mat_area"] + 1), path)
    newer = store.open_outcomes(path)
    assert float(newer["mat_area"][1, 1, 1]) == expected + 1
    assert float(older["mat_area"][1, 1, 1]) == expected


def test_nothing_there_is_bad_input(tmp_path):
    with pytest.raises(InputError, match=r"gone\.nc: found no such file; allowed: an outcomes\.nc"):
        store.open_outcomes(tmp_path / "gone.nc")


def test_something_else_is_bad_input(dataset, tmp_path):
    (tmp_path / "text.nc").write_text("x,y\n1,2\n")
    with pytest.raises(InputError, match=r"text\.nc: found something that cannot be read"):
        store.open_outcomes(tmp_path / "text.nc")
    dataset[["mat_area"]].drop_attrs().to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    with pytest.raises(InputError, match=r"other\.nc: found a dataset that spreadsim did not write"):
        store.open_outcomes(tmp_path / "other.nc")
    whole = store.write(dataset, tmp_path / "outcomes.nc").read_bytes()
    (tmp_path / "half.nc").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(InputError, match=r"half\.nc: found something that cannot be read"):
        store.open_outcomes(tmp_path / "half.nc")


def test_a_zarr_store_without_zarr_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setattr(store.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(InputError, match="package zarr that reads it is not installed"):
        store.open_outcomes(tmp_path)


def test_a_zarr_store_opens_like_the_file(dataset, tmp_path):
    pytest.importorskip("zarr")
    store.to_disk(dataset).to_zarr(tmp_path / "outcomes.zarr", consolidated=False)
    back = store.open_outcomes(tmp_path / "outcomes.zarr")
    assert not back["mat_area"].variable._in_memory
    xr.testing.assert_equal(back, dataset)
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="empty: found something that cannot be read"):
        store.open_outcomes(tmp_path / "empty")


def test_a_store_of_the_format_that_can_name_a_codec_that_unpickles_is_not_opened(tmp_path):
    """Zarr's format 2 is refused as a whole, whatever stands in it."""
    (tmp_path / "old.zarr" / "a").mkdir(parents=True)
    (tmp_path / "old.zarr" / ".zgroup").write_text('{"zarr_format": 2}')
    (tmp_path / "old.zarr" / ".zattrs").write_text(json.dumps({store.MARK: store.MARK_VALUE}))
    (tmp_path / "old.zarr" / "a" / ".zattrs").write_text('{"_ARRAY_DIMENSIONS": ["strategy"]}')
    told = {"zarr_format": 2, "shape": [1], "chunks": [1], "dtype": "<i4", "fill_value": 0, "order": "C"}
    (tmp_path / "old.zarr" / "a" / ".zarray").write_text(json.dumps({**told, "compressor": None, "filters": None}))
    assert xr.open_dataset(tmp_path / "old.zarr", engine="zarr", consolidated=False)["a"].shape == (1,)
    with pytest.raises(InputError, match="cannot be read"):
        store.open_outcomes(tmp_path / "old.zarr")
