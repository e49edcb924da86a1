"""What is written is whole, and an interrupted run goes on where it was."""

import dataclasses
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim import InputError, Strategy, compare, open_outcomes, read_experiment

from .small import assert_same_bits, experiment

COMPARE = sys.modules["spreadsim.runs.compare"]
BLOCK = 4


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three blocks of four replicates."""
    monkeypatch.setattr(COMPARE, "BLOCK_SIZE", BLOCK)


@cache
def whole() -> xr.Dataset:
    return compare(experiment(), workers=1)


@pytest.fixture
def in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep what would be written to outcomes.nc: writing some 130 variables takes seconds."""
    written: dict[Path, xr.Dataset] = {}

    def write(data: xr.Dataset, path: Path) -> None:
        written[path] = data
        path.touch()

    monkeypatch.setattr(COMPARE, "write", write)
    monkeypatch.setattr(COMPARE, "open_outcomes", written.__getitem__)


class Stop:
    """Progress that interrupts when so many replicates are done; a finished block is told of once more when saved."""

    def __init__(self, done: int, when_saved: bool) -> None:
        self.done, self.when_saved, self.seen = done, when_saved, 0
        self.said: list[tuple[int, int]] = []

    def __call__(self, done: int, total: int) -> None:
        self.said.append((done, total))
        self.seen += done == self.done
        if self.seen > self.when_saved:
            raise KeyboardInterrupt


class Counting:
    """Progress that counts the replicates that were run, not read."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.ran: list[int] = []
        run = COMPARE.Pool.run

        def noted(pool: Any, numbers: Any, done: Callable[[int], Any]) -> Any:
            self.ran += list(numbers)
            return run(pool, numbers, done)

        monkeypatch.setattr(COMPARE.Pool, "run", noted)


def interrupt(folder: Path, done: int = BLOCK, when_saved: bool = True, **options: Any) -> Stop:
    """Begin a comparison and interrupt it."""
    stop = Stop(done, when_saved)
    with pytest.raises(KeyboardInterrupt):
        compare(experiment(), folder=folder, progress=stop, **({"workers": 1} | options))
    return stop


def files(folder: Path) -> set[str]:
    """Everything in a folder, with what is in its folders."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_a_folder_gets_outcomes_and_nothing_else(tmp_path: Path):
    data = compare(experiment(), folder=tmp_path, workers=2)
    assert files(tmp_path) == {"outcomes.nc"}
    assert not (tmp_path / "parts").exists()
    assert_same_bits(data, whole())
    data.close()
    with open_outcomes(tmp_path / "outcomes.nc") as again:
        assert_same_bits(again, whole())
        for name, variable in whole().variables.items():
            for key, value in variable.attrs.items():
                assert np.array_equal(again[name].attrs[key], value), (name, key)


def test_outcomes_can_be_run_again_from_themselves(tmp_path: Path):
    compare(experiment(), folder=tmp_path, workers=1).close()
    again = compare(read_experiment(tmp_path / "outcomes.nc"), workers=1)
    assert_same_bits(again, whole())


@pytest.mark.parametrize(
    ("done", "when_saved"), [(2, False), (4, True), (4, False), (6, False), (8, True), (11, False)]
)
@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.usefixtures("in_memory")
def test_an_interrupted_run_goes_on_with_the_same_bits(
    done: int, when_saved: bool, workers: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    interrupt(tmp_path, done, when_saved, workers=workers)
    saved = (done if when_saved else done - 1) // BLOCK
    blocks = {f"parts/block-{first}-{BLOCK}.npz" for first in range(0, saved * BLOCK, BLOCK)}
    assert {name for name in files(tmp_path) if "block" in name} == blocks
    assert not [name for name in files(tmp_path) if "partial" in name or name.endswith(".part")]
    assert not (tmp_path / "outcomes.nc").exists()
    counting = Counting(monkeypatch)
    data = compare(experiment(), folder=tmp_path, resume=True, workers=workers)
    assert counting.ran == list(range(saved * BLOCK, 12))
    assert_same_bits(data, whole())
    assert files(tmp_path) == {"outcomes.nc"}


def test_a_run_interrupted_twice_goes_on_with_the_same_bits_on_disk(tmp_path: Path):
    interrupt(tmp_path, 4)
    interrupt(tmp_path, 8, resume=True)
    assert {"parts/block-0-4.npz", "parts/block-4-4.npz"} <= files(tmp_path)
    assert_same_bits(compare(experiment(), folder=tmp_path, resume=True), whole())


@pytest.mark.usefixtures("in_memory")
def test_what_a_kill_left_half_written_is_not_read_and_goes(tmp_path: Path):
    interrupt(tmp_path, 4)
    part = tmp_path / "parts" / "block-4-4.partial"
    part.write_bytes((tmp_path / "parts" / "block-0-4.npz").read_bytes()[:5000])
    assert_same_bits(compare(experiment(), folder=tmp_path, resume=True), whole())
    assert files(tmp_path) == {"outcomes.nc"}


@pytest.mark.usefixtures("in_memory")
def test_without_resume_an_interrupted_run_starts_afresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    interrupt(tmp_path, 8)
    counting = Counting(monkeypatch)
    data = compare(experiment(), folder=tmp_path, workers=1)
    assert counting.ran == list(range(12))
    assert_same_bits(data, whole())
    assert files(tmp_path) == {"outcomes.nc"}


@pytest.mark.usefixtures("in_memory")
def test_more_replicates_can_be_added_to_an_interrupted_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    interrupt(tmp_path, 8)
    counting = Counting(monkeypatch)
    data = compare(experiment(), folder=tmp_path, resume=True, replicates=20, workers=1)
    assert counting.ran == list(range(8, 20))
    assert_same_bits(data, compare(experiment(), replicates=20, workers=1))


@pytest.mark.usefixtures("in_memory")
def test_blocks_of_other_replicates_are_not_taken_for_those_asked_for(tmp_path: Path):
    """The same first number and as many of them, but others."""
    interrupt(tmp_path, 4)
    numbers = [0, 21, 22, 23]
    data = compare(experiment(), folder=tmp_path, resume=True, replicates=numbers, workers=1)
    assert_same_bits(data, compare(experiment(), replicates=numbers, workers=1))


CHANGES: dict[str, Callable[[], Any]] = {
    "years": lambda: dataclasses.replace(experiment(), years=7),
    "parameters": lambda: dataclasses.replace(experiment(), fixed_parameters=True),
    "vine": lambda: dataclasses.replace(experiment(), vine=experiment().vine.replace({"mat.front_speed": 0.6})),
    "site": lambda: dataclasses.replace(
        experiment(), site=dataclasses.replace(experiment().site, canopy=experiment().site.canopy * 0.5)
    ),
    "hosts": lambda: dataclasses.replace(
        experiment(),
        site=dataclasses.replace(
            experiment().site,
            hosts=dataclasses.replace(experiment().site.hosts, top_light=experiment().site.hosts.top_light * 0.5),
        ),
    ),
    "strategies": lambda: dataclasses.replace(experiment(), strategies=experiment().strategies[:-1]),
    "a task": lambda: dataclasses.replace(
        experiment(),
        strategies=(
            Strategy("mats only", tasks=[dataclasses.replace(experiment().strategies[2].tasks[0], share=0.5)]),
        ),
    ),
    "crews": lambda: dataclasses.replace(experiment(), crews=experiment().crews[::-1]),
}


@pytest.mark.parametrize("what", sorted(CHANGES))
@pytest.mark.usefixtures("in_memory")
def test_blocks_of_another_experiment_are_refused_and_kept(what: str, tmp_path: Path):
    interrupt(tmp_path, 4)
    before = files(tmp_path)
    with pytest.raises(InputError, match="another comparison"):
        compare(CHANGES[what](), folder=tmp_path, resume=True)
    assert files(tmp_path) == before
    assert_same_bits(compare(experiment(), folder=tmp_path, resume=True), whole())


@pytest.mark.usefixtures("in_memory")
def test_blocks_of_another_seed_are_refused(tmp_path: Path):
    interrupt(tmp_path, 4)
    with pytest.raises(InputError, match="another comparison"):
        compare(experiment(), folder=tmp_path, resume=True, seed=6)
    # the same seed, said another way, is the same comparison
    other = dataclasses.replace(experiment(), seed=6)
    assert_same_bits(compare(other, folder=tmp_path, resume=True, seed=5), whole())


def test_an_older_result_stays_while_a_new_one_is_not_whole(tmp_path: Path):
    older = tmp_path / "outcomes.nc"
    older.write_text("an older result")
    interrupt(tmp_path, 6, when_saved=False)
    assert older.read_text() == "an older result"


@pytest.mark.parametrize("workers", [1, 3])
def test_progress_rises_to_the_whole(workers: int):
    said: list[tuple[int, int]] = []
    compare(experiment(), workers=workers, progress=lambda done, total: said.append((done, total)))
    assert {total for _, total in said} == {12}
    numbers = [done for done, _ in said]
    assert numbers == sorted(numbers)
    assert set(numbers) == set(range(1, 13))


def test_a_fault_in_a_thread_is_raised_and_leaves_nothing_half_written(tmp_path: Path):
    def broken(done: int, total: int) -> None:
        if done == 6:
            raise RuntimeError("the screen is gone")

    with pytest.raises(RuntimeError, match="screen"):
        compare(experiment(), folder=tmp_path, progress=broken, workers=2)
    assert {name for name in files(tmp_path) if "block" in name} == {"parts/block-0-4.npz"}
    assert not (tmp_path / "outcomes.nc").exists()
