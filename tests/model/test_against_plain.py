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
from spreadsim.inputs import (
    Crew,
    FollowUp,
    Fund,
    Site,
    Strategy,
    Task,
    Weather,
    load_treatment,
    load_vine,
    treatment_names,
)
from spreadsim.model.compiled import pair, poisson_quantile

from .plain_cases import OWN, Case, cases, few, numbered_case
from .plain_changes import PROCESSES, changes, everything

DEFAULT_CASES = 25
SLOW_CASES = 400
EFFECTS = 3
CLOSE = 1e-12

COUNTS = (
    "climbed_hosts",
    "fruiting_hosts",
    "fallen_hosts",
    "known_fruiting_hosts",
    "seeds_produced",
    "seeds_exported",
    "new_patches",
    "sources_standing",
)
AMOUNTS = ("mat_area", "infested_area", "known_area", "native_cover")
WORK = (
    "hours",
    "follow_up_hours",
    "hours_available",
    "hours_unspent",
    "area_treated",
    "hosts_treated",
)  # where there is any
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
        weather=case.weather,
        funds=case.funds,
        events=case.events,
    ).isel(replicate=0)


def plain(case: Case, processes: Any = None) -> dict[str, Any]:
    """Run a case with the plain simulator."""
    return run_plain(
        case.site,
        case.vine,
        case.treatments_by_name(),
        case.strategy,
        case.crews,
        case.weather,
        case.years,
        case.seed,
        case.replicate,
        fixed_parameters=case.fixed_parameters,
        processes=processes,
        funds=case.funds,
        events=case.events,
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
    if "fund_left" in data and not np.allclose(data["fund_left"], expected["fund_left"], rtol=CLOSE, atol=1e-9):
        found.append((0, f"fund_left: engine {data['fund_left'].values}, plain {expected['fund_left']}"))
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


# --- small cases, made to meet what few random ones do --------------------------------------------------

MONTHLY = Weather(
    monthly={
        "temperature": (2.0, 4.0, 8.0, 14.0, 19.0, 24.0, 27.0, 26.0, 21.0, 15.0, 9.0, 4.0),
        "temperature_sd": (5.0,) * 12,
        "rain_days": (20.0,) * 12,
        "wind_days": (20.0,) * 12,
        "snow_days": (5.0,) * 2 + (0.0,) * 10,
    }
)


def patches(girths: Any = ("medium",) * 6) -> Site:
    """A large patch and small ones, in two units, with sources outside and mat beyond the north."""
    mat = np.zeros((14, 14))
    mat[1:9, 1:8] = 1.0
    mat[11:13, 10:12] = 0.9
    mat[3, 12] = mat[12, 2] = 0.5
    hosts = {
        "x": [5.0, 7.0, 20.0, 23.0, 11.0, 9.0],
        "y": [20.0, 16.0, 5.0, 22.0, 12.0, 24.0],
        "state": ["fruiting", "climbing", "fruiting"] * 2,
        "girth": girths,
    }
    sources = {"x": [-5.0, 40.0, 10.0], "y": [10.0, 10.0, -20.0], "hosts": [5.0, 60.0, 20.0]}
    units = np.where(np.arange(14)[None, :] < 9, 1, 2) * np.ones((14, 1), dtype=int)
    return Site.from_arrays(2.0, mat=mat, hosts=hosts, units=units, sources=sources, boundary_mat={"north": True})


def small_case(strategy: Strategy, **changes: Any) -> Case:
    """A square of full mat with hosts on it, worked by one crew that has all the hours it needs."""
    mat = np.zeros((8, 8))
    mat[1:5, 2:6] = 1.0
    mat[5, 2:6] = 0.4
    hosts = {"x": [5.0, 7.0, 9.0, 11.0], "y": [9.0, 11.0, 13.0, 7.0], "state": ["fruiting", "climbing"] * 2}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts, background_seed=1e5)
    usual = numbered_case(8)
    case = replace(
        usual,
        site=site,
        strategy=strategy,
        crews=(Crew("staff", 40.0),),
        years=4,
        weather=Weather(9.0),
        funds=(),
        events=(),
    )
    return replace(case, **changes)


def directed_case(*tasks: Task, crews: Any = None, slow: Any = (), fixed: bool = True, **more: Any) -> Case:
    """The small square with treatments as they are shipped, all parameters at their defaults."""
    treatments = tuple(
        load_treatment(name).replace({"hours_per_area": 0.5} if name in slow else {}, check_ranges=False)
        for name in treatment_names()
    )
    treatments = (*treatments, *OWN)
    vine = load_vine("wintercreeper")
    case = small_case(Strategy("work", tasks=tasks), vine=vine, treatments=treatments, fixed_parameters=fixed, **more)
    return case if crews is None else replace(case, crews=crews)


# What few random cases meet.
DIRECTED = (
    # little fit weather, of a table or by season, for one and for many people
    directed_case(
        Task("foliar-spray", follow_up=FollowUp(1, 2)),
        crews=(Crew("staff", 60.0, ["foliar-spray"], people=3), Crew("more", 40.0, pace=0.5)),
        weather=Weather(1.0),
        slow=("foliar-spray",),
    ),
    directed_case(Task("spot-spray"), crews=(Crew("staff", 90.0, people=2),), weather=MONTHLY),
    # a large patch and small ones
    directed_case(Task("tarp", follow_up=FollowUp(1, 2)), Task("mulch", share=0.5), site=patches(), years=6),
    # rings round hosts in mat, again and again
    directed_case(Task("clear-ring"), Task("cut", targets="fruiting", follow_up=FollowUp(2, 2)), years=6),
    # planting where the last visits were clean
    directed_case(
        Task("pull", units=["unit 1"], haul_out=True, follow_up=FollowUp(1, 3)),
        Task("plant", not_until="two clean visits", new_ground=30.0),
        crews=(Crew("staff", 60.0),),
        site=patches(),
        years=8,
    ),
    # money for one crew only, shared by two funds, with a leader who is paid
    directed_case(
        Task("pull", follow_up=FollowUp(2, 2)),
        Task("tarp"),
        crews=(
            Crew(
                "friends", 30.0, ["pull"], volunteers=True, leader="staff", people_per_leader=3.0, walking_minutes=3.0
            ),
            Crew("staff", 12.0, price=20.0, session_hours=4.0, setup_hours=1.0),
            Crew("hired", 20.0, price=40.0, lead_seasons=2, years=(1, 3)),
        ),
        funds=(
            Fund("grant", 600.0, years=(1, 2), crews=["hired"]),
            Fund("budget", 900.0),
            Fund("gift", 300.0, years=(2, 2), crews=["friends"]),
        ),
        site=patches(),
    ),
    # few hours for hosts that take more and less, and material that a fund has to pay
    directed_case(
        Task("cut", order="most fruit per hour", cap=0.5),
        Task("grub", targets="climbing"),
        Task("hoe", units=["unit 2"]),
        crews=(Crew("staff", (2.0, 1.0, 1.0, 1.0), price=10.0),),
        funds=(Fund("grant", 24.0, years=(1, 1)), Fund("budget", 60.0)),
        site=patches(girths=("large", "medium", "small", "medium", "large", "small")),
    ),
    # seedlings that visits meet
    directed_case(
        Task("hoe", units=["unit 1"], follow_up=FollowUp(1, 3)),
        Task("pull", follow_up=FollowUp(1, 3, "weed")),
        crews=(Crew("staff", 60.0),),
        site=replace(patches(), background_seed=2e6),
        years=6,
    ),
    # a crew that has to be worth its coming, led by one that has to as well
    directed_case(
        Task("scout", share=0.3),
        Task("pull", follow_up=FollowUp(1, 2)),
        crews=(
            Crew("staff", 9.0, ["scout", "cut"], price=30.0, minimum_charge=60.0),
            Crew("hired", 12.0, ["pull", "scout"], price=40.0, minimum_charge=150.0, leader="staff"),
        ),
        funds=(Fund("grant", 900.0, years=(1, 2)), Fund("budget", 1000.0)),
        site=patches(),
    ),
    # owners are asked until they consent
    directed_case(Task("remove-source", cap=4.0), crews=(Crew("staff", 12.0),), site=patches(), years=8),
)


@pytest.mark.parametrize("number", range(len(DIRECTED)))
def test_engine_equals_plain_in_directed_cases(number: int) -> None:
    for fixed in (True, False):
        for replicate in range(3):
            assert_equal(replace(DIRECTED[number], fixed_parameters=fixed, replicate=replicate))


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
    if "fund_left" in first and "fund_left" in second and not first["fund_left"].equals(second["fund_left"]):
        return False
    return all(np.allclose(first[name], second[name], rtol=CLOSE, atol=CLOSE, equal_nan=True) for name in NAMES)


def effects(case: Case, usual: xr.Dataset, wanted: set[str]) -> set[str]:
    """Labels, of those wanted, without which the case runs otherwise."""
    found: set[str] = set()
    for name in PROCESSES:
        if f"process {name}" in wanted:
            without = engine(case, [other for other in PROCESSES if other != name])
            found |= set() if same(usual, without) else {f"process {name}"}
    for label, changed in changes(case):
        if label in wanted - found:
            try:
                other = engine(changed())
            except InputError:  # the change does not fit the rest of the case
                continue
            found |= set() if same(usual, other) else {label}
    return found


def test_the_cases_of_the_default_run_leave_nothing_out() -> None:
    wanted = set(everything(numbered_case(0)))
    assert len(wanted) > 100
    reasons: set[str] = set()
    for case in (*(numbered_case(number) for number in range(DEFAULT_CASES)), *DIRECTED):
        usual = engine(case)
        reasons |= {
            str(reason) for reason in usual["reason"].values if usual["hours_unspent"].sel(reason=reason).sum() > 0
        }
        wanted -= effects(case, usual, wanted)
    assert reasons == {str(reason) for reason in usual["reason"].values}
    assert not wanted, f"no effect in any of {DEFAULT_CASES + len(DIRECTED)} cases: {sorted(wanted)}"


@pytest.mark.slow
def test_everything_has_an_effect_in_several_of_the_numbered_cases() -> None:
    """What a case can have changes results in some of the cases that are drawn, not in those made for it alone."""
    counts = dict.fromkeys(everything(numbered_case(0)), 0)
    for number in range(SLOW_CASES):
        wanted = {label for label, count in counts.items() if count < EFFECTS}
        if not wanted:
            break
        case = numbered_case(number)
        for label in effects(case, engine(case), wanted):
            counts[label] += 1
    rare = {label: count for label, count in counts.items() if count < EFFECTS}
    assert not rare, f"of {SLOW_CASES} cases with an effect: {rare}"


# --- draws ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(20))
def test_keyed_draws_are_equal(number: int) -> None:
    words = np.random.default_rng(number).integers(0, 2**32, 6, dtype=np.uint64)
    seed, replicate, *rest = (int(word) for word in words)
    process = rest[3] % 26 + 1
    drawn = pair(words[:2], process, rest[0], rest[1], rest[2])
    assert drawn == Draws(seed, replicate).pair(process, rest[0], rest[1], rest[2])


def test_poisson_counts_are_equal() -> None:
    rng = np.random.default_rng(1)
    for mean in (1e-9, 0.1, 1.0, 7.3, 60.0, 499.0, 500.0):
        for u in (*rng.random(200), 2.0**-53, 1e-9, 1 - 1e-9):
            assert poisson_quantile(u, mean) == least_count(mean, u)


# --- small cases, one rule each -------------------------------------------------------------------------


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
