"""What a survey changes in a world: shown exactly by the record, undone afterwards, and gone on from as if mapped so."""

import dataclasses
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import spreadsim
from spreadsim.inputs import NO_ACTION, Site, Start, Strategy, load_vine, site_hash
from tests.model.strategies import few

from .starts import YEARS, begun, seen, start, whole

FREE = np.flatnonzero(whole().site.plantable.ravel() > 0)
COVERS = (0.0, 0.001, 0.1, 0.4, 0.8, 1.0)


def amended(worlds: int, strategy: int, *rows: dict[str, Any]) -> Start:
    """A start whose worlds are amended, each by its rows."""
    names = list(rows[0])
    return start(strategy, worlds, **{name: np.concatenate([one[name] for one in rows]) for name in names})


def shown(one: Start, years: int = YEARS + 1) -> tuple[xr.Dataset, xr.Dataset]:
    """Outcomes with every replicate's cover, and the film, of no action from a start on."""
    experiment = whole()
    data = spreadsim.simulate(
        experiment.site,
        experiment.vine,
        crews=experiment.crews,
        years=years,
        replicates=one.worlds,
        seed=experiment.seed,
        weather=experiment.weather,
        maps="replicate",
        start=one,
    )
    film = spreadsim.film(begun(one), replicates=one.worlds, strategies=[NO_ACTION]).isel(strategy=0)
    return data, film


@given(seed=st.integers(0, 2**32 - 1), strategy=st.integers(0, 3))
@few(12)
def test_the_record_shows_what_was_seen_and_nothing_else(seed: int, strategy: int) -> None:
    rng = np.random.default_rng(seed)
    rows = []
    for world in range(2):
        cells = rng.choice(FREE, rng.integers(0, 200), replace=False)
        hosts = rng.choice(90, rng.integers(0, 60), replace=False)
        rows.append(
            seen(
                world,
                [(int(c), float(rng.choice(COVERS)), bool(rng.random() < 0.5)) for c in cells],
                [(int(j), int(rng.integers(3)), bool(rng.random() < 0.5)) for j in hosts],
            )
        )
    one = amended(2, strategy, *rows)
    before, was = shown(start(strategy, 2))
    after, film = shown(one)
    most = before["mat.max_cover"].values
    known = {name: film[f"{name}_marks"].isel(step=0).values.reshape(2, -1) & 1 for name in ("ground", "host")}
    for world in range(2):
        cover = after["mat_cover"].sel(year=YEARS).isel(replicate=world).values.ravel()
        expected = before["mat_cover"].sel(year=YEARS).isel(replicate=world).values.ravel().copy()
        told = one.cell_world == world
        expected[one.cell[told]] = np.minimum(one.cell_cover[told], most[world])
        assert np.allclose(cover, expected, rtol=1e-6, atol=1e-9)
        there = one.cell_cover[told] > 0
        assert np.array_equal(known["ground"][world][one.cell[told][there]], one.cell_known[told][there])
        area = (cover * whole().site.plantable.ravel()).sum() * 4.0
        assert float(after["mat_area"].sel(year=YEARS)[world]) == pytest.approx(area, rel=1e-6)
        looks = film["host_state"].isel(step=0).values[world]
        before_looks = was["host_state"].isel(step=0).values[world]
        mine = one.host_world == world
        untouched = np.ones(90, bool)
        untouched[one.host[mine]] = False
        assert np.array_equal(looks[untouched], before_looks[untouched])
        for host, state, is_known in zip(one.host[mine], one.host_state[mine], one.host_known[mine], strict=True):
            fallen = state == 0 and before_looks[host] == 3
            assert looks[host] == (3 if fallen else (0, 1, 4)[state])
            if state > 0:
                assert known["host"][world][host] == is_known
        assert float(after["climbed_hosts"].sel(year=YEARS)[world]) == np.isin(looks, (1, 4)).sum()
        assert float(after["fallen_hosts"].sel(year=YEARS)[world]) == (looks == 3).sum()
        bore = film["host_marks"].isel(step=0).values[world] & 8 > 0
        assert float(after["fruiting_hosts"].sel(year=YEARS)[world]) == bore.sum()
        assert bore[one.host[mine][one.host_state[mine] == 2]].all()
        assert not bore[one.host[mine][one.host_state[mine] < 2]].any()
    # whole years later nothing is out of bounds
    last = after.isel(year=-1)
    assert (last["mat_cover"] <= most[:, None, None] + 1e-6).all()
    assert (last["known_area"] <= last["infested_area"] + 1e-9).all()
    assert (last["infested_area"] <= float((whole().site.plantable * 4.0).sum()) + 1e-6).all()


@given(seed=st.integers(0, 2**32 - 1))
@few(20)
def test_mat_that_is_seen_goes_on_as_mat_that_is_mapped(seed: int) -> None:
    """On clean ground, a year later than the map: the front comes everywhere a year later, and cover follows."""
    rng = np.random.default_rng(seed)
    ny, nx = 14, 15
    mat = np.zeros((ny, nx))
    for _ in range(rng.integers(1, 5)):
        row, column, size = rng.integers(1, ny - 4), rng.integers(1, nx - 4), rng.integers(1, 5)
        mat[row : row + size, column : column + size] = rng.choice([0.1, 0.5, 0.95, 1.0])
    layers = {"canopy": rng.uniform(0, 1, (ny, nx)), "plantable": (rng.random((ny, nx)) < 0.9) * 1.0}
    mat *= layers["plantable"] > 0
    clean, mapped = (Site.from_arrays(2.0, mat=one, **layers) for one in (0 * mat, mat))
    vine = load_vine("wintercreeper")
    cells = np.flatnonzero(mat.ravel())
    seen_at = seen(0, [(int(c), float(mat.ravel()[c]), True) for c in cells])
    none = Strategy(NO_ACTION)
    one = Start(1, 4, np.array([0]), {}, none, (), site_hash(clean), **seen_at)
    how: dict[str, Any] = {"replicates": 1, "seed": 4, "maps": "replicate", "processes": ["mat"]}
    started = spreadsim.simulate(clean, vine, years=9, start=one, **how)
    whole_run = spreadsim.simulate(mapped, vine, years=8, **how)
    for year in range(9):
        a, b = (data.sel(year=at)["mat_cover"].values.ravel() for data, at in ((started, year + 1), (whole_run, year)))
        assert np.allclose(a, b, rtol=1e-5, atol=1e-7), year
    assert np.allclose(started["known_area"].values, whole_run["known_area"].values, rtol=1e-9)


def test_what_is_seen_as_it_is_changes_nothing() -> None:
    """Bare hosts that are bare, ground without mat: the same bits from then on."""
    data, film = shown(start(2, 1))
    cover = data["mat_cover"].sel(year=YEARS).values.ravel()
    looks = film["host_state"].isel(step=0).values[0]
    clean = [int(c) for c in FREE if cover[c] == 0]
    rows = seen(0, [(c, 0.0, True) for c in clean], [(int(j), 0, False) for j in np.flatnonzero(looks == 0)])
    again = spreadsim.compare(begun(amended(1, 2, rows)), replicates=1)
    plain = spreadsim.compare(begun(start(2, 1)), replicates=1)
    for name in ("mat_area", "climbed_hosts", "fruiting_hosts", "known_area", "seeds_produced", "hours", "new_patches"):
        assert np.array_equal(again[name].values, plain[name].values, equal_nan=True), name


def test_mat_that_is_gone_comes_back_from_its_neighbours() -> None:
    cover = shown(start(0, 1))[0]["mat_cover"].sel(year=YEARS).values.ravel()
    middle = 27 * 36 + 23
    assert cover[middle] > 0.3
    data, _ = shown(amended(1, 0, seen(0, [(middle, 0.0, True)])), years=YEARS + 4)
    one = data["mat_cover"].isel(replicate=0).values.reshape(5, -1)[:, middle]
    assert one[0] == 0
    assert one[-1] > 0
    assert (np.diff(one) >= 0).all()


def test_hosts_that_are_seen_climbing_bear_later_and_those_seen_fruiting_at_once() -> None:
    """Seed comes at once from hosts seen in fruit; those seen without fruit wait for it."""
    climbing = amended(1, 0, seen(0, hosts=[(j, 1, True) for j in range(90)]))
    fruiting = amended(1, 0, seen(0, hosts=[(j, 2, True) for j in range(90)]))
    none = amended(1, 0, seen(0, hosts=[(j, 0, True) for j in range(90)]))
    now = {
        name: shown(one, YEARS + 1)[0].isel(replicate=0).sel(year=[YEARS, YEARS + 1])
        for name, one in (("climbing", climbing), ("fruiting", fruiting), ("none", none))
    }
    assert now["climbing"]["fruiting_hosts"].values[0] == 0
    assert now["fruiting"]["fruiting_hosts"].values[0] == 90
    assert now["fruiting"]["fruiting_hosts"].values[1] > 80  # some fall
    assert now["fruiting"]["known_fruiting_hosts"].values[0] == 90
    assert now["climbing"]["fruiting_hosts"].values[1] < 45
    assert now["none"]["climbed_hosts"].values[0] == 0
    assert now["none"]["seeds_produced"].values[1] < now["climbing"]["seeds_produced"].values[1] + 1


def test_what_becomes_known_is_worked_and_what_is_forgotten_is_not() -> None:
    far = [int(c) for c in FREE[-60:]]
    known, hours = {}, {}
    for told in (True, False):
        one = amended(1, 2, seen(0, [(c, 0.8, told) for c in far]))
        data = spreadsim.compare(dataclasses.replace(begun(start(2, 1)), replicates=1, start=one))
        known[told] = data["known_area"].sel(year=YEARS, strategy=NO_ACTION).item()
        hours[told] = data["hours"].sel(strategy="mats only", year=YEARS + 1).sum().item()
    share = min(1.0, 0.8 / data["mat.max_cover"].item())
    ground = whole().site.plantable.ravel()[far].sum() * 4.0
    assert known[True] - known[False] == pytest.approx(ground * share, rel=1e-9)
    assert hours[True] > hours[False] + 1.0
