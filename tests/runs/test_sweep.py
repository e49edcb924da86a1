"""Sweeps: every point is a comparison in the same worlds; streamed, resumed and run elsewhere with the same bits."""

import dataclasses
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray as xr

from spreadsim import (
    Experiment,
    Factor,
    InputError,
    Weather,
    compare,
    contrast,
    grid,
    latin_hypercube,
    listed,
    load_treatment,
    load_vine,
    open_outcomes,
    read_design,
    read_experiment,
    sweep,
)
from spreadsim.runs import sweep_point

from .small import assert_same_bits, experiment

WORLDS = 3
FEW = ("infested_area", "fruiting_hosts", "hours")
PULL = "strategies.mats only.tasks.pull"
FACTORS = (
    Factor("mat.front_speed"),
    Factor("crews.staff.hours_factor", low=0.5, high=2.0),
    Factor(f"{PULL}.order", values=["by unit", "largest first"]),
)
DESIGN = latin_hypercube(FACTORS, 4, seed=3)


@cache
def swept() -> xr.Dataset:
    return sweep(experiment(), DESIGN, replicates=WORLDS, outcomes=FEW)


def changed(**parts: Any) -> Experiment:
    return dataclasses.replace(experiment(), **parts)


def with_pull(**changes: Any) -> Experiment:
    """The experiment with the one task of "mats only" changed by hand."""
    strategies = list(experiment().strategies)
    task = dataclasses.replace(strategies[2].tasks[0], **changes)
    strategies[2] = dataclasses.replace(strategies[2], tasks=(task,))
    return changed(strategies=tuple(strategies))


def with_staff(**changes: Any) -> Experiment:
    friends, staff = experiment().crews
    return changed(crews=(friends, dataclasses.replace(staff, **changes)))


def held(profile: Any, name: str, value: float) -> Any:
    return profile.replace({name: {"value": value, "low": value, "high": value}})


FOLLOWED = experiment().strategies[2].tasks[0].follow_up
# path, value, the experiment made by hand
POINTS: dict[str, tuple[str, Any, Callable[[], Experiment]]] = {
    "a parameter": ("mat.front_speed", 0.4, lambda: changed(vine=held(experiment().vine, "mat.front_speed", 0.4))),
    "one of the links to a patch": (
        "seed.germination",
        0.5,
        lambda: changed(vine=held(experiment().vine, "seed.germination", 0.5)),
    ),
    "a treatment": (
        "pull.mat_kill",
        0.75,
        lambda: changed(treatments=(held(load_treatment("pull"), "mat_kill", 0.75),)),
    ),
    "hours": ("crews.staff.hours", 5, lambda: with_staff(hours=5)),
    "a factor of hours": ("crews.staff.hours_factor", 0.5, lambda: with_staff(hours=6)),
    "pace": ("crews.staff.pace", 1.5, lambda: with_staff(pace=1.5)),
    "a share": (f"{PULL}.share", 0.5, lambda: with_pull(share=0.5)),
    "an order": (f"{PULL}.order", "by unit", lambda: with_pull(order="by unit")),
    "another treatment": (f"{PULL}.treatment", "mow", lambda: with_pull(treatment="mow")),
    "follow-up": (
        f"{PULL}.follow_up.every",
        5,
        lambda: with_pull(follow_up=dataclasses.replace(FOLLOWED, every=5)),
    ),
    "weather": ("weather.fit_days", 1.0, lambda: changed(weather=Weather(1.0))),
    "years": ("years", 4, lambda: changed(years=4)),
    "no spread of parameters": ("fixed_parameters", True, lambda: changed(fixed_parameters=True)),
    "another vine": ("vine", "english-ivy", lambda: changed(vine=load_vine("english-ivy"))),
}


@pytest.mark.parametrize("what", POINTS)
def test_a_point_is_the_comparison_of_its_experiment(what: str):
    path, value, made = POINTS[what]
    data = sweep(experiment(), listed([{path: value}]), replicates=WORLDS)
    single = compare(made(), replicates=WORLDS)
    here = data.isel(design=0)
    absent = {str(name) for name in single.variables if name not in here.variables}
    assert absent == {"occupancy", "mean_cover"}
    same = [name for name in single.variables if name in here.variables and not str(name).startswith("input_")]
    same = [name for name in same if name != path]  # drawn there, and a coordinate here
    assert_same_bits(here, single, same)
    assert data[path].dims == ("design",)


def test_a_sweep_whose_one_point_is_the_experiment_is_the_comparison():
    """All variables, maps included; "years" is named as a factor and not changed."""
    names = [str(name) for name in compare(experiment(), replicates=1).data_vars if name in sweep_names()]
    data = sweep(experiment(), grid([Factor("years", values=[6])]), outcomes=names)
    single = compare(experiment())
    assert_same_bits(data.isel(design=0), single, single.variables)
    assert int(data.sizes["replicate"]) == experiment().replicates


def test_a_sweep_keeps_the_maps_that_were_asked_for():
    """Of the years that `compare` keeps, at every point, and by default none."""
    small = changed(map_years=(0, 4))
    design = listed([{"years": 6}, {"years": 5}])
    data = sweep(small, design, replicates=WORLDS, outcomes=["occupancy"])
    known = np.isfinite(data["occupancy"]).all(["strategy", "y", "x"])
    assert known.values.tolist() == 2 * [[year in (0, 4) for year in range(7)]]
    assert_same_bits(data.isel(design=0), compare(small, replicates=WORLDS), ["occupancy"])
    assert "occupancy" not in swept()


def sweep_names() -> set[str]:
    from spreadsim.schema import VARIABLES

    return set(VARIABLES)


def test_all_points_have_the_same_worlds():
    """What is not swept is drawn once for all; a swept parameter is a coordinate."""
    data = swept()
    single = compare(experiment(), replicates=WORLDS)
    drawn = [name for name in single.data_vars if "." in str(name)]
    assert_same_bits(data, single, [name for name in drawn if name != "mat.front_speed"])
    assert data["mat.front_speed"].dims == ("design",)
    assert len(np.unique(data["mat.front_speed"])) == 4
    assert list(data[f"{PULL}.order"].values) == [row[2] for row in rows()]
    assert list(data["design"].values) == [0, 1, 2, 3]


def rows() -> tuple[tuple[Any, ...], ...]:
    from spreadsim.inputs import bind

    return bind(experiment(), DESIGN).rows


def test_what_is_drawn_together_with_a_swept_parameter_may_change_with_it():
    data = sweep(experiment(), listed([{"seed.germination": 0.3}, {"seed.germination": 0.6}]), replicates=WORLDS)
    assert data["seed.microsite_share"].dims == ("design", "replicate")
    assert data["mat.front_speed"].dims == ("replicate",)


def test_analysis_works_on_a_point():
    point = swept().sel(design=2)
    assert float(contrast(point, "hours", "mats only", "no action")["mean"]) > 0


@pytest.mark.parametrize("workers", [1, 3])
def test_neither_threads_nor_the_other_points_matter(workers: int):
    one = {factor.name: value for factor, value in zip(FACTORS, rows()[2], strict=True)}
    data = sweep(experiment(), listed([one]), replicates=[2, 0, 1], outcomes=FEW[::-1], workers=workers)
    for name in FEW:
        wanted = swept()[name].isel(design=2).sel(replicate=[2, 0, 1])
        assert np.array_equal(data[name].isel(design=0), wanted, equal_nan=True)


class Counting:
    """Notes which strategies are run."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.ran: list[str] = []
        world_of = sweep_point.world_of

        def noted(experiment: Any, strategies: Any) -> Any:
            self.ran += [strategy.name for strategy in strategies]
            return world_of(experiment, strategies)

        monkeypatch.setattr(sweep_point, "world_of", noted)


def test_a_strategy_for_which_nothing_changes_is_run_once(monkeypatch: pytest.MonkeyPatch):
    counting = Counting(monkeypatch)
    sweep(experiment(), grid([Factor(f"{PULL}.share", values=[0.2, 0.5, 1.0])]), replicates=1, outcomes=FEW)
    assert sorted(counting.ran) == sorted(["no action", "stems first", "spray", *["mats only"] * 3])


def test_points_of_fewer_years_have_missing_later_ones():
    data = sweep(experiment(), grid([Factor("years", values=[4, 6])]), replicates=WORLDS, outcomes=FEW)
    assert data.sizes["year"] == 7
    assert bool(data["fruiting_hosts"].isel(design=0).sel(year=[5, 6]).isnull().all())
    short = compare(changed(years=4), replicates=WORLDS)
    for name in FEW:
        here = data[name].isel(design=0).sel(year=slice(0, 4))
        assert np.array_equal(here, short[name], equal_nan=True)
    assert not bool(data["fruiting_hosts"].isel(design=1).isnull().any())


def test_where_treatments_are_swept_names_and_draws_say_so():
    data = sweep(
        experiment(), grid([Factor(f"{PULL}.treatment", values=["pull", "tarp"])]), replicates=WORLDS, outcomes=FEW
    )
    assert str(data["task_name"].sel(strategy="mats only", task=0).item()) == "pull or tarp"
    assert bool(data["tarp.mat_kill"].isel(design=0).isnull().all())
    assert not bool(data["tarp.mat_kill"].isel(design=1).isnull().any())


def files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_a_folder_gets_one_file_that_is_the_same_and_can_be_run_again(tmp_path: Path):
    data = sweep(experiment(), DESIGN, replicates=WORLDS, outcomes=FEW, folder=tmp_path)
    assert_same_bits(data, swept())
    assert files(tmp_path) == {"sweep.nc"}
    data.close()
    path = tmp_path / "sweep.nc"
    with open_outcomes(path) as again:
        assert_same_bits(again, swept())
        for name, variable in swept().variables.items():
            for key, value in variable.attrs.items():
                assert np.array_equal(again[name].attrs[key], value), (name, key)
    assert read_design(path) == DESIGN
    assert read_experiment(path) == changed(replicates=WORLDS)
    with h5py.File(path, "r+") as file:
        file["input_sweep"][5] += 1
    assert read_experiment(path) == changed(replicates=WORLDS)
    with pytest.raises(InputError, match=r"sweep\.nc: input_sweep: found values that were changed"):
        read_design(path)


class Stop:
    """Progress that interrupts when so many replicates are done, at the first or the second time that it is told so."""

    def __init__(self, done: int, times: int) -> None:
        self.done, self.times = done, times

    def __call__(self, done: int, total: int) -> None:
        assert 0 <= done <= total == len(rows()) * WORLDS
        self.times -= done == self.done
        if self.times <= 0:
            raise KeyboardInterrupt


def interrupt(folder: Path, done: int, times: int = 2, **options: Any) -> None:
    with pytest.raises(KeyboardInterrupt):
        sweep(experiment(), DESIGN, **KEPT, folder=folder, progress=Stop(done, times), **options)


KEPT: dict[str, Any] = {"replicates": WORLDS, "outcomes": FEW}


@pytest.fixture
def in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep what would be written to sweep.nc: writing some hundred variables takes seconds."""
    import sys

    module = sys.modules["spreadsim.runs.sweep"]
    written: dict[Path, list[xr.Dataset]] = {}

    def write(pieces: Any, dim: str, path: Path) -> None:
        written[path] = list(pieces)

    def opened(path: Path) -> xr.Dataset:
        first, *rest = written[path]
        names = [name for name in first.variables if "design" in first[name].dims]
        along = xr.concat([first[names], *(piece[names] for piece in rest)], "design")
        return first.drop_vars(names).drop_dims("design", errors="ignore").merge(along)

    monkeypatch.setattr(module, "write_along", write)
    monkeypatch.setattr(module, "open_outcomes", opened)


@pytest.mark.parametrize(("done", "times"), [(WORLDS, 2), (2 * WORLDS - 1, 1), (3 * WORLDS, 2), (4 * WORLDS - 1, 1)])
@pytest.mark.usefixtures("in_memory")
def test_an_interrupted_sweep_goes_on_with_the_same_bits(
    done: int, times: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    interrupt(tmp_path, done, times)
    finished = done // WORLDS
    assert files(tmp_path) == {"points/sweep.json", *(f"points/point-{k:06d}.npz" for k in range(finished))}
    counting = Counting(monkeypatch)
    data = sweep(experiment(), DESIGN, **KEPT, folder=tmp_path, resume=True)
    assert len(counting.ran) == 4 * (4 - finished)
    assert_same_bits(data, swept())
    assert files(tmp_path) == set()


@pytest.mark.usefixtures("in_memory")
def test_what_a_kill_left_half_written_is_not_read_and_goes(tmp_path: Path):
    interrupt(tmp_path, WORLDS)
    half = (tmp_path / "points" / "point-000000.npz").read_bytes()[:3000]
    (tmp_path / "points" / "point-000001.partial").write_bytes(half)
    assert_same_bits(sweep(experiment(), DESIGN, **KEPT, folder=tmp_path, resume=True), swept())
    assert files(tmp_path) == set()


OTHERS: dict[str, tuple[dict[str, Any], str]] = {
    "points": ({"design": latin_hypercube(FACTORS, 4, seed=4)}, "its factors or their values differ"),
    "replicates": ({"replicates": 2}, "its replicates differ"),
    "outcomes": ({"outcomes": FEW[:1]}, "its choice of outcomes differ"),
    "experiment": (
        {"experiment": changed(fixed_parameters=True)},
        "its experiment, site, seed or program version differ",
    ),
    "seed": ({"seed": 6}, "its experiment, site, seed"),
}


@pytest.mark.parametrize("what", OTHERS)
@pytest.mark.usefixtures("in_memory")
def test_another_sweep_is_refused_with_the_reason_and_what_is_there_is_kept(what: str, tmp_path: Path):
    changes, told = OTHERS[what]
    interrupt(tmp_path, WORLDS)
    before = files(tmp_path)
    given = {"experiment": experiment(), "design": DESIGN, **KEPT, **changes}
    with pytest.raises(InputError) as caught:
        sweep(**given, folder=tmp_path, resume=True)
    assert "another run" in str(caught.value) and told in str(caught.value)
    assert files(tmp_path) == before


def test_a_finished_sweep_is_not_run_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    design = grid([Factor("years", values=[3])])
    few = {"replicates": 1, "outcomes": FEW[:1], "folder": tmp_path, "resume": True}
    first = sweep(experiment(), design, **few).load()
    counting = Counting(monkeypatch)
    assert_same_bits(sweep(experiment(), design, **few), first)
    assert counting.ran == []
    with pytest.raises(InputError, match=r"sweep.nc: found the outcomes of another run \(its factors"):
        sweep(experiment(), grid([Factor("years", values=[4])]), **few)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"experiment": "experiment.toml"}, "an Experiment"),
        ({"design": [1]}, "a Design"),
        ({"outcomes": ["nonsense"]}, "outcomes: found 'nonsense', allowed one of \"mat_area\""),
        ({"outcomes": "infested_area"}, "a list of one of"),
        ({"outcomes": ["mat_cover"]}, "mat_cover"),
        ({"resume": True}, "without a folder"),
        ({"replicates": 0}, "1 or more"),
        ({"workers": 0}, "1 or more"),
        (
            {"design": grid([Factor("mat.speed", values=[1]), Factor("mat.front_speed", values=[99])])},
            "mat.front_speed",
        ),
    ],
)
def test_what_cannot_be_used_is_refused_before_anything_is_run(options: dict[str, Any], told: str, tmp_path: Path):
    given = {"experiment": experiment(), "design": DESIGN, "replicates": 1} | options
    if "resume" not in options:
        given["folder"] = tmp_path / "new"
    with pytest.raises(InputError) as caught:
        sweep(**given)
    assert told.replace("'", '"') in str(caught.value)
    assert not (tmp_path / "new").exists()


def test_parameters_that_no_draw_can_fulfil_are_told_with_the_point():
    design = listed([{"seed.germination": 0.5}, {"seed.germination": 0.0}], beyond_range=True)
    with pytest.raises(InputError, match=r"design point 1: vine wintercreeper: seed.patches_founded"):
        sweep(experiment(), design, replicates=1, outcomes=FEW)


@pytest.mark.slow
def test_a_cluster_of_processes_gives_the_same_bits():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, scheduler_port=0
    ) as cluster:
        data = sweep(experiment(), DESIGN, **KEPT, cluster=cluster.scheduler_address)
    assert_same_bits(data, swept())
