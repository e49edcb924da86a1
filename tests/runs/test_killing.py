"""Real runs of the command line that are killed, interrupted or run out of disk, then resumed: nothing is lost or changed."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from spreadsim import open_outcomes

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
# the command line with small blocks, each counted as soon as it is finished, and no tables and pictures: they are no part of this
RUN = """
import importlib, sys
from spreadsim import cli
from spreadsim.views import report
on_disk = importlib.import_module("spreadsim.runs.on_disk")
on_disk.BLOCK_SIZE, on_disk.COMMIT_SHARE, on_disk.STRIP_BYTES = 10, 0.0, 4e5
report.findings, report.write_files = lambda *_, **__: "", lambda *_, **__: []
sys.exit(cli.main(sys.argv[1:]))
"""


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
    done = finish(path, path / "whole")
    assert done.returncode == 0, done.stderr
    return path


@pytest.fixture(scope="module")
def whole(folder: Path) -> xr.Dataset:
    with open_outcomes(folder / "whole" / "outcomes.nc") as data:
        return data.load()


def arguments(folder: Path, out: Path, *more: str) -> list[str]:
    return [sys.executable, "-c", RUN, "compare", str(folder / "experiment.toml"), "--out", str(out), *more]


def finish(folder: Path, out: Path, *more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(arguments(folder, out, *more), capture_output=True, text=True, check=False, timeout=300)


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
    process = subprocess.Popen(arguments(folder, out), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while not (out / "unfinished.zarr").exists() and process.poll() is None:
        time.sleep(0.005)
    stored = time.monotonic() - begun
    assert process.wait() == 0
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
        for turn in range(4):
            how = signal.SIGINT if luck.random() < 0.2 else signal.SIGKILL
            more = ["--resume"] if turn else []
            process = subprocess.Popen(
                arguments(folder, out, *more), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
            )
            # from just before the store is there to just after the end
            time.sleep(luck.uniform(0.9 * first, 1.02 * last))
            process.send_signal(how)
            _, said = process.communicate(timeout=120)
            if process.returncode == 0:
                break
            assert process.returncode in (-how, 130) or how == signal.SIGINT, said
            if process.returncode == 130:
                assert "--resume goes on" in said and "Traceback" not in said
                interrupted += 1
            kills += 1
            kept += bool(list((out / "unfinished.zarr").glob("finished-*.json")))
            writing += bool(list(out.glob(".outcomes.nc.*.part")))
        else:
            done = finish(folder, out, "--resume")
            assert done.returncode == 0, done.stderr
        assert_same(out, whole)
    # the kills were worth the name: in the midst of runs, some with blocks that were kept, some while writing
    assert kills >= KILLS and kept >= KILLS // 4 and interrupted > 0 and writing > 0


@pytest.mark.parametrize("largest", [2_000, 20_000, 100_000])
def test_a_full_disk_is_said_and_what_is_finished_is_kept(
    largest: int, folder: Path, whole: xr.Dataset, tmp_path: Path
):
    """No file may grow beyond so many bytes: as with a full disk, writes are refused, first one here, then one there."""
    small = f"import resource; resource.setrlimit(resource.RLIMIT_FSIZE, ({largest}, {largest}))\n" + RUN
    command = arguments(folder, tmp_path / "out")
    command[2] = small
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 1, (done.returncode, done.stderr)
    assert "the machine failed" in done.stderr and "--resume goes on" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out" / "outcomes.nc").exists()
    assert not list((tmp_path / "out").glob("*.part"))
    again = finish(folder, tmp_path / "out", "--resume")
    assert again.returncode == 0, again.stderr
    assert_same(tmp_path / "out", whole)
