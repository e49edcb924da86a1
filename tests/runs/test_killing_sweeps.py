"""Real sweeps of the command line that are killed at random moments, then resumed: the same bits, nothing left over."""

import random
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
KILLS = 10
EXPERIMENT = """
title = "Small and invented"
years = 3
replicates = 60
seed = 3
vine = "wintercreeper"

[site]
cell_size = 2
width = 60
height = 60
canopy = 0.6
mats = "mats.csv"

[[crews]]
name = "staff"
hours = 8
may = ["all"]

[[strategies]]
name = "mats"

[[strategies.tasks]]
treatment = "pull"

[sweep]
kind = "latin hypercube"
points = 40

[sweep.factors]
"mat.front_speed" = {}
"crews.staff.hours_factor" = { low = 0.5, high = 2.0 }
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("killing")
    (path / "experiment.toml").write_text(EXPERIMENT)
    (path / "mats.csv").write_text("x,y,radius,cover\n20,20,6,0.8\n40,50,5,0.5\n")
    return path


def begin(folder: Path, out: Path, *more: str) -> Running:
    return forked.begin(["sweep", folder / "experiment.toml", "--out", out, *more], folder / "said")


def finish(folder: Path, out: Path, *more: str) -> None:
    running = begin(folder, out, *more)
    assert running.finish() == 0, running.said


def moments(folder: Path, out: Path) -> tuple[float, float]:
    """Seconds from the start of a process to its first point, and to its end; only to spread the kills over the run."""
    begun = time.monotonic()
    running = begin(folder, out)
    while not list(out.glob("points/*.npz")) and running.process.is_alive():
        time.sleep(0.002)
    stored = time.monotonic() - begun
    assert running.finish() == 0
    return stored, time.monotonic() - begun


def assert_same(out: Path, whole: xr.Dataset) -> None:
    with open_outcomes(out / "sweep.nc") as data:
        assert_same_bits(data, whole)
        assert set(data.attrs) == set(whole.attrs)
        for name, value in whole.attrs.items():
            assert np.array_equal(data.attrs[name], value), name
    assert [path.name for path in out.iterdir()] == ["sweep.nc"]


def test_sweeps_killed_at_random_moments_go_on_with_the_same_bits(folder: Path, tmp_path: Path):
    """Each folder is killed up to three times before it is resumed for good."""
    finish(folder, folder / "whole")
    with open_outcomes(folder / "whole" / "sweep.nc") as data:
        whole = data.load()
    first, last = moments(folder, tmp_path / "timed")
    luck = random.Random(20261125)
    kills = kept = run = 0
    while kills < KILLS:
        out, run = tmp_path / f"run-{run}", run + 1
        for turn in range(3):
            running = begin(folder, out, *(["--resume"] if turn else []))
            running.process.join(luck.uniform(0.9 * first, last))
            if running.process.is_alive():
                running.process.kill()
            else:
                last = max(1.1 * first, 0.9 * last)  # the machine is less busy than it was
            code = running.finish()
            if code == 0:
                break
            assert code == -9, running.said
            kills += 1
            kept += bool(list(out.glob("points/*.npz")))
        else:
            finish(folder, out, "--resume")
        assert_same(out, whole)
    assert kept >= KILLS // 4  # in the midst of sweeps
