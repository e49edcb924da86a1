"""The same comparison on a Dask cluster of separate processes: the same bits, though a worker is killed."""

import dataclasses
import importlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from spreadsim import InputError, cli, compare

from .small import assert_same_bits, experiment

distributed = pytest.importorskip("distributed")
ON_DISK = importlib.import_module("spreadsim.runs.on_disk")
SMALLEST = """
title = "Small and invented"
years = 1
vine = "wintercreeper"

[site]
cell_size = 2
width = 10
height = 10

[sweep]
kind = "listed"
points = [{ years = 1 }]
"""


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ON_DISK, "BLOCK_SIZE", 4)


@pytest.fixture(scope="module")
def workers() -> Iterator[Any]:
    """Two processes with one thread each."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        yield cluster


@pytest.mark.slow
def test_a_cluster_gives_the_same_bits(workers: Any, tmp_path: Path):
    said: list[tuple[int, int]] = []
    data = compare(
        experiment(),
        replicates=30,
        folder=tmp_path,
        cluster=workers.scheduler_address,
        progress=lambda done, total: said.append((done, total)),
    )
    assert_same_bits(data, compare(experiment(), replicates=30, workers=1))
    assert [path.name for path in tmp_path.iterdir()] == ["outcomes.nc"]
    numbers = [done for done, _ in said]
    assert numbers == sorted(numbers) and (numbers[0], said[-1]) == (0, (30, 30))


@pytest.mark.slow
def test_a_worker_that_is_killed_costs_time_and_nothing_else(workers: Any, tmp_path: Path):
    with distributed.Client(workers.scheduler_address, set_as_default=False) as client:
        before = set(client.run(os.getpid).values())
        victim = min(before)
        killed = threading.Event()

        def kill(done: int, total: int) -> None:
            if done >= 200 and not killed.is_set():
                os.kill(victim, signal.SIGKILL)
                killed.set()

        data = compare(experiment(), replicates=2000, folder=tmp_path, cluster=workers.scheduler_address, progress=kill)
        assert killed.is_set()
        deadline = time.monotonic() + 60
        while len(alive := set(client.run(os.getpid).values())) < 2 and time.monotonic() < deadline:
            time.sleep(0.2)
        assert victim not in alive
    assert_same_bits(data, compare(experiment(), replicates=2000))


@pytest.mark.slow
def test_what_a_cluster_began_goes_on_here_and_the_other_way_round(workers: Any, tmp_path: Path):
    def stop(done: int, total: int) -> None:
        if done >= 24:
            raise KeyboardInterrupt

    address = workers.scheduler_address
    options: dict[str, Any] = {"folder": tmp_path, "replicates": 60}
    with pytest.raises(KeyboardInterrupt):
        compare(experiment(), cluster=address, progress=stop, **options)
    with pytest.raises(InputError, match=r"another comparison \(seed: 5 there, 6 now\)"):
        compare(experiment(), cluster=address, resume=True, seed=6, **options)
    with pytest.raises(KeyboardInterrupt):
        compare(experiment(), resume=True, progress=lambda done, _: stop(done - 16, 60), **options)
    data = compare(experiment(), cluster=address, resume=True, **options)
    assert_same_bits(data, compare(experiment(), replicates=60))


@pytest.mark.slow
def test_what_a_worker_finds_wrong_is_said(workers: Any, tmp_path: Path):
    """Parameters that no replicate can draw are found out where they are drawn first: here, before anything is sent."""
    vine = experiment().vine.replace(
        {"seed.patches_founded": {"value": 1e9, "low": 1e8, "high": 1e10}}, check_ranges=False
    )
    wrong = dataclasses.replace(experiment(), vine=vine)
    with pytest.raises(InputError, match=r"seed\.patches_founded"):
        compare(wrong, folder=tmp_path, cluster=workers.scheduler_address)


def test_the_command_says_in_one_line_that_there_is_no_scheduler(tmp_path: Path):
    """And goes: a client of such an address hung for 20 s and left a traceback."""
    (tmp_path / "experiment.toml").write_text(SMALLEST)
    for command in ("compare", "sweep"):
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "spreadsim",
                command,
                str(tmp_path / "experiment.toml"),
                "--cluster",
                "tcp://nowhere",
            ],
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert done.returncode == 2 and done.stdout == ""
        assert done.stderr.startswith("cluster: found no scheduler at 'tcp://nowhere'") and done.stderr.count("\n") == 1


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://here", "no scheduler"])
def test_a_scheduler_that_is_not_there_is_bad_input(address: str, tmp_path: Path):
    with pytest.raises(InputError, match=r"cluster: found no scheduler at .* allowed its address"):
        compare(experiment(), folder=tmp_path, cluster=address)


def test_a_cluster_needs_a_folder():
    with pytest.raises(InputError, match=r"cluster: found 'tcp://10\.0\.0\.5:8786' without a folder"):
        compare(experiment(), cluster="tcp://10.0.0.5:8786")


def test_without_the_package_it_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any):
    monkeypatch.setitem(sys.modules, "distributed", None)
    for name in ("cluster", "scheduler", "worker"):
        monkeypatch.delitem(sys.modules, f"spreadsim.runs.{name}", raising=False)
    with pytest.raises(InputError, match=r"spreadsim\[cluster\]"):
        compare(experiment(), folder=tmp_path, cluster="tcp://10.0.0.5:8786")
    compare(experiment(), folder=tmp_path, replicates=4).close()
    again = ["compare", str(tmp_path / "outcomes.nc"), "--cluster", "tcp://10.0.0.5:8786"]
    assert cli.main([*again, "--out", str(tmp_path / "again")]) == 2
    assert "spreadsim[cluster]" in capsys.readouterr().err
