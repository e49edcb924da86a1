"""What every run keeps to: cover and counts within their bounds, and books of seed and natives that add up."""

import numpy as np
from hypothesis import given

from .helpers import ROUNDING, assert_within, run, untreated
from .strategies import NIL, Case, cases, few, with_values


@few(40)
@given(cases())
def test_cover_is_within_nil_and_its_maximum_and_off_barriers(case: Case):
    data = run(case)
    cover = data["mat_cover"].values
    most = data["mat.max_cover"].values.astype("f4")
    assert cover.min() >= 0.0
    assert (cover <= most[:, None, None, None]).all()
    assert not cover[:, :, case.site.plantable == 0].any()
    for name in ("occupancy", "mean_cover"):
        shares = data[name].values
        assert shares.min() >= 0.0
        assert shares.max() <= 1.0
        assert not shares[:, case.site.plantable == 0].any()


@few(30)
@given(cases(barriers=2, patches=2))
def test_mat_never_passes_a_closed_line_of_barriers(case: Case):
    # a column without plantable ground cuts the site in two: only seed could get across
    columns = np.flatnonzero((case.site.plantable == 0).all(axis=0))
    mat = case.site.mat > 0
    west, east = mat[:, : columns[0]].any(), mat[:, columns[-1] + 1 :].any()
    cover = run(case, processes=("work", "mat", "climbing", "trees", "natives"))["mat_cover"].values
    assert cover[..., : columns[0]].any() == west
    assert cover[..., columns[-1] + 1 :].any() == east


@few(40)
@given(cases())
def test_areas_are_within_each_other_and_the_ground(case: Case):
    data = run(case)
    ground = case.site.plantable.sum() * case.site.cell_size**2
    assert_within(data["infested_area"], ground)
    assert_within(data["mat_area"], data["infested_area"].values * data["mat.max_cover"].values[:, None])
    assert_within(data["known_area"], data["infested_area"])
    plantable = case.site.plantable * case.site.cell_size**2
    summed = (data["mat_cover"].values.astype("f8") * plantable).sum(axis=(2, 3))
    np.testing.assert_allclose(data["mat_area"], summed, rtol=1e-6, atol=1e-9)


@few(40)
@given(cases())
def test_counts_are_whole_and_no_more_than_there_are_hosts(case: Case):
    data = run(case)
    hosts = len(case.site.hosts)
    trees = case.site.hosts.kind.count("tree")
    for name in ("climbed_hosts", "fruiting_hosts", "fallen_hosts", "known_fruiting_hosts"):
        assert data[name].dtype.kind == "i"
        assert data[name].values.min() >= 0
    for name in ("seeds_produced", "seeds_exported", "new_patches", "hosts_treated"):
        flow = data[name].values[:, 1:]
        assert (flow >= 0).all()
        assert (flow == np.rint(flow)).all()
        assert np.isnan(data[name].values[:, 0]).all()
    climbed, fallen = data["climbed_hosts"].values, data["fallen_hosts"].values
    assert (climbed + fallen <= hosts).all()
    assert (fallen <= trees).all()
    assert (np.diff(fallen, axis=1) >= 0).all()
    assert (data["fruiting_hosts"].values <= hosts).all()
    assert (data["known_fruiting_hosts"].values <= data["fruiting_hosts"].values).all()
    mapped = case.site.hosts.state
    assert (climbed[:, 0] == (mapped > 0).sum()).all()
    assert (data["fruiting_hosts"].values[:, 0] == (mapped == 2).sum()).all()


@few(40)
@given(cases())
def test_seed_that_leaves_was_taken_by_birds_and_was_borne(case: Case):
    data = run(case)
    produced, exported = (data[name].values[:, 1:] for name in ("seeds_produced", "seeds_exported"))
    bearing = data["fruiting_hosts"].values[:, 1:]
    seasons = len(case.vine["seed.fruit_season"].value)
    # whole seeds: each host's part of a season is rounded up by less than one
    taken = produced * data["seed.share_taken_by_birds"].values[:, None] + bearing * seasons
    assert_within(exported, taken)
    assert (exported <= produced).all()
    assert not produced[bearing == 0].any()
    fewest = data["birds.share_far"].values[:, None] * taken - 3 * bearing * seasons
    assert_within(fewest, exported)


@few(20)
@given(cases(states=("fruiting",), outside=False))
def test_where_birds_take_all_and_carry_it_far_every_seed_is_exported(case: Case):
    vine = with_values(case.vine, seed__share_taken_by_birds=1.0, birds__share_far=1.0)
    data = run(case.with_(vine=vine))
    np.testing.assert_array_equal(data["seeds_exported"], data["seeds_produced"])
    assert not data["new_patches"].values[:, 1:].any()
    if len(case.site.hosts):
        assert untreated(case.with_(vine=vine))["seeds_produced"].values[:, 1:].sum() > 0


@few(20)
@given(cases(outside=False))
def test_where_birds_take_next_to_none_nothing_is_exported_and_no_patch_is_theirs(case: Case):
    # not quite none: a founding rate above nil can't come of it. One seed in 10^15 is not met by chance
    vine = with_values(case.vine, seed__share_taken_by_birds=1e-15, seed__patches_founded=NIL)
    data = run(case.with_(vine=vine))
    assert not data["seeds_exported"].values[:, 1:].any()
    assert not data["new_patches"].values[:, 1:].any()
    produced = data["seeds_produced"].values[:, 1:]
    assert (produced > 0).any() == (data["fruiting_hosts"].values[:, 1:] > 0).any()


@few(40)
@given(cases())
def test_natives_are_a_share_and_lose_no_more_than_the_mat_takes_where_nobody_works(case: Case):
    worked = run(case)["native_cover"].values
    assert (worked >= 0).all()
    assert (worked <= 1 + ROUNDING).all()
    data = untreated(case)
    ground = case.site.plantable.sum() * case.site.cell_size**2
    taken = (1 - data["impact.native_cover_under_full_mat"]) * data["mat_area"] / data["mat.max_cover"] / ground
    # untreated mat never thins, so natives are always just what it leaves room for
    np.testing.assert_allclose(data["native_cover"], 1 - taken.transpose("replicate", "year"), rtol=0, atol=1e-9)


@few(30)
@given(cases())
def test_untreated_mat_and_climbed_hosts_never_shrink(case: Case):
    data = untreated(case)
    cover = data["mat_cover"].values
    assert (np.diff(cover, axis=1) >= -1e-6).all()
    for name in ("mat_area", "infested_area"):
        assert_within(data[name].values[:, :-1], data[name].values[:, 1:])
    carried = data["climbed_hosts"].values + data["fallen_hosts"].values
    assert (np.diff(carried, axis=1) >= 0).all()
