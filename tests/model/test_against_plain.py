"""The engine and the plain simulator, which was written from the model's page alone, give the same numbers."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from plain import run as run_plain
from plain.draws import Draws, least_count

import spreadsim
from spreadsim.errors import InputError
from spreadsim.inputs import Crew, FollowUp, Site, Strategy, Task, Weather
from spreadsim.model.compiled import pair, poisson_quantile

from .plain_cases import OWN, Case, cases, few, numbered_case
from .plain_changes import PROCESSES, changes, everything

DEFAULT_CASES = 25
SLOW_CASES = 400
CLOSE = 1e-12

COUNTS = (
    "climbed_hosts",
    "fruiting_hosts",
    "fallen_hosts",
    "known_fruiting_hosts",
    "seeds_produced",
    "seeds_exported",
    "new_patches",
)
AMOUNTS = ("mat_area", "infested_area", "known_area", "native_cover")
WORK = ("hours", "follow_up_hours", "hours_available", "area_treated", "hosts_treated")  # where there is any
NAMES = (*COUNTS, *AMOUNTS, *WORK, "mat_cover")


def engine(case: Case, processes: Any = None) -> xr.Dataset:
    """Run a case with the engine."""
    return spreadsim.simulate(
        case.site,
        case.vine,
        case.strategy,
        crews=case.crews,
        years=case.years,
        replicates=[case.replicate],
        seed=case.seed,
        fixed_parameters=case.fixed_parameters,
        maps="replicate",
        processes=processes,
        treatments=case.treatments,
        weather=Weather(case.fit_days),
    ).isel(replicate=0)


def plain(case: Case, processes: Any = None) -> dict[str, Any]:
    """Run a case with the plain simulator."""
    return run_plain(
        case.site,
        case.vine,
        case.treatments_by_name(),
        case.strategy,
        case.crews,
        case.fit_days,
        case.years,
        case.seed,
        case.replicate,
        fixed_parameters=case.fixed_parameters,
        processes=processes,
    )


def differences(data: xr.Dataset, expected: dict[str, Any]) -> list[str]:
    """What differs between the engine's dataset and the plain simulator's arrays, in words, the first years first."""
    found: list[tuple[int, str]] = []
    there_is_work = expected["hours"].shape[-1] > 0
    for name in NAMES if there_is_work else (*COUNTS, *AMOUNTS, "mat_cover"):
        a, b = data[name].values, expected["cover"].astype("f4") if name == "mat_cover" else expected[name]
        allowed = CLOSE * np.maximum(1.0, np.abs(b)) if name in (*AMOUNTS, *WORK) else 0.0
        if a.shape != b.shape or not np.array_equal(np.isnan(a), np.isnan(b)):
            found.append((0, f"{name}: shapes {a.shape} and {b.shape}, or not the same values missing"))
        elif (wrong := np.abs(np.nan_to_num(a - b)) > allowed).any():
            place = tuple(int(n) for n in np.argwhere(wrong)[0])
            found.append((place[0], f"{name}{list(place)}: engine {a[place]!r}, plain {b[place]!r}"))
    for name in drawn_by(data):
        if abs(data[name].item() - expected["parameters"][name]) > CLOSE * abs(data[name].item()):
            found.append((0, f"{name}: engine {data[name].item()!r}, plain {expected['parameters'][name]!r}"))
    return [text for _, text in sorted(found)]


def drawn_by(data: xr.Dataset) -> list[str]:
    """Names of the parameters in a dataset."""
    return [str(name) for name in data.data_vars if "." in str(name)]


def assert_equal(case: Case, processes: Any = None) -> None:
    """The engine gives what the plain simulator gives."""
    found = differences(engine(case, processes), plain(case, processes))
    assert not found, "\n".join(["", *found, repr(case)])


@pytest.mark.parametrize("number", range(DEFAULT_CASES))
def test_engine_equals_plain(number: int) -> None:
    assert_equal(numbered_case(number))


@pytest.mark.slow
@few(SLOW_CASES)
@given(cases())
def test_engine_equals_plain_in_many_cases(case: Case) -> None:
    assert_equal(case)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(DEFAULT_CASES, SLOW_CASES))
def test_engine_equals_plain_in_many_numbered_cases(number: int) -> None:
    assert_equal(numbered_case(number))


@pytest.mark.parametrize("without", PROCESSES)
def test_engine_equals_plain_without_a_process(without: str) -> None:
    for number in (3, 8):
        assert_equal(numbered_case(number), [name for name in PROCESSES if name != without])


def same(first: xr.Dataset, second: xr.Dataset) -> bool:
    """Whether two runs of the engine are equal, but for rounding, in all that is compared with the plain simulator."""
    if any(first[name].shape != second[name].shape for name in NAMES):
        return False
    return all(np.allclose(first[name], second[name], rtol=CLOSE, atol=CLOSE, equal_nan=True) for name in NAMES)


def test_the_cases_of_the_default_run_leave_nothing_out() -> None:
    wanted = set(everything(numbered_case(0)))
    assert len(wanted) > 100
    for number in range(DEFAULT_CASES):
        case = numbered_case(number)
        usual = engine(case)
        for name in PROCESSES:
            if f"process {name}" in wanted:
                without = engine(case, [other for other in PROCESSES if other != name])
                wanted -= set() if same(usual, without) else {f"process {name}"}
        for label, changed in changes(case):
            if label in wanted:
                try:
                    other = engine(changed())
                except InputError:  # the change does not fit the rest of the case
                    continue
                wanted -= set() if same(usual, other) else {label}
    assert not wanted, f"no effect in any of {DEFAULT_CASES} cases: {sorted(wanted)}"


# --- draws ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(20))
def test_keyed_draws_are_equal(number: int) -> None:
    words = np.random.default_rng(number).integers(0, 2**32, 6, dtype=np.uint64)
    seed, replicate, *rest = (int(word) for word in words)
    process = rest[3] % 22 + 1
    drawn = pair(words[:2], process, rest[0], rest[1], rest[2])
    assert drawn == Draws(seed, replicate).pair(process, rest[0], rest[1], rest[2])


def test_poisson_counts_are_equal() -> None:
    rng = np.random.default_rng(1)
    for mean in (1e-9, 0.1, 1.0, 7.3, 60.0, 499.0, 500.0):
        for u in (*rng.random(200), 2.0**-53, 1e-9, 1 - 1e-9):
            assert poisson_quantile(u, mean) == least_count(mean, u)


# --- small cases, one rule each -------------------------------------------------------------------------


def small_case(strategy: Strategy, **changes: Any) -> Case:
    """A square of full mat with hosts on it, worked by one crew that has all the hours it needs."""
    mat = np.zeros((8, 8))
    mat[1:5, 2:6] = 1.0
    mat[5, 2:6] = 0.4
    hosts = {"x": [5.0, 7.0, 9.0, 11.0], "y": [9.0, 11.0, 13.0, 7.0], "state": ["fruiting", "climbing"] * 2}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts, background_seed=1e5)
    usual = numbered_case(8)
    case = replace(usual, site=site, strategy=strategy, crews=(Crew("staff", 40.0),), years=4, fit_days=(9.0,) * 4)
    return replace(case, **changes)


def test_mapped_mat_moves_off_alike() -> None:
    for full in (1.0, 0.7):
        mat = np.full((8, 8), full)
        mat[0, 0] = mat[5, 6] = 0.0
        mat[2, 7] = 0.3
        assert_equal(small_case(Strategy("no action"), site=Site.from_arrays(2.0, mat=mat)))


@pytest.mark.parametrize("treatment", [None, "spot-spray", "pull"])
def test_visits_try_the_follow_ups_treatment_or_the_own_then_instead(treatment: str | None) -> None:
    task = Task("pull", instead="spot-spray", follow_up=FollowUp(1, 3, treatment))
    assert_equal(small_case(Strategy("work", tasks=[task])))


def test_a_seedling_that_has_germinated_is_met_however_short_the_run() -> None:
    strategy = Strategy("work", tasks=[Task("pull", follow_up=FollowUp(2, 2))])
    slow = {"low": 5.0, "value": 5.0, "high": 5.0}  # it would root after the end of the short run
    vine = small_case(strategy).vine.replace({"seed.years_seed_to_patch": slow}, check_ranges=False)
    short = engine(small_case(strategy, vine=vine, years=3))
    long = engine(small_case(strategy, vine=vine, years=8)).isel(year=slice(0, 4))
    assert same(short, long)
    assert_equal(small_case(strategy, vine=vine, years=3))


@pytest.mark.parametrize("number", range(3))
def test_a_shorter_run_is_the_beginning_of_a_longer_one(number: int) -> None:
    case = numbered_case(number)
    longer = engine(replace(case, years=case.years + 3)).isel(year=slice(0, case.years + 1))
    assert same(engine(case), longer)


@pytest.mark.parametrize("name", [treatment.name for treatment in OWN])
def test_a_treatment_of_ones_own_has_the_targets_of_its_kind(name: str) -> None:
    assert_equal(small_case(Strategy("work", tasks=[Task(name, follow_up=FollowUp(2))])))
    mixed = [Task("cut", instead=name, follow_up=FollowUp(1)), Task("pull", instead=name, follow_up=FollowUp(1))]
    assert_equal(small_case(Strategy("work", tasks=mixed)))
