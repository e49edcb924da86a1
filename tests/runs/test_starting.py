"""A comparison that begins from a learned state: the same bits as the whole run where nothing is amended, and what follows."""

import dataclasses
from functools import cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim.inputs import NO_ACTION, FollowUp, InputError, Strategy, Task
from spreadsim.inputs.hosts import STATES
from spreadsim.model.compiled import layout, make_fresh
from spreadsim.model.draws import EVER, pair, trait
from spreadsim.model.memory import new_tally
from spreadsim.runs.engine import Engine
from spreadsim.runs.past import heirs
from spreadsim.runs.simulate import treatments_in_use, world_of
from spreadsim.schema import VARIABLES

from . import small
from .starts import AFTER, YEARS, begun, seen, start, whole

FLOWS = {name for name, one in VARIABLES.items() if one.flow}


@cache
def plain() -> xr.Dataset:
    """The whole run, from the map on."""
    return spreadsim.compare(whole(), workers=2)


def same_from_the_start_on(started: xr.Dataset, strategy: str) -> None:
    """All that both hold, of one strategy, bit for bit; flows of the first year are missing."""
    compared = 0
    for name, values in started.data_vars.items():
        if str(name).startswith("input_"):
            continue
        there = plain()[name]
        if "strategy" in values.dims:
            values, there = values.sel(strategy=strategy), there.sel(strategy=strategy)
        if "year" in values.dims:
            if name in FLOWS:
                assert np.isnan(values.sel(year=YEARS).values).all(), name
            years = AFTER[1:] if name in FLOWS else AFTER
            values, there = values.sel(year=list(years)), there.sel(year=list(years))
        if name in VARIABLES and VARIABLES[str(name)].is_map and started.sizes["replicate"] < 12:
            continue
        there = there.sel(replicate=values["replicate"].values) if "replicate" in values.dims else there
        assert np.array_equal(values.values, there.values, equal_nan=True), f"{name} differs"
        compared += 1
    assert compared > 20


@pytest.mark.parametrize("strategy", [0, 1, 2, 3])
def test_without_a_survey_the_same_strategy_goes_on_bit_for_bit(strategy: int) -> None:
    started = spreadsim.compare(begun(start(strategy)), workers=2)
    assert started["year"].values.tolist() == list(AFTER)
    assert started.attrs["first_year"] == YEARS
    same_from_the_start_on(started, whole().strategies[strategy].name)


def test_results_do_not_depend_on_threads_or_on_what_else_is_run() -> None:
    amended = start(2, 5, **seen(3, [(40, 0.5, True), (200, 0.0, True)], [(4, 2, True)]))
    together = spreadsim.compare(begun(amended), workers=2)
    small.assert_same_bits(together, spreadsim.compare(begun(amended), workers=1))
    alone = spreadsim.compare(begun(amended), replicates=[8], workers=1)
    small.assert_same_bits(together.sel(replicate=[8]), alone, small.outcomes(alone))


def test_learned_values_take_the_place_of_draws() -> None:
    """Given the values that would have been drawn, nothing changes; a given speed is the speed."""
    engine = Engine(world_of(whole(), whole().strategies), whole().seed, (), False)
    _, _, columns = engine.draw(range(12))
    drawn = {name: column for name, column in columns.items() if np.ptp(column) > 0}
    same_from_the_start_on(spreadsim.compare(begun(start(2, values=drawn))), "mats only")
    speed = np.linspace(0.5, 0.9, 12)
    faster = spreadsim.compare(begun(start(2, values={"mat.front_speed": speed})))
    assert np.array_equal(faster["mat.front_speed"].values, speed)
    fixed = whole().vine.replace({"mat.front_speed": {"value": 0.7, "low": 0.7, "high": 0.7}})
    held = spreadsim.compare(begun(start(2, values={"mat.front_speed": speed}), vine=fixed))
    assert (held["mat.front_speed"].values == 0.7).all()


def test_a_world_that_is_picked_again_has_the_same_past_and_another_future() -> None:
    twice = spreadsim.compare(begun(start(2, numbers=[3, 3, 7])), replicates=6)
    first = twice["mat_area"].sel(year=YEARS).values
    assert np.array_equal(first[:, [0, 1, 3, 4]], np.repeat(first[:, :1], 4, axis=1))
    assert np.array_equal(first[:, 2], first[:, 5])
    later = twice["seeds_produced"].sel(strategy=NO_ACTION, year=small.YEARS).values
    assert len(set(later.tolist())) == 6
    once = spreadsim.compare(begun(start(2, numbers=[3])), replicates=1)
    small.assert_same_bits(once, twice.sel(replicate=[0]), small.outcomes(once))
    other = spreadsim.compare(begun(start(2, numbers=[3])), replicates=1, seed=99)
    assert np.array_equal(other["mat_area"].sel(year=YEARS), once["mat_area"].sel(year=YEARS))
    assert not np.array_equal(other["seeds_produced"].values, once["seeds_produced"].values, equal_nan=True)


def test_lasting_traits_stay_when_luck_changes() -> None:
    """A host that climbing stems bear on in one future of a world does so in all, and has waited as long in each."""
    for number in range(20):
        two, four = np.array([5, number], "u8"), np.array([77, number, 5, number], "u8")
        assert trait(two, EVER, 3, 0) == trait(four, EVER, 3, 0) == pair(two, EVER, 3, 0, 0)
        assert pair(two, EVER, 3, 4, 0) != pair(four, EVER, 3, 4, 0)
    vine = small.experiment().vine.replace({"climb.share_of_mature_climbers_fruiting": 0.5}, check_ranges=False)
    experiment = begun(start(0, numbers=[2] * 6), years=40, vine=vine, fixed_parameters=True)
    film = spreadsim.film(experiment, replicates=6, strategies=[NO_ACTION])
    seen_state = film["host_state"].isel(strategy=0).values
    climbing, fruiting = ((seen_state == code).sum(axis=1) for code in (1, 4))  # seasons, (replicate, host)
    ever, long_without = (fruiting > 0).any(axis=0), ((climbing > 80) & (fruiting == 0)).any(axis=0)
    assert ever.sum() > 10
    assert long_without.sum() > 10
    assert not (ever & long_without).any()


def test_a_film_goes_on_as_the_whole_one() -> None:
    long = spreadsim.film(whole(), replicates=[1, 4], strategies=["mats only"])
    short = spreadsim.film(begun(start(2)), replicates=[1, 4], strategies=["mats only"])
    steps = slice(4 * YEARS, None)
    for name in ("cover", "host_state", "mat_area"):
        assert np.array_equal(long[name].isel(step=steps).values, short[name].values), name
    assert np.array_equal(long["hours"].isel(step=slice(4 * YEARS + 1, None)), short["hours"].isel(step=slice(1, None)))
    assert short["year"].values.tolist() == long["year"].values[steps].tolist()
    assert short["season"].values[:3].tolist() == ["start", "winter", "spring"]
    # seeds that were to come at the start, and those that landed later, with the same fates
    for r in range(2):
        kept = []
        for one, before in ((long, 4 * YEARS), (short, 0)):
            landed, fate, when = (
                one[name].values[0, r] for name in ("landing_step", "landing_fate", "landing_fate_step")
            )
            there = (landed >= 0) & ((when > before) | (fate == 0))
            rows = zip(
                np.maximum(landed[there] - before, 0),
                one["landing_cell"].values[0, r][there],
                fate[there],
                np.where(when[there] >= 0, when[there] - before, -1),
                strict=True,
            )
            kept.append([tuple(map(int, row)) for row in rows])
        assert kept[0] == kept[1]
        assert len(kept[0]) > 10


def test_the_past_is_the_same_for_every_strategy_and_costs_its_years_alone() -> None:
    begun_with = spreadsim.compare(begun(start(2)))
    states = begun_with["mat_area"].sel(year=YEARS)
    assert (states == states.isel(strategy=0)).all()
    assert (begun_with["hours"].sel(year=AFTER[1]).sum() > 0).item()


def test_funds_that_were_spent_are_gone() -> None:
    fund = spreadsim.Fund("grant", 2000.0)
    experiment = begun(start(2), funds=(fund,))
    left = spreadsim.compare(experiment, replicates=4)["fund_left"].isel(fund=0)
    assert (left.sel(year=YEARS) < 2000.0).all()
    assert (left.sel(year=YEARS) == left.sel(year=YEARS, strategy=NO_ACTION)).all()
    assert (left.sel(strategy=NO_ACTION) == left.sel(strategy=NO_ACTION, year=YEARS)).all()


def test_visits_go_to_the_task_that_takes_over() -> None:
    def task(treatment: str, name: str | None = None, units: Any = (), again: bool = True) -> Task:
        return Task(treatment, name=name, units=units, follow_up=FollowUp(2, 2) if again else None)

    done = Strategy("done", tasks=[task("pull", "a"), task("pull", "b"), task("cut", "c"), task("mow", "d")])
    then = Strategy(
        "then", tasks=[task("mow", "b"), task("cut", "a"), task("pull", "e", ["unit 2"]), task("cut", "c", again=False)]
    )
    works = np.array([[1, 1, 1, 1], [1, 1, 1, 1], [0, 0, 1, 0], [1, 1, 1, 1]], bool)
    table = heirs(done, then, treatments_in_use([done, then]), works)
    assert table.tolist() == [
        [-1, -1, 2, -1],  # "a" is cutting now; what pulls works in unit 2 alone
        [0, 0, 0, 0],  # the same name, and work on the mat
        [1, 1, 1, 1],  # the task of its name comes back no more, another that cuts does
        [0, 0, 0, 0],  # the same treatment
    ]
    same = heirs(done, done, treatments_in_use([done]), np.ones((4, 4), bool))
    assert same.tolist() == [[t] * 4 for t in range(4)]
    none = heirs(done, Strategy(NO_ACTION), treatments_in_use([done]), np.zeros((0, 4), bool))
    assert (none == -1).all()


def test_work_under_another_strategy_comes_back_to_what_is_open() -> None:
    experiment = begun(start(2))
    hours = spreadsim.compare(experiment)["follow_up_hours"].sel(year=YEARS + 1).sum(["season", "replicate"])
    assert float(hours.sel(strategy="mats only").sum()) > 0
    assert float(hours.sel(strategy="stems first").sum()) > 0  # its third task pulls as well
    sprayed = hours.sel(strategy="spray").isel(task=0)
    assert float(sprayed) == 0  # a foliar spray without follow-up takes over nothing


def fresh_but_for_scraps(state: Any, ground: Any, plan: Any) -> None:
    """Memory as it was made, in all that a run reads before it writes it."""
    new = state._replace(**{name: np.copy(getattr(state, name)) for name in state._fields})
    make_fresh(new)
    for field in ("kinds", "expected", "cleared"):
        assert np.array_equal(getattr(state, field), getattr(new, field)), field
    for group, fields in (
        ("cells", ("slot", "known", "unlisted", "planted")),
        ("care", ("covered", "worked", "task", "clean", "seedling", "found")),
        ("hosts", ("state", "fruit", "ring", "wait", "leaving", "crop_season", "bore", "task", "clean", "season")),
        ("hosts", ("visits", "done", "known", "fruited_when_mapped", "worked", "listed", "touched", "unlisted")),
        ("hosts", ("at_risk",)),
    ):
        for field in fields:
            assert np.array_equal(getattr(state, group)[field], getattr(new, group)[field]), (group, field)
    for row in (layout.ROOTING, layout.BUCKETS, layout.VISITED, layout.ASKED, layout.STARTED):
        assert np.array_equal(state.lists[row], new.lists[row]), row
    for row in (layout.KNOWN_WORDS, layout.WORDS_USED):
        assert not state.lists[row].any(), row
    assert not state.count.any()


def test_memory_is_fresh_after_every_run() -> None:
    rng = np.random.default_rng(3)
    size = whole().site.mat.size
    free = np.flatnonzero(whole().site.plantable.ravel() > 0)
    cells = [(int(c), float(rng.choice([0, 0.2, 1])), bool(rng.random() < 0.5)) for c in rng.choice(free, 150, False)]
    hosts = [(int(j), int(rng.integers(3)), bool(rng.random() < 0.5)) for j in rng.choice(90, 40, False)]
    experiment = begun(start(2, 3, **seen(1, cells, hosts)))
    engine = Engine(world_of(experiment, experiment.strategies), experiment.seed, (), False)
    vines, rows, _ = engine.draw([0, 1, 2])
    memory = engine.thread_memory()
    none = np.zeros((0, 0), "i8")
    for s in range(len(engine.plans)):
        for i in range(3):

            def empty(_: Any, s: int = s) -> Any:
                return new_tally(engine.plans[s], small.YEARS, size, engine.map_slot, none, False)

            _, state, plan = engine.play(memory.state, i, s, vines[i : i + 1], rows[i], empty)
            memory.state = state
            spreadsim.model.compiled.put_back(engine.ground, plan, state)
            fresh_but_for_scraps(state, engine.ground, plan)


def test_short_lists_are_made_longer_without_a_trace() -> None:
    experiment = begun(start(2, 4))
    engine = Engine(world_of(experiment, experiment.strategies[:2]), experiment.seed, (), False)
    vines, rows, _ = engine.draw([2])
    none = np.zeros((0, 0), "i8")
    found = []
    for length in (1, 4096):
        state = engine.new_state()._replace(seedlings=np.zeros(length, layout.SEEDLING))

        def empty(_: Any) -> Any:
            return new_tally(engine.plans[1], small.YEARS, 0, engine.map_slot, none, False)

        found.append(engine.play(state, 2, 1, vines, rows[0], empty)[0].yearly)
    assert np.array_equal(*found)


def test_what_does_not_fit_is_told_all_at_once() -> None:
    wrong = start(
        1,
        years=6,
        crews=(),
        values={"mat.speed": np.ones(12), "mat.front_speed": np.full(12, 99.0)},
        **seen(0, [(10**6, 0.5, True)], [(90, 1, True)]),
    )
    with pytest.raises(InputError) as caught:
        begun(wrong)
    told = str(caught.value)
    for text in (
        "start.years: found 6, allowed 1 to 5",
        "start.cell[0]: found 1000000, allowed 0 to 1223: the site has 1,224 cells",
        "start.host[0]: found 90, allowed 0 to 89: the site has 90 hosts",
        'start.values["mat.speed"]: found values of a parameter that is not known',
        'start.values["mat.front_speed"][0]: found 99.0, allowed',
        'start.strategy.tasks[3].treatment: found "pull", allowed no task, since there are no crews',
    ):
        assert text in told, told
    barrier = int(np.flatnonzero(whole().site.plantable.ravel() <= 0)[0])
    with pytest.raises(InputError, match=r"start.cell_cover\[0\]: found 0.5, allowed 0 where the vine cannot grow"):
        begun(start(2, **seen(0, [(barrier, 0.5, True)])))
    other = dataclasses.replace(whole().site, background_seed=1.0)
    with pytest.raises(InputError, match="learned on another site"):
        begun(start(2), site=other)
    with pytest.raises(InputError, match="start: found 3, allowed a Start"):
        dataclasses.replace(whole(), start=3)
    assert STATES[2] == "fruiting"


def test_sweeps_begin_from_the_start() -> None:
    experiment = begun(start(2, 4), replicates=4)
    speeds = spreadsim.grid([spreadsim.Factor("mat.front_speed", values=[0.5, 0.9])])
    swept = spreadsim.sweep(experiment, speeds)
    assert swept["year"].values.tolist() == list(AFTER)
    assert swept["mat_area"].notnull().all()
    one = spreadsim.compare(experiment)
    hours = spreadsim.grid([spreadsim.Factor("crews.staff.hours", values=[12.0, 24.0])])
    worked = spreadsim.sweep(experiment, hours, outcomes=["mat_area"])
    assert np.array_equal(worked["mat_area"].values[0], one["mat_area"].values)
    assert (worked["mat_area"].sel(year=YEARS).values[1] == one["mat_area"].sel(year=YEARS).values).all()
