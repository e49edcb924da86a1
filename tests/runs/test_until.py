"""Run until sure: the same bits as one run of as many, only new replicates are run, and it says why it stopped."""

import dataclasses
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim import InputError, compare, compare_until
from spreadsim.runs import growing, until
from spreadsim.runs.joining import MOST_TOGETHER, fold_maps, join
from spreadsim.runs.until import numbers_of_looks

from .small import assert_same_bits, experiment

WIDE = {"infested_area": "60%"}  # a width that some look between the first and the last reaches
NARROW = {"infested_area": 1e-3, "fruiting_hosts": "0.001%"}


@cache
def of_80() -> xr.Dataset:
    return compare(experiment(), replicates=80)


@pytest.fixture
def ran(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Numbers of the replicates that are run; what would be written for each part is kept in memory instead."""
    numbers: list[int] = []

    def noted(inputs: Any, **options: Any) -> xr.Dataset:
        numbers.extend(options["replicates"])
        return compare(inputs, **options)

    monkeypatch.setattr(growing, "compare", noted)
    return numbers


def test_looks_double_up_to_the_most():
    assert list(numbers_of_looks(50, 400)) == [50, 100, 200, 400]
    assert list(numbers_of_looks(50, 300)) == [50, 100, 200, 300]
    assert list(numbers_of_looks(50, 50)) == [50]


def test_what_comes_out_is_the_comparison_of_as_many_and_each_is_run_once(ran: list[int]):
    found = compare_until(experiment(), NARROW, goal="width", first=20, most=80)
    assert not found.sure
    assert [look.replicates for look in found.looks] == [20, 40, 80] and found.replicates == 80
    assert ran == list(range(80))
    assert_same_bits(found.outcomes, of_80())
    attrs = dict(found.outcomes.attrs)
    assert attrs.pop("until") == " ".join(found.story())
    assert attrs == of_80().attrs


def test_it_stops_at_the_first_look_that_is_sure(ran: list[int]):
    found = compare_until(experiment(), WIDE, goal="width", first=20, most=1280)
    assert found.sure and len(found.looks) < 7
    assert len(ran) == found.replicates
    assert [look.reached("width") for look in found.looks] == [False] * (len(found.looks) - 1) + [True]
    (seen,) = found.looks[-1].seen
    no_action = found.outcomes["infested_area"].sel(strategy="no action").isel(year=-1)
    assert seen.wanted == pytest.approx(0.6 * float(no_action.mean()))
    assert all(one.reach <= seen.wanted for one in seen.differences)


def test_the_means_it_speaks_of_are_those_of_the_outcomes():
    found = compare_until(experiment(), {"fruiting_hosts": 1.0, "hours": 5.0}, year=4, first=20, most=20)
    values = found.outcomes["fruiting_hosts"].sel(year=4).mean("replicate")
    hours = found.outcomes["hours"].sel(year=4).sum(["season", "task"]).mean("replicate")
    for seen, means in zip(found.looks[0].seen, (values, hours), strict=True):
        assert len(seen.differences) == 6
        for one in seen.differences:
            wanted = float(means.sel(strategy=one.first) - means.sel(strategy=one.second))
            assert one.mean == pytest.approx(wanted)
            assert one.low <= one.mean <= one.high
        assert seen.best == str(means["strategy"].values[int(means.values.argmin())])


def test_it_says_how_many_it_took_and_why():
    sure = compare_until(experiment(), {"infested_area": 1e6}, first=20, most=80).story()
    assert sure[0].startswith("Sure after 20 replicates, one look (20)")
    assert "end of year 6" in sure[1] and "100.0 ha asked for" in sure[1]
    assert "confidence 90 %" in sure[-1] and "spread over the looks" in sure[-1]
    unsure = compare_until(experiment(), NARROW, goal="width", first=20, most=40).story("us")
    assert unsure[0].startswith("Not sure after 40 replicates, 2 looks (20, 40), the most")
    assert "ft2" in unsure[1] or "acre" in unsure[1]


def test_maps_come_back_from_their_shares_whatever_the_parts():
    """Cover of every cell full, in the most replicates that may be run together, is the hardest to give back."""
    data = compare(experiment(), replicates=2)
    random = np.random.default_rng(3)

    def part(first: int, count: int, sums: np.ndarray, cover: np.ndarray) -> xr.Dataset:
        one = data.isel(replicate=[0] * count).assign_coords(replicate=np.arange(first, first + count))
        shape = data["occupancy"].shape
        return one.assign(
            occupancy=(data["occupancy"].dims, (sums / count).astype("f4").reshape(shape)),
            mean_cover=(data["occupancy"].dims, (cover / (10_000 * count)).astype("f4").reshape(shape)),
        )

    cells = data["occupancy"].size
    counts = (MOST_TOGETHER, MOST_TOGETHER - 1, 333)
    sums = [random.integers(0, count + 1, cells) for count in counts]
    cover = [random.integers(9_000 * count, 10_000 * count + 1, cells) for count in counts]
    starts = np.cumsum([0, *counts[:-1]])
    parts = [part(*row) for row in zip(starts, counts, sums, cover, strict=True)]
    whole = part(0, sum(counts), sum(sums), sum(cover))
    joined = join(parts, experiment())
    assert_same_bits(joined, whole, ["occupancy", "mean_cover", "infested_area", "replicate"])
    folded: dict[str, np.ndarray] = {}
    light = [parts[0], *(fold_maps(one, folded) for one in parts[1:])]
    assert not {"occupancy", "mean_cover"} & {name for one in light[1:] for name in one.variables}
    assert_same_bits(join(light, experiment(), folded), joined)


def test_without_a_folder_maps_of_one_part_alone_are_held(monkeypatch: pytest.MonkeyPatch):
    """However many parts are run: the first has its maps, all others are folded into one sum."""
    parts: list[xr.Dataset] = []
    monkeypatch.setattr(growing, "MOST_TOGETHER", 10)
    monkeypatch.setattr(until, "join", lambda given, *more: parts.extend(given) or join(given, *more))
    found = compare_until(experiment(), NARROW, goal="width", first=20, most=40)
    assert [("occupancy" in one, "mean_cover" in one) for one in parts] == [(True, True)] + 3 * [(False, False)]
    assert_same_bits(found.outcomes, compare(experiment(), replicates=40), ["occupancy", "mean_cover"])


def files(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_an_interrupted_run_goes_on_and_one_that_was_not_sure_can_be_gone_on_with(tmp_path: Path, ran: list[int]):
    def stop(done: int, total: int) -> None:
        if total == 40 and done > 20:
            raise KeyboardInterrupt

    options: dict[str, Any] = {"goal": "width", "first": 20, "folder": tmp_path}
    with pytest.raises(KeyboardInterrupt):
        compare_until(experiment(), NARROW, **options, most=40, progress=stop)
    assert not (tmp_path / "outcomes.nc").exists()
    first = set(range(20))
    assert first <= set(ran)
    ran.clear()
    found = compare_until(experiment(), NARROW, **options, most=40, resume=True)
    assert not first & set(ran) and max(ran) == 39
    assert_same_bits(
        found.outcomes, of_80().isel(replicate=slice(0, 40)), ["infested_area", "hours", "mat.front_speed"]
    )
    found.outcomes.close()
    ran.clear()
    with pytest.raises(InputError, match=r"found replicates of another run \(its experiment, site, seed"):
        compare_until(experiment(), NARROW, **options, most=80, resume=True, seed=77)
    found = compare_until(experiment(), NARROW, **options, most=80, resume=True)
    assert ran == list(range(40, 80))
    assert_same_bits(found.outcomes, of_80())
    found.outcomes.close()
    ran.clear()
    found = compare_until(experiment(), {"infested_area": 1e6}, **options, resume=True)
    assert ran == [] and found.sure and found.replicates == 20
    assert files(tmp_path) == {"outcomes.nc"}
    found.outcomes.close()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"half_width": 0}, "half_width: found 0"),
        ({"half_width": True}, "half_width: found True"),
        ({"half_width": {}}, "at least one outcome"),
        ({"half_width": {"nonsense": 1.0}}, '"nonsense", allowed one of "mat_area"'),
        ({"half_width": {"infested_area": "wide"}}, 'found "wide", allowed a number above 0'),
        ({"half_width": {"hours": "5%"}}, "no action works no hours"),
        ({"goal": "luck"}, 'goal: found "luck"'),
        ({"confidence": 1.0}, "confidence: found 1.0"),
        ({"first": 5}, "first: found 5, allowed a whole number, at least 20"),
        ({"most": 30}, "most: found 30"),
        ({"year": 7}, "year: found 7, allowed 0 to 6"),
        ({"year": 0, "half_width": {"seeds_exported": 1.0}}, "year: found 0, allowed 1 to 6"),
        ({"resume": True}, "without a folder"),
        ({"workers": 0}, "workers: found 0"),
    ],
)
def test_what_cannot_be_used_is_refused(options: dict[str, Any], told: str, ran: list[int]):
    given = {"half_width": 0.05} | options
    with pytest.raises(InputError) as caught:
        compare_until(experiment(), given.pop("half_width"), **given)
    assert told in str(caught.value)
    assert ran == []


def test_one_strategy_is_nothing_to_compare():
    alone = dataclasses.replace(experiment(), strategies=experiment().strategies[:1])
    found = compare_until(alone, first=20, most=40)
    assert found.sure and found.replicates == 20
    assert "nothing to compare" in found.story()[1]
