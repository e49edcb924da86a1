"""Nothing comes of nothing: seed needs a climbing stem that fruits, patches need seed, mat needs mat."""

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spreadsim.inputs import Crew, Site, Strategy, Task, load_treatment, load_vine

from .helpers import assert_same, run, untreated
from .strategies import NIL, VINES, Case, cases, few, with_values

CLEAN_CUT = {"stem_kill": 1.0, "stem_kill_volunteers": 1.0, "base_kill": 1.0}


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
    seeds = untreated(
        case.with_(site=with_background(case.site, 3e6)), replicates=5, processes=("mat", "birds", "seedlings")
    )
    assert seeds["new_patches"].values[:, 1:].sum() > 0
    assert not seeds["seeds_produced"].values[:, 1:].any()
    assert not seeds["seeds_exported"].values[:, 1:].any()


@few(30)
@given(cases(states=("bare",), outside=False), st.sampled_from(("no climbing", "climb rate nil", "none may fruit")))
def test_without_a_climbing_stem_that_fruits_no_seed_ever(case: Case, why: str):
    options: dict[str, Any] = {}
    if why == "no climbing":
        options["processes"] = ("work", "mat", "birds", "seedlings", "trees", "natives")
    elif why == "climb rate nil":
        case = case.with_(vine=with_values(case.vine, climb__climb_rate=NIL))
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


def orchard(state: str, vine: str = "wintercreeper") -> Case:
    """A hundred hosts of one state in a square of mat 20 m wide, on 60 m of open ground."""
    mat = np.zeros((30, 30))
    mat[10:20, 10:20] = 1.0
    x, y = (grid.ravel() for grid in np.meshgrid(np.arange(20, 40, 2) + 1.0, np.arange(20, 40, 2) + 1.0))
    hosts = {"x": x, "y": y, "state": [state] * 100, "kind": ["fence"] * 100, "top_light": np.full(100, 0.9)}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts)
    lively = load_vine(vine).replace({"seed.patches_founded": 2.0})
    return Case(site, lively, Strategy("no work"), (), 12, 1)


@pytest.mark.parametrize("vine", VINES)
def test_hosts_that_stand_in_mat_are_climbed_and_fruit_in_time(vine: str):
    data = untreated(orchard("bare", vine), replicates=10)
    assert (data["climbed_hosts"].values[:, 0] == 0).all()
    assert (data["climbed_hosts"].values[:, -1] > 20).all()
    assert (data["seeds_produced"].values[:, 1:].sum(axis=1) > 0).all()


@few(15)
@given(cases(states=("bare",), outside=False))
def test_a_bare_host_is_not_climbed_off_the_mat(case: Case):
    bare_ground = (case.site.mat == 0).ravel()[case.site.hosts.cell]
    data = untreated(case, processes=("climbing",))
    assert (data["climbed_hosts"].values <= (~bare_ground).sum()).all()


def founding_case(case: Case, seed_bank_life: float) -> tuple[Case, Any]:
    """Ample hours to cut every host dead at the start of year 3, and a vine that climbs no more."""
    vine = with_values(
        case.vine, climb__climb_rate=NIL, seed__seed_bank_life=seed_bank_life, seed__years_seed_to_patch=1.5
    )
    cut = with_values(load_treatment("cut"), **CLEAN_CUT, crop_prevented_ripe=1.0)
    hosts = dataclasses.replace(case.site.hosts, known=np.ones(len(case.site.hosts), bool))
    strategy = Strategy("all hosts", tasks=[Task("cut", years=(3, None), seasons=["winter"])])
    site = dataclasses.replace(case.site, hosts=hosts)
    return case.with_(site=site, vine=vine, strategy=strategy, crews=(Crew("all", 1e6),), years=14), cut


@few(15)
@given(cases(outside=False))
def test_with_founding_hosts_gone_new_patches_stop_when_the_last_seedlings_have_rooted(case: Case):
    case, cut = founding_case(case, 0.0)
    data = run(case, replicates=5, treatments=[cut])
    assert not data["seeds_produced"].sel(year=slice(3, None)).values.any()
    assert not data["climbed_hosts"].sel(year=slice(3, None)).values.any()
    # shed in year 2 at the latest, rooted one and a half years later
    assert not data["new_patches"].sel(year=slice(5, None)).values.any()


@pytest.mark.parametrize("vine", VINES)
def test_new_patches_come_until_the_founding_hosts_are_gone_and_a_seed_bank_delays_their_end(vine: str):
    case, cut = founding_case(orchard("fruiting", vine), 0.0)
    none = run(case, replicates=20, treatments=[cut])["new_patches"]
    assert none.sel(year=slice(1, 4)).values.sum() > 100
    assert not none.sel(year=slice(5, None)).values.any()
    case, cut = founding_case(orchard("fruiting", vine), 0.3)
    bank = run(case, replicates=20, treatments=[cut])["new_patches"]
    assert bank.sel(year=slice(5, None)).values.any()
    # dormant for more than 8 years at a mean of 0.3: a chance of exp(-27) for each seed
    assert not bank.sel(year=slice(12, None)).values.any()
    uncut = untreated(case, replicates=20)["new_patches"]
    assert uncut.sel(year=slice(12, None)).values.any()


@pytest.mark.parametrize("vine", VINES)
def test_with_founding_hosts_gone_seed_from_outside_still_founds(vine: str):
    case, cut = founding_case(orchard("fruiting", vine), 0.0)
    site = with_background(case.site, 3e5)
    data = run(case.with_(site=site), replicates=5, treatments=[cut])
    assert not data["seeds_produced"].sel(year=slice(3, None)).values.any()
    assert data["new_patches"].sel(year=slice(6, None)).values.any()
