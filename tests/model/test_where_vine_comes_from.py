"""Nothing comes of nothing: seed needs a climbing stem that fruits, patches need seed, mat needs mat."""

import dataclasses
from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from spreadsim.inputs import Crew, Site, Strategy, Task, load_treatment

from .helpers import assert_same, run, untreated
from .strategies import Case, cases, few, with_values


def without_outside(case: Case) -> Case:
    """The same without any seed from outside."""
    site = case.site
    none = dataclasses.replace(site.sources, **{key: np.zeros(0) for key in ("x", "y", "hosts")})
    return case.with_(site=dataclasses.replace(site, sources=none, background_seed=0.0))


def with_background(site: Site, seeds: float) -> Site:
    """The same with seed from all round."""
    return dataclasses.replace(site, background_seed=seeds)


@few(30)
@given(cases(states=("bare",), patches=0, outside=False))
def test_without_mat_and_seed_nothing_ever_appears(case: Case):
    data = run(case)
    for name in ("mat_area", "infested_area", "climbed_hosts", "fruiting_hosts", "known_area"):
        assert not data[name].values.any(), name
    for name in ("seeds_produced", "seeds_exported", "new_patches"):
        assert not data[name].values[:, 1:].any(), name
    assert not data["mat_cover"].values.any()
    assert (data["native_cover"].values == 1.0).all()


@few(15)
@given(cases(states=("bare",), patches=0, outside=False, years=(6, 9)))
def test_seed_from_outside_alone_founds_patches_and_leaves_no_trace_in_the_books_of_seed(case: Case):
    seeds = untreated(case.with_(site=with_background(case.site, 3e6)), replicates=5, processes=("mat", "birds", "seedlings"))
    assert seeds["new_patches"].values[:, 1:].sum() > 0
    assert not seeds["seeds_produced"].values[:, 1:].any()
    assert not seeds["seeds_exported"].values[:, 1:].any()


@few(30)
@given(cases(states=("bare",), outside=False), st.sampled_from(("no climbing", "climb rate 0", "none may fruit")))
def test_without_a_climbing_stem_that_fruits_no_seed_ever(case: Case, why: str):
    options: dict[str, Any] = {}
    if why == "no climbing":
        options["processes"] = ("work", "mat", "birds", "seedlings", "trees", "natives")
    elif why == "climb rate 0":
        case = case.with_(vine=with_values(case.vine, climb__climb_rate=0.0))
    else:
        case = case.with_(vine=with_values(case.vine, climb__share_of_mature_climbers_fruiting=0.0))
    data = run(case, **options)
    for name in ("seeds_produced", "seeds_exported", "new_patches", "fruiting_hosts"):
        assert not data[name].values[:, 1:].any(), name
    if why != "none may fruit":
        assert not data["climbed_hosts"].values.any()
    # so the infestation is what the mat alone makes of it
    mat_only = run(case, processes=("work", "mat", *(["climbing", "trees"] if why == "none may fruit" else [])))
    assert_same(data, mat_only, ("infested_area", "mat_cover"))


@few(15)
@given(cases(states=("bare",), patches=3, years=(9, 12)))
def test_hosts_that_stand_in_mat_are_climbed_and_fruit_in_time(case: Case):
    data = untreated(without_outside(case), replicates=10)
    if (case.site.mat.ravel()[case.site.hosts.cell] > 0.5).sum() > 10:
        assert data["climbed_hosts"].values[:, -1].max() > 0
        assert (data["seeds_produced"].values[:, 1:].sum(axis=1) > 0).any()


@few(15)
@given(cases(states=("bare",), outside=False))
def test_a_bare_host_is_not_climbed_off_the_mat(case: Case):
    bare_ground = (case.site.mat == 0).ravel()[case.site.hosts.cell]
    data = untreated(case, processes=("climbing", "birds", "seedlings"))
    assert (data["climbed_hosts"].values <= (~bare_ground).sum()).all()


CLEAN_CUT = {"stem_kill": 1.0, "stem_kill_volunteers": 1.0, "base_kill": 1.0}


def founding_case(case: Case, seed_bank_life: float) -> tuple[Case, Any]:
    """Ample hours to cut every host dead at the start of year 3, and a vine that climbs no more."""
    vine = with_values(
        case.vine, climb__climb_rate=0.0, seed__seed_bank_life=seed_bank_life, seed__years_seed_to_patch=1.5
    )
    cut = with_values(load_treatment("cut"), **CLEAN_CUT, crop_prevented_ripe=1.0)
    hosts = dataclasses.replace(case.site.hosts, known=np.ones(len(case.site.hosts), bool))
    strategy = Strategy("all hosts", tasks=[Task("cut", years=(3, None), seasons=["winter"])])
    site = dataclasses.replace(case.site, hosts=hosts)
    return case.with_(site=site, vine=vine, strategy=strategy, crews=(Crew("all", 1e6),), years=14), cut


@few(15)
@given(cases(states=("bare", "climbing", "fruiting"), outside=False))
def test_with_founding_hosts_gone_new_patches_stop_when_the_last_seedlings_have_rooted(case: Case):
    case, cut = founding_case(case, 0.0)
    data = run(case, replicates=5, treatments=[cut])
    assert not data["seeds_produced"].sel(year=slice(3, None)).values.any()
    assert not data["climbed_hosts"].sel(year=slice(3, None)).values.any()
    # shed in year 2 at the latest, rooted one and a half years later
    assert not data["new_patches"].sel(year=slice(5, None)).values.any()
    if (case.site.hosts.state == 2).sum() > 10:
        assert data["new_patches"].sel(year=slice(1, 4)).values.any()


@few(10)
@given(cases(states=("fruiting",), outside=False))
def test_a_seed_bank_delays_the_end_of_new_patches_and_is_used_up(case: Case):
    case, cut = founding_case(case, 0.3)
    bank = run(case, replicates=20, treatments=[cut])["new_patches"]
    none = run(founding_case(case, 0.0)[0], replicates=20, treatments=[cut])["new_patches"]
    if float(none.sum()) > 300:
        assert bank.sel(year=slice(5, None)).values.any()
    # dormant for more than 8 years at a mean of 0.3: a chance of exp(-27) for each seed
    assert not bank.sel(year=slice(12, None)).values.any()


@few(10)
@given(cases(states=("fruiting",), outside=False, patches=1))
def test_with_founding_hosts_gone_seed_from_outside_still_founds(case: Case):
    case, cut = founding_case(case, 0.0)
    site = with_background(case.site, 3e6)
    data = run(case.with_(site=site), replicates=5, treatments=[cut], processes=("work", "birds", "seedlings"))
    assert data["new_patches"].sel(year=slice(6, None)).values.any()
    assert not data["seeds_produced"].sel(year=slice(3, None)).values.any()
