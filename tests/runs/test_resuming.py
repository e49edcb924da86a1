"""What is written is whole, and an interrupted run goes on where it was."""

import dataclasses
import importlib
import json
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray as xr

from spreadsim import InputError, Strategy, cli, compare, experiment_of, open_outcomes, read_experiment
from spreadsim.views import report

from .small import assert_same_bits, experiment

ON_DISK = importlib.import_module("spreadsim.runs.on_disk")
BLOCK = 4


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three blocks of four replicates, each counted as finished as soon as it is, and written in strips of five."""
    monkeypatch.setattr(ON_DISK, "BLOCK_SIZE", BLOCK)
    monkeypatch.setattr(ON_DISK, "COMMIT_SHARE", 0.0)
    monkeypatch.setattr(ON_DISK, "strip_length", lambda width, replicates, block: min(5, replicates))


@cache
def whole() -> xr.Dataset:
    return compare(experiment(), workers=1)


@pytest.fixture
def in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep what would be written to outcomes.nc: writing some 130 variables takes a second."""
    written: dict[Path, xr.Dataset] = {}

    def fill(path: Path, strips: Any, layers: Any, replicates: Any) -> None:
        pieces = list(strips)
        written[path] = xr.concat(pieces, "replicate", data_vars="minimal", coords="minimal", compat="override")
        for strategy, year, maps in layers:
            for name, layer in maps.items():
                if not written[path][name].values.flags.writeable:
                    written[path][name] = written[path][name].copy(data=written[path][name].values.copy())
                written[path][name].values[strategy, year] = layer
        assert written[path]["replicate"].values.tolist() == list(replicates)
        path.touch()

    monkeypatch.setattr(ON_DISK, "fill", fill)
    monkeypatch.setattr(ON_DISK, "open_outcomes", written.__getitem__)


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
        run = ON_DISK.Pool.run

        def noted(pool: Any, numbers: Any, done: Callable[[int], Any]) -> Any:
            self.ran += list(numbers)
            return run(pool, numbers, done)

        monkeypatch.setattr(ON_DISK.Pool, "run", noted)


def interrupt(folder: Path, done: int = BLOCK, when_saved: bool = True, **options: Any) -> Stop:
    """Begin a comparison and interrupt it."""
    stop = Stop(done, when_saved)
    with pytest.raises(KeyboardInterrupt):
        compare(experiment(), folder=folder, progress=stop, **({"workers": 1} | options))
    return stop


def files(folder: Path) -> set[str]:
    """Everything in a folder, with what is in its folders."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def finished(folder: Path) -> list[list[int]]:
    """Places of the replicates that count as finished, as one marker says."""
    markers = list((folder / "unfinished.zarr").glob("finished-*.json"))
    assert len(markers) <= 1
    return [place for marker in markers for place in json.loads(marker.read_text())]


def test_a_folder_gets_outcomes_and_nothing_else(tmp_path: Path):
    data = compare(experiment(), folder=tmp_path, workers=2)
    assert files(tmp_path) == {"outcomes.nc"}
    assert [path.name for path in tmp_path.iterdir()] == ["outcomes.nc"]
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


def test_outcomes_alone_give_the_same_bits_again_from_the_command_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """In a folder with nothing else; and a store of Zarr is as good as the file, values and all."""
    monkeypatch.setattr(report, "write_files", lambda *_, **__: [])
    compare(experiment(), folder=tmp_path / "first", workers=1).close()
    for source in ("first/outcomes.nc", "again/outcomes.zarr"):
        place = tmp_path / "alone"
        place.mkdir()
        (tmp_path / source).rename(place / Path(source).name)
        out = tmp_path / ("again" if source.endswith("nc") else "third")
        assert cli.main(["compare", str(place / Path(source).name), "--out", str(out), "--zarr"]) == 0
        for name in ("outcomes.nc", "outcomes.zarr"):
            with open_outcomes(out / name) as again:
                assert_same_bits(again, whole())
                assert experiment_of(again) == experiment()
                said = {name: variable.attrs for name, variable in again.variables.items()}
                for name, variable in whole().variables.items():
                    assert said[name].keys() == variable.attrs.keys(), name
        shutil.rmtree(place)


def test_a_changed_file_is_not_run_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    compare(experiment(), folder=tmp_path, workers=1).close()
    with h5py.File(tmp_path / "outcomes.nc", "r+") as file:
        file["input_mat"][0, 0] = 0.25
    assert cli.main(["compare", str(tmp_path / "outcomes.nc"), "--out", str(tmp_path / "again")]) == 2
    assert "outcomes.nc: input_mat: found values that were changed" in capsys.readouterr().err
    assert not (tmp_path / "again").exists()


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
    assert finished(tmp_path) == ([[0, saved * BLOCK]] if saved else [])
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
    assert finished(tmp_path) == [[0, 8]]
    assert_same_bits(compare(experiment(), folder=tmp_path, resume=True), whole())


@pytest.mark.usefixtures("in_memory")
def test_what_a_kill_left_half_written_is_not_read_and_goes(tmp_path: Path):
    interrupt(tmp_path, 4)
    store = tmp_path / "unfinished.zarr"
    rows = (store / "rows" / "c" / "0" / "0").read_bytes()
    (store / "rows" / "c" / "1").mkdir()
    (store / "rows" / "c" / "1" / "0").write_bytes(rows)  # of a block that no marker counts
    (store / "rows" / "c" / "2").mkdir()
    (store / "rows" / "c" / "2" / "0.partial").write_bytes(rows[:500])
    (sums,) = [path for path in (store / "sums").iterdir() if path.is_dir()]
    shutil.copytree(sums, store / "sums" / "here-1")  # sums that no marker counts
    (store / ".finished-here-1.json.77.part").write_text("[[0, 8")
    (tmp_path / ".outcomes.nc.77.part").write_bytes(b"half")
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
    for numbers in ([0, 21, 22, 23], [0, 1, 2], [3, 2, 1, 0]):
        with pytest.raises(InputError, match="finished replicates that are not among the"):
            compare(experiment(), folder=tmp_path, resume=True, replicates=numbers, workers=1)
    numbers = [0, 1, 2, 3, 21, 22, 20]
    data = compare(experiment(), folder=tmp_path, resume=True, replicates=numbers, workers=1)
    assert_same_bits(data, compare(experiment(), replicates=numbers, workers=1))


# what is changed, and the words that name the difference
CHANGES: dict[str, tuple[Callable[[], Any], str]] = {
    "years": (lambda: dataclasses.replace(experiment(), years=7), "years: 6 there, 7 now"),
    "parameters": (
        lambda: dataclasses.replace(experiment(), fixed_parameters=True),
        "fixed_parameters: False there, True now",
    ),
    "vine": (
        lambda: dataclasses.replace(experiment(), vine=experiment().vine.replace({"mat.front_speed": 0.6})),
        "vine.*front_speed.*, 0.6 now",
    ),
    "site": (
        lambda: dataclasses.replace(
            experiment(), site=dataclasses.replace(experiment().site, canopy=experiment().site.canopy * 0.5)
        ),
        "site.canopy differs",
    ),
    "hosts": (
        lambda: dataclasses.replace(
            experiment(),
            site=dataclasses.replace(
                experiment().site,
                hosts=dataclasses.replace(experiment().site.hosts, top_light=experiment().site.hosts.top_light * 0.5),
            ),
        ),
        "site.hosts.top_light differs",
    ),
    "strategies": (
        lambda: dataclasses.replace(experiment(), strategies=experiment().strategies[:-1]),
        "strategies differs",
    ),
    "a task": (
        lambda: dataclasses.replace(
            experiment(),
            strategies=(
                *experiment().strategies[1:3],
                Strategy("spray", tasks=[dataclasses.replace(experiment().strategies[3].tasks[0], share=0.5)]),
            ),
        ),
        r"strategies\[3\].tasks differs",
    ),
    "crews": (
        lambda: dataclasses.replace(experiment(), crews=experiment().crews[::-1]),
        "name: 'friends' there, 'staff' now",
    ),
    "years of maps": (lambda: dataclasses.replace(experiment(), map_years=[0, 6]), "map_years"),
}


@pytest.mark.parametrize("what", sorted(CHANGES))
@pytest.mark.usefixtures("in_memory")
def test_blocks_of_another_experiment_are_refused_and_kept(what: str, tmp_path: Path):
    interrupt(tmp_path, 4)
    before = files(tmp_path)
    changed, told = CHANGES[what]
    with pytest.raises(InputError, match=rf"another comparison \(.*{told}.*\)"):
        compare(changed(), folder=tmp_path, resume=True)
    assert files(tmp_path) == before
    assert_same_bits(compare(experiment(), folder=tmp_path, resume=True), whole())


@pytest.mark.usefixtures("in_memory")
def test_blocks_of_another_seed_are_refused(tmp_path: Path):
    interrupt(tmp_path, 4)
    with pytest.raises(InputError, match=r"another comparison \(seed: 5 there, 6 now\)"):
        compare(experiment(), folder=tmp_path, resume=True, seed=6)
    # the same seed, said another way, is the same comparison
    other = dataclasses.replace(experiment(), seed=6)
    assert_same_bits(compare(other, folder=tmp_path, resume=True, seed=5), whole())


def test_a_run_that_ended_is_not_run_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    compare(experiment(), folder=tmp_path, workers=1).close()
    written = (tmp_path / "outcomes.nc").stat()
    (tmp_path / "unfinished.zarr" / "rows").mkdir(parents=True)  # where a kill came while the store was removed
    expected = whole()  # run here, if no test before this one has, so before the counting
    counting = Counting(monkeypatch)
    said: list[tuple[int, int]] = []
    data = compare(experiment(), folder=tmp_path, resume=True, progress=lambda done, total: said.append((done, total)))
    assert_same_bits(data, expected)
    data.close()
    assert counting.ran == [] and said == [(12, 12)]
    assert (tmp_path / "outcomes.nc").stat() == written
    assert files(tmp_path) == {"outcomes.nc"} and not (tmp_path / "unfinished.zarr").exists()
    with pytest.raises(InputError, match=r"whole outcomes of another comparison \(seed: 5 there, 6 now\)"):
        compare(experiment(), folder=tmp_path, resume=True, seed=6)
    assert (tmp_path / "outcomes.nc").stat() == written
    compare(experiment(), folder=tmp_path, resume=True, replicates=13, workers=1).close()
    assert counting.ran == list(range(13))  # nothing of the shorter run is left but its result


def test_the_command_line_says_that_a_run_had_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(report, "write_files", lambda *_, **__: [])
    compare(experiment(), folder=tmp_path, workers=1).close()
    again = ["compare", str(tmp_path / "outcomes.nc"), "--out", str(tmp_path / "again")]
    told = "nothing was left to run: outcomes.nc was whole"
    for more, says in (([], False), (["--resume"], True)):
        assert cli.main([*again, *more]) == 0
        out, err = capsys.readouterr()
        assert "Infested area" in out
        assert (told in err) is says


@pytest.mark.parametrize("when", ["before", "while", "after"])
def test_what_is_finished_is_written_though_the_writing_was_interrupted(
    when: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    fill = ON_DISK.fill

    def stopped(path: Path, strips: Any, layers: Any, replicates: Any) -> None:
        def until_half() -> Any:
            for k, layer in enumerate(layers):
                if k == 3:
                    raise KeyboardInterrupt
                yield layer

        if when == "while":
            fill(path, strips, until_half(), replicates)
        if when == "after":
            fill(path, strips, layers, replicates)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(ON_DISK, "fill", stopped)
        with pytest.raises(KeyboardInterrupt):
            compare(experiment(), folder=tmp_path, workers=1)
    assert finished(tmp_path) == [[0, 12]]
    assert not list(tmp_path.glob("*.part"))
    counting = Counting(monkeypatch)
    data = compare(experiment(), folder=tmp_path, resume=True)
    assert counting.ran == []
    assert_same_bits(data, whole())
    assert files(tmp_path) == {"outcomes.nc"}


def test_a_folder_takes_one_run_at_a_time(tmp_path: Path):
    def second(done: int, total: int) -> None:
        if done == 6:
            with pytest.raises(InputError, match="another run that is writing there"):
                compare(experiment(), folder=tmp_path, resume=True)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compare(experiment(), folder=tmp_path, progress=second, workers=1)
    assert finished(tmp_path) == [[0, 4]]


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
    assert finished(tmp_path) == [[0, 4]]
    assert not (tmp_path / "outcomes.nc").exists()
