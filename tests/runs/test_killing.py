"""Real runs of the command line that are killed, interrupted or run out of disk, then resumed: nothing is lost or changed."""

import importlib
import os
import random
import signal
import time
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spreadsim import open_outcomes

from . import forked
from .forked import Running
from .small import assert_same_bits

pytestmark = pytest.mark.slow
KILLS = 50
EXPERIMENT = """
title = "Small and invented"
years = 6
replicates = 120
seed = 3
vine = "wintercreeper"

[site]
cell_size = 2
width = 80
height = 80
canopy = 0.6
mats = "mats.csv"
hosts = "hosts.csv"

[[crews]]
name = "volunteers"
volunteers = true
hours = { winter = 20, autumn = 20 }
may = ["cut", "pull"]

[[strategies]]
name = "stems"

[[strategies.tasks]]
treatment = "cut"

[[strategies]]
name = "mats"

[[strategies.tasks]]
treatment = "pull"
follow_up = { every = 2, clean = 2 }
"""


def small_blocks() -> None:
    """Count each small block as soon as it is finished, and make no tables and pictures: they are no part of this."""
    from spreadsim.views import report

    on_disk = importlib.import_module("spreadsim.runs.on_disk")
    on_disk.BLOCK_SIZE, on_disk.COMMIT_SHARE, on_disk.STRIP_BYTES = 10, 0.0, 4e5
    report.findings, report.write_files = lambda *_, **__: "", lambda *_, **__: []


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An experiment, and what it gives when nobody disturbs it, in the folder `whole`."""
    path = tmp_path_factory.mktemp("killing")
    (path / "experiment.toml").write_text(EXPERIMENT)
    (path / "mats.csv").write_text("x,y,radius,cover\n20,20,6,0.8\n60,50,5,0.5\n")
    rows = [
        f"{4 + 8 * i},{4 + 8 * j},{('bare', 'climbing', 'fruiting')[(i + j) % 3]}" for i in range(9) for j in range(9)
    ]
    (path / "hosts.csv").write_text("\n".join(["x,y,state", *rows]) + "\n")
    finish(path, path / "whole")
    return path


@pytest.fixture(scope="module")
def whole(folder: Path) -> xr.Dataset:
    with open_outcomes(folder / "whole" / "outcomes.nc") as data:
        return data.load()


def begin(folder: Path, out: Path, *more: str, largest: int = 0) -> Running:
    arguments = ["compare", folder / "experiment.toml", "--out", out, *more]
    return forked.begin(arguments, folder / "said", small_blocks, largest)


def finish(folder: Path, out: Path, *more: str) -> None:
    running = begin(folder, out, *more)
    assert running.finish() == 0, running.said


def assert_same(out: Path, whole: xr.Dataset) -> None:
    """All variables bit for bit, all attributes, and nothing else in the folder."""
    with open_outcomes(out / "outcomes.nc") as data:
        assert_same_bits(data, whole)
        assert set(data.attrs) == set(whole.attrs)
        for name, value in whole.attrs.items():
            assert np.array_equal(data.attrs[name], value), name
        for name, variable in whole.variables.items():
            assert set(data[name].attrs) == set(variable.attrs), name
            for key, value in variable.attrs.items():
                assert np.array_equal(data[name].attrs[key], value), (name, key)
    assert [path.name for path in out.iterdir()] == ["outcomes.nc"]


def moments(folder: Path, out: Path) -> tuple[float, float]:
    """Seconds from the start of a process to its store, and to its end; only to spread the kills over the run."""
    begun = time.monotonic()
    running = begin(folder, out)
    while not (out / "unfinished.zarr").exists() and running.process.is_alive():
        time.sleep(0.002)
    stored = time.monotonic() - begun
    assert running.finish() == 0
    return stored, time.monotonic() - begun


def test_runs_killed_at_random_moments_go_on_with_the_same_bits(folder: Path, whole: xr.Dataset, tmp_path: Path):
    """Each folder is killed several times before it is resumed for good, so that kills also meet resumed runs."""
    luck = random.Random(20261125)
    first, last = moments(folder, tmp_path / "timed")
    kills = interrupted = kept = writing = 0
    run = 0
    while kills < KILLS:
        out = tmp_path / f"run-{run}"
        run += 1
        for turn in range(6):
            how = signal.SIGINT if luck.random() < 0.2 else signal.SIGKILL
            begun, moment = time.monotonic(), luck.uniform(0.9 * first, last)
            running = begin(folder, out, *(["--resume"] if turn else []))
            running.process.join(moment)  # from just before the store is there to the end
            if running.process.is_alive():
                os.kill(running.process.pid, how)
                last *= 1.1
            else:  # the end is sooner where the machine is less busy
                last = max(1.2 * first, time.monotonic() - begun)
            code = running.finish()
            if code == 0:
                break
            assert code in (-how, 130) or how == signal.SIGINT, running.said
            if code == 130:
                assert "--resume goes on" in running.said and "Traceback" not in running.said
                interrupted += 1
            kills += 1
            kept += bool(list((out / "unfinished.zarr").glob("finished-*.json")))
            writing += bool(list(out.glob(".outcomes.nc.*.part")))
        else:
            finish(folder, out, "--resume")
        assert_same(out, whole)
    # the kills were worth the name: in the midst of runs, some with blocks that were kept, some while writing
    assert kills >= KILLS and kept >= KILLS // 4 and interrupted > 0 and writing > 0


@pytest.mark.parametrize("largest", [2_000, 20_000, 100_000])
def test_a_full_disk_is_said_and_what_is_finished_is_kept(
    largest: int, folder: Path, whole: xr.Dataset, tmp_path: Path
):
    """No file may grow beyond so many bytes: as with a full disk, writes are refused, first one here, then one there."""
    running = begin(folder, tmp_path / "out", largest=largest)
    assert running.finish() == 1, running.said
    assert "the machine failed" in running.said and "--resume goes on" in running.said
    assert "Traceback" not in running.said
    assert not (tmp_path / "out" / "outcomes.nc").exists()
    assert not list((tmp_path / "out").glob("*.part"))
    finish(folder, tmp_path / "out", "--resume")
    assert_same(tmp_path / "out", whole)
