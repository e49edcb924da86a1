"""Finding what nobody knew, against the law of random search.

Koopman's random search (from memory): P = 1 - exp(-C), C = W v t / A: a strip W wide, walked at v for a time
t, over an area A. What the model calls a time constant is then A / (W v), in minutes per hectare.
"""

import math

import numpy as np
import pytest

from spreadsim import Crew, Site, Strategy, Task, load_treatment, load_vine, simulate
from spreadsim.model.compiled import layout

from . import drivers
from .helpers import ERRORS, key_of, make_world, open_site, share_z

FOUNDER = 2
KOOPMAN = [(0.12, 0.113079563), (1.0, 0.632120559), (2.0, 0.864664717)]


def constant(width, speed):
    """Minutes per hectare of a searcher who sees a strip `width` m wide and walks `speed` km/h."""
    return 10000.0 / (width * speed * 1000.0 / 60.0)


@pytest.mark.parametrize(("coverage", "chance"), KOOPMAN)
def test_random_search(coverage, chance):
    """Source: Koopman's table (formula from memory, numbers derived). Sees parallel sweeps (.79 at C = 1)."""
    assert drivers.detection(coverage * 15.0, 15.0, 0.0) == pytest.approx(chance, abs=5e-10)
    # a share that looks like litter is never found (Dennett et al. 2018, read: 0.1, 0 to 0.35)
    assert drivers.detection(coverage * 15.0, 15.0, 0.35) == pytest.approx(0.65 * chance, abs=5e-10)


def scout(**changes):
    """Give plain scouting: no leaf-off boost, no clumping, nothing cryptic, no finds on the way."""
    plain = {"leaf_off_boost": 1.0, "clumping_factor": 1.0, "cryptic_share": 0.0, "incidental_finds": 0.0}
    return load_treatment("scout").replace(plain | changes, check_ranges=False)


def places(n=5000):
    """Places of hosts on a square kilometre."""
    rng = np.random.default_rng(12)
    return rng.random(n) * 1000, rng.random(n) * 1000


def known_share(hours, *, years=1, site_changes=None, tasks=None, crews=None, **changes):
    """Known fruiting hosts by year, of how many in all worlds, on 100 ha with none known; and the dataset.

    The park, its 5,000 hosts and four worlds are invented.
    """
    n, worlds = 5000, 4
    x, y = places(n)
    hosts = {"x": x, "y": y, "state": ["fruiting"] * n, "kind": ["wall"] * n}
    hosts["known"] = np.zeros(n, dtype=bool)
    site = Site.from_arrays(10.0, mat=np.zeros((100, 100)), hosts=hosts, **(site_changes or {}))
    out = simulate(
        site,
        load_vine("wintercreeper"),
        Strategy("look", tasks=tasks or [Task("scout")]),
        crews=crews or [Crew("searchers", {"spring": hours})],
        treatments=[scout(**changes)],
        years=years,
        replicates=worlds,
        seed=3,
        fixed_parameters=True,
        maps="none",
        processes=["work", "birds"],
    )
    return out.known_fruiting_hosts.values[:, 1:].sum(axis=0), n * worlds, out


@pytest.mark.parametrize(
    ("hours", "chance"), [(4.0, 0.113079563), (4.0 / 0.12, 0.632120559), (8.0 / 0.12, 0.864664717)]
)
def test_scouting_finds_as_random_search_does(hours, chance):
    """Source: Koopman's table: W = 10 m, 3 km/h, 4 h, 100 ha give C = .12; and the hours that give 1 and 2.

    20,000 hosts, 4.9 standard errors: 1.1 to 1.7 points. Sees minutes taken for hours, hectares for the whole
    site, effort spent four times, boosts left on.
    """
    tau = constant(10.0, 3.0)
    assert tau == pytest.approx(20.0)
    changes = {"search_time_constant_climbing": tau, "search_time_constant_mat": 100.0}
    known, n, out = known_share(hours, **changes)
    assert share_z(known[0], n, chance) < ERRORS
    assert out.hours.values[:, 1].sum() == pytest.approx(4 * hours)


def test_searches_of_different_years_add_up():
    """Source: independent searches miss together by exp(-sum of C) (derived).

    20,000 hosts, three years of C = .4. Sees luck kept from one season to the next: known hosts would stay at
    33 %.
    """
    changes = {"search_time_constant_climbing": 20.0, "search_time_constant_mat": 100.0}
    known, n, _ = known_share(0.4 / 0.03, years=3, **changes)
    for year in range(3):
        assert share_z(known[year], n, 1.0 - math.exp(-0.4 * (year + 1))) < ERRORS, year


def test_searches_of_one_season_add_up():
    """Source: C = W v t / A is linear in t (derived): two crews of C = .2 each find what one of .4 does.

    Sees luck drawn afresh at every look of a season (63 % instead of 33 %).
    """
    changes = {"search_time_constant_climbing": 20.0, "search_time_constant_mat": 100.0}
    hours = 0.2 / 0.03
    crews = [Crew("one", {"spring": hours}), Crew("other", {"spring": 2.0 * hours}, pace=0.5)]
    tasks = [Task("scout", name="first", cap=hours), Task("scout", name="second")]
    known, n, _ = known_share(0.0, tasks=tasks, crews=crews, **changes)
    assert share_z(known[0], n, 1.0 - math.exp(-0.4)) < ERRORS


def test_search_in_one_unit_covers_that_unit():
    """Source: Koopman; A in C = W v t / A is the area searched, here a quarter of the site: C = 4 x .12.

    Some 5,000 hosts, 4.9 standard errors: 3.4 points. Sees effort spread over the whole site (11 % instead of
    38 %).
    """
    units = np.ones((100, 100), dtype=int)
    units[:50, :50] = 2
    changes = {"search_time_constant_climbing": 20.0, "search_time_constant_mat": 100.0}
    tasks = [Task("scout", units=("unit 2",))]
    known, _, _ = known_share(4.0, site_changes={"units": units}, tasks=tasks, **changes)
    x, y = places()
    there = 4 * ((x < 500) & (y >= 500)).sum()
    assert share_z(known[0], there, 1.0 - math.exp(-4 * 0.12)) < ERRORS


@pytest.mark.parametrize(("cover", "coverage"), [(1.0, 1.0), (0.25, 0.5), (0.04, 0.2)])
def test_sparse_patches_are_found_less(cover, coverage):
    """Source: Koopman; that a patch shows by the root of its cover is common practice, no source.

    10,000 patches of one cell, effort of one time constant: 4.9 standard errors, 2.4 points.
    """
    n = 100
    world = make_world(open_site(n, 10.0))
    patches = np.arange(n * n)
    drivers.found(world.ground, world.plan, world.state, world.vines, patches, FOUNDER, -1e9, cover)
    # all of the ground is infested since long ago; density is what is set now
    world.state.pasts["since"] = 0.0
    rows = world.rows.copy()
    for name, parameter in scout().parameters.items():
        if name in rows.dtype.names:
            rows[name] = parameter.value
    rows["search_time_constant_mat"] = 15.0
    world.state.books[layout.EFFORT, 0] = 15.0
    drivers.find(key_of(6), world.ground, world.state, world.vines, rows[0], 1, 0.0)
    known = int(world.state.cells["known"].sum())
    assert share_z(known, n * n, 1.0 - math.exp(-coverage)) < ERRORS


def test_winter_boost_and_clumping_change_the_coverage():
    """Source: common practice, no source: an evergreen stands out in winter (2), crowding hides (0.5).

    20,000 hosts: effort of half a time constant in winter counts 0.5 x 2 x 0.5 of it. Sees a boost in summer.
    """
    changes = {"leaf_off_boost": 2.0, "clumping_factor": 0.5, "search_time_constant_climbing": 20.0}
    changes["search_time_constant_mat"] = 100.0
    for season, coverage in (("winter", 0.5), ("summer", 0.25)):
        crews = [Crew("searchers", {season: 0.5 / 0.03})]
        known, n, _ = known_share(0.0, crews=crews, **changes)
        assert share_z(known[0], n, 1.0 - math.exp(-coverage)) < ERRORS, season
