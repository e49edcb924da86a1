"""A replicate is its number and the seed alone: not its company, the threads, the blocks or other strategies."""

import dataclasses
import importlib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim import Strategy, compare, simulate
from spreadsim.runs import engine as engine_module

from .small import YEARS, assert_same_bits, experiment, outcomes, strategies

ON_DISK = importlib.import_module("spreadsim.runs.on_disk")


def simulated(replicates: Any, strategy: Strategy | None = None, **more: Any) -> xr.Dataset:
    """The small site under one strategy."""
    case = experiment()
    options = {"crews": case.crews, "years": YEARS, "seed": case.seed, "weather": case.weather, "maps": "replicate"}
    return simulate(case.site, case.vine, strategy or strategies()[0], replicates=replicates, **(options | more))


@cache
def fifty() -> xr.Dataset:
    return simulated(50)


@cache
def compared() -> xr.Dataset:
    return compare(experiment(), workers=1)


def test_the_run_is_worth_comparing():
    """Chance and every process are at work in it, else the same bits would mean nothing."""
    data = fifty()
    for name in ("new_patches", "seeds_exported", "fallen_hosts", "hours", "follow_up_hours", "climbed_hosts"):
        assert np.nansum(data[name].values) > 0, name
        assert len(np.unique(np.nansum(data[name].values.reshape(50, -1), axis=1))) > 5, name
    hours = compared()["hours"].sum(("replicate", "year", "season")).values
    for s, strategy in enumerate(experiment().strategies):
        assert (hours[s, : len(strategy.tasks)] > 0).all(), strategy.name
    assert (np.ptp(compared()["mat_area"].values[:, :, -1], axis=0) > 0).all()


def test_replicate_17_alone_equals_replicate_17_of_50():
    alone = simulated([17])
    assert alone["replicate"].values.tolist() == [17]
    assert_same_bits(alone, fifty().sel(replicate=[17]), outcomes(alone))
    other = fifty().sel(replicate=18)
    assert not np.array_equal(alone["mat_cover"].values[0], other["mat_cover"].values)


def test_replicates_come_in_the_order_asked_for():
    some = simulated([31, 2, 17])
    assert some["replicate"].values.tolist() == [31, 2, 17]
    assert_same_bits(some, fifty().sel(replicate=[31, 2, 17]), outcomes(some))


def test_a_shorter_run_is_the_start_of_a_longer_one():
    """All but the last bits of areas: the order in which equal cells are added goes by how far ahead a run looks."""
    short = simulated(20, years=YEARS - 2)
    long = fifty().sel(replicate=range(20), year=range(YEARS - 1))
    summed = ("mat_area", "infested_area", "known_area", "native_cover")
    assert_same_bits(short, long, [name for name in outcomes(short) if name not in summed])
    for name in summed:
        np.testing.assert_allclose(short[name], long[name], rtol=1e-12)


def test_another_seed_gives_other_worlds():
    assert not np.array_equal(simulated(5, seed=6)["mat.front_speed"], fifty()["mat.front_speed"][:5])
    assert not np.array_equal(
        simulated(5, seed=6, fixed_parameters=True)["mat_cover"], simulated(5, fixed_parameters=True)["mat_cover"]
    )


@pytest.mark.parametrize("workers", [2, 3])
def test_threads_change_nothing(workers: int):
    assert_same_bits(simulated(50, workers=workers), simulated(50, workers=1))
    assert_same_bits(compare(experiment(), workers=workers), compared())


@pytest.mark.parametrize(("size", "strip", "workers"), [(1, 5, 1), (5, 1, 2), (7, 12, 3), (1000, 7, 2)])
def test_blocks_and_strips_change_nothing(
    size: int, strip: int, workers: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(ON_DISK, "BLOCK_SIZE", size)
    monkeypatch.setattr(ON_DISK, "strip_length", lambda width, replicates, block: strip)
    batches = []
    run = ON_DISK.Pool.run
    monkeypatch.setattr(
        ON_DISK.Pool, "run", lambda self, numbers, done: batches.append(len(numbers)) or run(self, numbers, done)
    )
    assert_same_bits(compare(experiment(), folder=tmp_path, workers=workers), compared())
    most = size * -(-2 * workers // size)
    assert batches == [most] * (12 // most) + ([12 % most] if 12 % most else [])


@pytest.mark.parametrize("workers", [1, 4, 9])
def test_maps_are_summed_once_for_as_many_threads_as_strategies(workers: int, monkeypatch: pytest.MonkeyPatch):
    pools = []
    made = ON_DISK.Pool.__init__
    monkeypatch.setattr(ON_DISK.Pool, "__init__", lambda self, *more: made(self, *more) or pools.append(self))
    assert_same_bits(compare(experiment(), workers=workers), compared())
    assert [len(copies) for copies in pools[0].sums.copies] == [{1: 1, 4: 1, 9: 3}[workers]] * 4


def test_maps_of_chosen_years_are_those_of_all_years():
    some = compare(dataclasses.replace(experiment(), map_years=[6, 0, 2]), workers=1)
    assert some.sizes["year"] == YEARS + 1
    for name in ("occupancy", "mean_cover"):
        kept = [0, 2, 6]
        assert np.array_equal(some[name].values[:, kept], compared()[name].values[:, kept])
        assert np.isnan(some[name].values[:, [1, 3, 4, 5]]).all()
        assert not np.isnan(compared()[name]).any()


def test_a_strategy_is_the_same_whatever_it_is_compared_with():
    first, second, third = strategies()
    others = {
        "reversed": (third, second, first),
        "two": (second, first),
        "one": (first,),
        "with a double": (
            first,
            Strategy("its double", tasks=first.tasks, reserve_follow_up=first.reserve_follow_up),
            third,
        ),
    }
    for label, chosen in others.items():
        data = compare(dataclasses.replace(experiment(), strategies=chosen), workers=1)
        for strategy in ("no action", *(s.name for s in chosen if s.name != "its double")):
            one, reference = data.sel(strategy=strategy), compared().sel(strategy=strategy)
            tasks = min(one.sizes["task"], reference.sizes["task"])
            # treatments that no strategy uses are not drawn
            names = [name for name in outcomes(one) if name in reference]
            assert_same_bits(one.isel(task=slice(tasks)), reference.isel(task=slice(tasks)), names), label
            assert_same_bits(one, reference, ("occupancy", "mean_cover"))
    double = data.drop_vars(("strategy", "task_name"))
    assert_same_bits(double.isel(strategy=1), double.isel(strategy=2))


def test_all_strategies_meet_the_same_parameters_and_the_same_start():
    data = compared()
    for name in outcomes(data):
        if "." in name:
            assert data[name].dims == ("replicate",)
    for name in ("mat_area", "infested_area", "climbed_hosts", "fruiting_hosts", "native_cover"):
        start = data[name].isel(year=0).values
        assert (start == start[:1]).all(), name


def test_simulate_gives_what_compare_gives():
    data = compared()
    for strategy in (None, *strategies()):
        one = simulated(12, strategy or Strategy("no action"), maps="mean")
        reference = data.sel(strategy=strategy.name if strategy else "no action")
        assert "strategy" not in one.dims
        tasks = one.sizes["task"]
        names = [name for name in outcomes(one) if name in reference]
        assert_same_bits(one, reference.isel(task=slice(tasks)), [*names, "occupancy", "mean_cover"])


def test_a_list_of_seedlings_too_short_is_enlarged_with_the_same_results(monkeypatch: pytest.MonkeyPatch):
    """The default of an argument is read when the function is made, so it is replaced where it is kept."""
    enough = compared()
    sizes = []
    run = engine_module.Memory.run

    def noted(self: Any, *arguments: Any) -> None:
        before = self.state.seedlings.size
        run(self, *arguments)
        sizes.append((before, self.state.seedlings.size))

    monkeypatch.setattr(engine_module.Memory, "run", noted)
    monkeypatch.setattr(engine_module.new_state, "__defaults__", (2,))
    short = compare(experiment(), workers=1)
    assert sizes[0][0] == 2
    assert sizes[0][1] > 2
    assert len({after for _, after in sizes}) > 1  # in later replicates again
    assert_same_bits(short, enough)
    own = simulated(12, maps="replicate", workers=1)
    assert_same_bits(own, fifty().sel(replicate=range(12)), outcomes(own))
