"""Whole runs of the reference simulator: what must be true of any run, and the record."""

import numpy as np
import pytest

from . import example, record, season
from .helpers import STATES, fertile_vine, run_park, world_of


def test_bird_founded_patches_appear_where_hosts_fruit_and_only_then():
    out = run_park(example.Strategy(), years=6, vine=fertile_vine(), fixed_parameters=True)
    assert np.nansum(out["new_patches"]) > 0
    assert np.nansum(out["seeds_exported"]) > 0
    assert (out["seeds_exported"][1:] <= out["seeds_produced"][1:]).all()


def test_no_climbing_stem_no_seed():
    site = example.small_park(background_seed=0.0)
    site.hosts.state[:] = [0] * len(site.hosts.state)
    site.sources.x.clear()
    site.sources.y.clear()
    site.sources.hosts.clear()
    processes = [name for name in season.PROCESSES if name != "climbing"]
    out = run_park(example.Strategy(), years=5, site=site, vine=fertile_vine(), processes=processes)
    assert np.nansum(out["seeds_produced"]) == 0
    assert np.nansum(out["new_patches"]) == 0
    assert out["infested_area"][-1] > out["infested_area"][0]
    with_seed = run_park(example.Strategy(), years=5, site=example.small_park(), vine=fertile_vine())
    assert np.nansum(with_seed["seeds_produced"]) > 0


def test_nothing_comes_of_nothing_but_outside_seed_founds():
    clean = example.site(6, 6, 2.0, hosts=[{"x": 3.0, "y": 3.0}])
    out = run_park(example.Strategy(), years=4, site=clean, vine=fertile_vine())
    assert out["infested_area"].sum() == 0
    assert out["native_cover"].min() == 1.0
    source = example.site(6, 6, 2.0, sources=[(-1.0, 6.0, 20.0)])
    out = run_park(example.Strategy(), years=4, site=source, vine=fertile_vine(), fixed_parameters=True)
    assert np.nansum(out["new_patches"]) > 0
    assert np.nansum(out["seeds_produced"]) == 0
    rain = example.site(6, 6, 2.0, background_seed=3e7)
    out = run_park(example.Strategy(), years=4, site=rain, vine=fertile_vine(), fixed_parameters=True)
    assert np.nansum(out["new_patches"]) > 0


def test_cutting_ends_seed_within_a_season_and_does_not_shrink_the_mat():
    rows = example.treatments()
    rows["cut"].parameters["stem_kill"] = example.Parameter(1.0)
    crew = (example.Crew("staff", (100.0,) * 4),)
    site = example.small_park()
    site.hosts.known[:] = [True] * len(site.hosts.known)
    options = {"years": 3, "site": site, "fixed_parameters": True, "crews": crew}
    idle = run_park(example.Strategy(), **options)
    out = run_park(example.Strategy("cut", (example.Task("cut"),)), treatments=rows, **options)
    assert np.nansum(idle["seeds_produced"]) > 0
    assert np.nansum(out["seeds_produced"]) == 0
    assert (out["mat_area"] == idle["mat_area"]).all()


def test_no_effect_is_no_action():
    harmless = example.without_effect(example.treatments())
    for replicate in range(2):
        options = {"years": 4, "replicate": replicate, "vine": fertile_vine(), "treatments": harmless}
        idle = run_park(example.Strategy(), **options)
        busy = run_park(example.busy_strategy(), **options)
        for name in (*STATES, "cover", "share", "host_state", "host_first_fruit"):
            assert (idle[name] == busy[name]).all(), name
        for name in ("seeds_produced", "seeds_exported", "new_patches"):
            assert (idle[name][1:] == busy[name][1:]).all(), name
        assert np.nansum(busy["hours"]) > 0


def test_the_real_treatments_have_an_effect():
    idle, busy = run_park(example.Strategy()), run_park(example.busy_strategy())
    assert busy["infested_area"][-1] < idle["infested_area"][-1]
    assert busy["climbed_hosts"][-1] < idle["climbed_hosts"][-1]
    assert idle["parameters"] == busy["parameters"]


@pytest.mark.parametrize("reserve", [True, False])
def test_no_hour_is_spent_that_nobody_has(reserve):
    strategy = example.busy_strategy(reserve_follow_up=reserve)
    for replicate in range(3):
        out = run_park(strategy, years=5, replicate=replicate)
        hours, available = out["hours"][1:], out["hours_available"][1:]
        assert (hours.sum(axis=2) <= available * (1 + 1e-12)).all()
        new = hours - out["follow_up_hours"][1:]
        assert (new[:, :, 0] <= 0.4 * available * (1 + 1e-9)).all()
        assert (hours[:, :, 2] <= 0.4).all()
        assert (out["follow_up_hours"][1:] <= hours).all()
        assert (hours >= 0).all()
        assert hours.sum() > 0
        assert np.isnan(out["hours"][0]).all()


def test_available_hours_are_hours_times_turnout():
    out = run_park(example.busy_strategy(), years=1)
    assert out["hours_available"][1] == pytest.approx([2.0, 2.0 + 2.4, 2.0 + 2.4, 2.0 + 1.6])


def test_a_run_is_its_keys_alone():
    first, again = (run_park(example.busy_strategy(), years=3, vine=fertile_vine()) for _ in range(2))
    other = run_park(example.busy_strategy(), years=3, vine=fertile_vine(), replicate=1)
    shorter = run_park(example.busy_strategy(), years=2, vine=fertile_vine())
    for name, values in first.items():
        if name != "parameters":
            assert np.array_equal(values, again[name], equal_nan=True), name
            assert np.array_equal(values[:3], shorter[name], equal_nan=True), name
    assert not np.array_equal(first["cover"], other["cover"])
    assert first["parameters"] != other["parameters"]


def test_cover_stays_within_its_bounds_and_off_barriers():
    for replicate in range(2):
        out = run_park(example.busy_strategy(), years=4, vine=fertile_vine(), replicate=replicate)
        assert out["cover"].min() >= 0.0
        assert out["cover"].max() <= out["parameters"]["mat.max_cover"]
        barrier = example.small_park().plantable == 0.0
        assert barrier.any()
        assert out["cover"][:, barrier].max() == 0.0
        assert (out["fruiting_hosts"][1:] <= 10).all()


def test_unknown_process_names_are_refused():
    with pytest.raises(ValueError, match="weeds"):
        run_park(example.Strategy(), processes=["weeds"])


def test_areas_are_weighted_by_plantable_ground():
    plantable = np.array([[1.0, 0.5]])
    world = world_of(example.site(1, 2, 2.0, mat=np.array([[0.95, 0.475]]), plantable=plantable))
    world.cells[1].known = False
    book = record.Record(world, 1, 0)
    book.write_year(world, 0, 0.0)
    assert book.outcomes["infested_area"][0] == pytest.approx(4.0 + 0.5 * 4.0 * 0.5)
    assert book.outcomes["known_area"][0] == pytest.approx(4.0)
    assert book.outcomes["mat_area"][0] == pytest.approx(0.95 * 5.0)
    assert book.outcomes["native_cover"][0] == pytest.approx((0.5 + 0.75 * 0.5) / 1.5)
    assert np.isnan(book.outcomes["seeds_produced"][0])


def test_season_ends_add_up_to_the_year():
    shares = (0.05, 0.45, 0.40, 0.10)
    ends = [season.season_end(shares, 3, s) for s in range(-1, 4)]
    assert ends == pytest.approx([3.0, 3.05, 3.5, 3.9, 4.0])
    assert ends[0] == 3.0
    assert ends[-1] == 4.0
