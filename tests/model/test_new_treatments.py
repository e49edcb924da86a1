"""Mowing, grazing, covering, planting and asking do what the model's page says, by values worked out by hand."""

from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import Crew, FollowUp, Task, Treatment, load_treatment, load_vine

from .helpers import ERRORS
from .plain_cases import OWN
from .small import PER_CELL, by_season, go, meadow, steady, still
from .strategies import NIL, with_values

ON_MAT = {"mow": "spring", "graze": "spring", "mulch": "winter", "tarp": "winter"}  # first season in which it is done
SPRING = 0.05  # growth time at its start; summer's is 0.5, autumn's 0.9
FULL = 0.95  # cover of a full mat
BURN = next(treatment for treatment in OWN if treatment.name == "burn")


def first_year(name: str, *more: Any, **options: Any) -> Task:
    """A task that opens new ground in the first season of the first year in which the treatment is done."""
    season = options.pop("season", ON_MAT.get(name, "winter"))
    return Task(name, *more, years=(1, 1), seasons=[season], **options)


def plain(name: str, **values: float) -> Treatment:
    """A treatment of mat whose kill does not vary, on patches of any size."""
    usual = {"kill_variation": 0.0} | ({"largest_patch": 0.0} if name == "tarp" else {})
    return with_values(load_treatment(name), **(usual | values))


def regrown(share_left: float, years: float) -> float:
    """Cover of a cell so many years after a kill, by the logistic law, doubling in a year at first."""
    return FULL / (1.0 + (1.0 / share_left - 1.0) * 2.0**-years)


# --- kill -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kill", [0.15, 0.5, 0.9])
@pytest.mark.parametrize("name", ON_MAT)
def test_mat_is_thinned_by_the_kill_and_thickens_again_once_it_is_bare(name: str, kill: float):
    covers = {"cover_years": 1.5} if name in ("mulch", "tarp") else {}
    vine = still(mat__rooted_pieces=1e6, disturbance__release_factor=1.8)  # so many that none is cleared by chance
    options = {"treatments": [plain(name, mat_kill=kill, **covers)], "vine": vine, "years": 3, "maps": "replicate"}
    data = go(meadow(4, 4, cover=FULL), first_year(name), **options)
    bare = 1.5 if covers else SPRING
    for year in (1, 2, 3):
        expected = regrown(1.0 - kill, max(0.0, year - bare))  # what is covered stays as it is
        np.testing.assert_allclose(data["mat_cover"].values[:, year], expected, rtol=1e-6)


@pytest.mark.parametrize("name", ON_MAT)
def test_what_is_killed_whole_is_cleared_and_only_that(name: str):
    for kill, gone in ((1.0, True), (0.0, False)):
        treatment = plain(name, mat_kill=kill)
        data = go(meadow(4, 4), first_year(name), treatments=[treatment], vine=still(), processes=("work", "mat"))
        assert (data["infested_area"].values[:, 1] == (0.0 if gone else 64.0)).all()


# --- where and when -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ON_MAT)
def test_sensitive_ground_is_left_alone(name: str):
    sensitive = np.zeros((6, 6), bool)
    sensitive[:, :2] = True
    site = meadow(6, 6, sensitive=sensitive)
    options = {"treatments": [plain(name, mat_kill=1.0)], "vine": still(), "maps": "replicate"}
    data = go(site, first_year(name), **options)
    mat = data["mat_cover"].values[:, 1] > 0
    assert mat[:, sensitive].all() and not mat[:, ~sensitive].any()
    assert (data["area_treated"].sum(("season", "task")).values[:, 1] == 96.0).all()
    everywhere = go(meadow(6, 6), first_year(name), **options)
    assert not (everywhere["mat_cover"].values[:, 1] > 0).any()


@pytest.mark.parametrize("name", ["mow", "graze"])
def test_nobody_mows_or_grazes_in_winter(name: str):
    data = go(meadow(4, 4), Task(name), treatments=[plain(name)], vine=still(), years=2)
    worked = by_season(data, "hours") > 0
    assert not worked[..., 0].any() and worked[..., 1:].all()


def test_a_tarp_is_not_laid_on_a_patch_larger_than_its_largest():
    mat = np.zeros((12, 20))
    mat[1:11, 1:6] = 1.0  # 50 cells: 200 m2
    mat[1:11, 10:15] = 1.0
    mat[0, 10] = 1.0  # and 204 m2
    for task, area in ((first_year("tarp"), 200.0), (first_year("tarp", instead="pull"), 404.0)):
        data = go(meadow(mat=mat), task, vine=still(), maps="replicate")
        assert data["area_treated"].sum(("season", "task")).values[:, 1] == pytest.approx(area)
    raised = with_values(load_treatment("tarp"), largest_patch=204.0)
    data = go(meadow(mat=mat), first_year("tarp"), treatments=[raised], vine=still())
    assert data["area_treated"].sum(("season", "task")).values[:, 1] == pytest.approx(404.0)


# --- covers ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tarp", "mulch"])
@pytest.mark.parametrize(("years", "visits"), [(0.5, [2, 3, 4]), (0.9, [3, 4, 5]), (1.0, [4, 5, 6]), (1.2, [6, 7, 8])])
def test_covered_ground_is_not_worked_until_it_is_bare(name: str, years: float, visits: list[int]):
    treatment = plain(name, cover_years=years, mat_kill=0.5)
    task = first_year(name, follow_up=FollowUp(1, 3, "pull"))
    pull = steady(mat_kill=0.0)
    data = go(meadow(4, 4), task, Task("pull"), treatments=[treatment, pull], vine=still(), years=2)
    worked = np.flatnonzero((by_season(data, "hours") > 0).any(axis=0).ravel())
    assert worked.tolist() == [0, *range(visits[0], 8)]
    once = go(meadow(4, 4), task, treatments=[treatment], vine=still(), years=3)
    assert (by_season(once, "follow_up_hours").reshape(3, -1)[:, visits] > 0).all()


@pytest.mark.parametrize("years", [0.0, 1.2, 2.4])
def test_mat_does_not_come_back_over_covered_ground_before_it_is_bare(years: float):
    mat = np.ones((4, 12))
    sensitive = np.zeros((4, 12), bool)
    sensitive[:, :6] = True
    vine = with_values(load_vine("wintercreeper"), mat__front_speed=2.0)
    treatment = plain("mulch", mat_kill=1.0, cover_years=years)
    site = meadow(mat=mat, sensitive=sensitive)
    options = {"treatments": [treatment], "vine": vine, "years": 5, "processes": ("work", "mat"), "maps": "replicate"}
    data = go(site, first_year("mulch"), **options)
    # column k beyond the edge is entered k years after the ground is bare, and has some cover from then on
    columns = (data["mat_cover"].values > 0).all(axis=2)[0]
    for year in range(1, 6):
        entered = np.flatnonzero(years + np.arange(6) < year - 1e-9)
        assert np.flatnonzero(columns[year, 6:]).tolist() == entered.tolist()


def rained_on(task: Task | None, treatment: Treatment, *, lies: float = 0.0, mat: float = 1.0) -> Any:
    """New patches of seed from all round by year, summed over replicates; seed roots two years after germination.

    Seed of the autumn of year k germinates as year k + 1 begins and roots as year k + 2 ends.
    """
    vine = still(seed__seed_bank_life=lies, seed__years_seed_to_patch=2.0, mat__rooted_pieces=10.0)
    site = meadow(20, 20, cover=mat, background_seed=3e6)
    options = {"vine": vine, "years": 7, "treatments": [treatment], "replicates": 10}
    return go(site, *([task] if task else []), **options)["new_patches"].values[:, 1:].sum(axis=0)


def test_seedlings_under_a_cover_die_and_those_that_germinate_after_it_live():
    for years, first in ((0.9, 3), (1.0, 3), (1.1, 4), (2.0, 4), (2.3, 5)):
        patches = rained_on(first_year("mulch"), plain("mulch", mat_kill=1.0, cover_years=years))
        assert not patches[: first - 1].any(), years
        assert (patches[first - 1 :] > 0).all(), years


def test_a_cover_that_is_laid_kills_the_seedlings_that_are_there():
    # in spring of the second year, as the first crop has germinated; it is off before the second does
    task = Task("mulch", years=(2, 2), seasons=["spring"])
    patches = rained_on(task, plain("mulch", mat_kill=1.0, cover_years=0.5))
    assert not patches[:3].any() and (patches[3:] > 0).all()
    # cleared at the same time by what leaves seedlings alone
    bare = with_values(BURN, seedling_kill=0.0)
    patches = rained_on(Task("burn", years=(2, 2), seasons=["spring"]), bare)
    assert not patches[:2].any() and (patches[2:] > 0).all()


def test_what_lies_dormant_outlives_a_cover():
    # a source that bears in the first year alone; its seed germinates while the ground is covered, unless it lies
    sources = {"x": [20.0], "y": [-1.0], "hosts": [3000.0]}
    away = with_values(load_treatment("remove-source"), consent=1.0, consent_delay=1.5)
    for lies, some in ((0.0, False), (1.5, True)):
        vine = still(seed__seed_bank_life=lies, seed__years_seed_to_patch=2.0, birds__median_distance=15.0)
        tasks = (first_year("remove-source"), first_year("mulch"))
        treatments = [away, plain("mulch", mat_kill=1.0, cover_years=2.2)]
        data = go(meadow(20, 20, sources=sources), *tasks, treatments=treatments, vine=vine, years=9)
        patches = data["new_patches"].values[:, 1:].sum(axis=0)
        assert not patches[:4].any()
        assert patches.any() == some


# --- hours and material ---------------------------------------------------------------------------------


@pytest.mark.parametrize("pace", [1.0, 0.5])
def test_a_herd_costs_its_hours_once_a_season_and_material_by_area(pace: float):
    crews = (Crew("herder", 100.0, pace=pace, price=10.0),)
    treatment = plain("graze", hours_per_visit=8.0, material_per_area=0.25, mat_kill=0.0)
    for side in (3, 9):
        data = go(meadow(side, side), Task("graze", seasons=["spring", "autumn"]), crews=crews, treatments=[treatment])
        np.testing.assert_allclose(by_season(data, "hours"), [[[0.0, 8.0 / pace, 0.0, 8.0 / pace]]] * 3)
        there = by_season(data, "hours") * 10.0 + 0.25 * by_season(data, "area_treated")
        np.testing.assert_allclose(by_season(data, "cost"), there)
        assert (by_season(data, "area_treated")[..., 1] == 4.0 * side**2).all()


@pytest.mark.parametrize(("name", "rate"), [("mow", 0.008), ("tarp", 0.02), ("mulch", 0.12), ("plant", 0.06)])
def test_hours_go_by_area_and_access_not_by_cover(name: str, rate: float):
    site = meadow(5, 5, cover=0.4, access=np.full((5, 5), 1.5))
    tasks = [first_year(name)] if name != "plant" else [first_year("burn"), first_year("plant", season="autumn")]
    data = go(site, *tasks, vine=still(), treatments=[plain(name) if name != "plant" else load_treatment(name), BURN])
    hours = data["hours"].values[:, 1].sum(axis=1)[:, -1]
    np.testing.assert_allclose(hours, rate * 100.0 * 1.5, rtol=1e-12)


# --- natives --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ON_MAT)
def test_natives_are_lost_by_season(name: str):
    treatment = plain(name, native_loss_dormant=0.2, native_loss_growing=0.7, mat_kill=0.0)
    half = load_vine("wintercreeper")["impact.native_cover_under_full_mat"].number
    for season in treatment.seasons:
        task = first_year(name, season=season)
        data = go(meadow(4, 4, cover=FULL), task, treatments=[treatment], vine=still(), processes=("work", "mat"))
        lost = 0.2 if season == "winter" else 0.7
        np.testing.assert_allclose(data["native_cover"].values[:, 1], half * (1.0 - lost), rtol=1e-12)


def planted(*tasks: Task, survival: float = 0.6, years: int = 3, **options: Any) -> Any:
    """Native cover by year where mat of half native cover is burnt off, and planted; nothing else changes it."""
    plants = with_values(load_treatment("plant"), plant_survival=survival)
    given = {"treatments": [BURN, plants], "vine": still(), "processes": ("work",), "years": years, **options}
    return go(meadow(5, 5, cover=FULL), *tasks, **given)


@pytest.mark.parametrize("survival", [0.3, 0.6, 1.0])
def test_planting_makes_up_its_share_of_what_is_missing_and_once(survival: float):
    data = planted(first_year("burn"), Task("plant"), survival=survival)
    np.testing.assert_allclose(data["native_cover"].values, [[0.5, *[0.5 + 0.5 * survival] * 3]] * 3, rtol=1e-12)
    area = by_season(data, "area_treated")
    assert area.sum(axis=(1, 2)) == pytest.approx(200.0)  # burnt and planted
    assert area[:, 0, 1] == pytest.approx(100.0)  # planted in the first spring


def test_only_ground_that_was_worked_and_is_clean_and_bare_is_planted():
    assert not by_season(planted(Task("plant")), "hours").any()
    thinned = with_values(BURN, mat_kill=0.5)
    vine = still(mat__rooted_pieces=1e6)
    plants = load_treatment("plant")
    data = planted(first_year("burn"), Task("plant"), treatments=[thinned, plants], vine=vine)
    assert not data["hours"].values[:, 1:, :, 1].any()
    mulch = plain("mulch", mat_kill=1.0, cover_years=1.2)
    data = planted(first_year("mulch"), Task("plant"), treatments=[mulch, plants])
    worked = (data["hours"].values[:, 1:, :, 1] > 0).any(axis=0)
    assert np.flatnonzero(worked.ravel()).tolist() == [7]  # spring and autumn only; bare in summer of the second year


def test_planting_ends_at_the_cap_of_new_ground():
    data = planted(first_year("burn"), Task("plant", new_ground=24.0))
    cover = data["native_cover"].values
    np.testing.assert_allclose(cover, [[0.5 + 0.5 * 0.6 * 0.24 * year for year in range(4)]] * 3, rtol=1e-12)


# --- planted sources ------------------------------------------------------------------------------------


def asked(*, consent: float, delay: float, years: int, replicates: int = 3, **task: Any) -> Any:
    """Ask the owners of six planted sources."""
    sources = {"x": [-5.0] * 6, "y": [2.0, 4.0, 6.0, 8.0, 10.0, 12.0], "hosts": [20.0] * 6}
    treatment = with_values(load_treatment("remove-source"), consent=consent, consent_delay=delay, hours_per_visit=3.0)
    site = meadow(10, 10, cover=0.0, sources=sources)
    return go(site, Task("remove-source", **task), treatments=[treatment], years=years, replicates=replicates)


@pytest.mark.parametrize(
    ("delay", "standing"), [(0.0, [6, 0, 0, 0]), (1.0, [6, 0, 0, 0]), (1.5, [6, 6, 0, 0]), (2.5, [6, 6, 6, 0])]
)
def test_sources_are_gone_a_while_after_consent(delay: float, standing: list[int]):
    data = asked(consent=1.0, delay=delay, years=3)
    assert (data["sources_standing"].values == standing).all()
    np.testing.assert_allclose(by_season(data, "hours")[:, 0], [[18.0, 0.0, 0.0, 0.0]] * 3)
    assert not by_season(data, "hours")[:, 1:].any()


def test_owners_are_asked_once_a_year_until_they_consent():
    data = asked(consent=NIL, delay=0.0, years=3)
    assert (data["sources_standing"].values == 6).all()
    np.testing.assert_allclose(by_season(data, "hours"), [[[18.0, 0.0, 0.0, 0.0]] * 3] * 3)
    assert (data["hosts_treated"].values[:, 1:].sum(axis=(2, 3)) == 6).all()
    few = asked(consent=NIL, delay=0.0, years=1, cap=7.0)
    np.testing.assert_allclose(by_season(few, "hours")[:, 0], [[6.0, 6.0, 6.0, 0.0]] * 3)


def test_the_share_of_owners_that_consents_is_the_chance():
    """Binomial, 6 owners in 400 worlds in each of three years: a false alarm of 1e-6 each."""
    data = asked(consent=0.35, delay=0.0, years=3, replicates=400)
    standing = data["sources_standing"].values
    for year in (1, 2, 3):
        n = standing[:, year - 1].sum()
        consented = n - standing[:, year].sum()
        assert abs(consented - 0.35 * n) <= ERRORS * np.sqrt(n * 0.35 * 0.65)
        hours = by_season(data, "hours")[:, year - 1, 0]
        np.testing.assert_allclose(hours, 3.0 * standing[:, year - 1])


def test_seed_of_a_source_stops_when_it_is_gone():
    founded = []
    for delay in (0.5, 9.0):
        vine = still(seed__years_seed_to_patch=0.5, seed__seed_bank_life=0.0, birds__median_distance=15.0)
        sources = {"x": [-2.0], "y": [10.0], "hosts": [3000.0]}
        treatment = with_values(load_treatment("remove-source"), consent=1.0, consent_delay=delay)
        site = meadow(10, 10, cover=0.0, sources=sources)
        data = go(site, Task("remove-source"), treatments=[treatment], years=4, vine=vine)
        founded.append(data["new_patches"].values[:, 1:].sum())
    assert founded[0] == 0 < founded[1]


def test_cells_take_the_time_that_is_said():
    # the constant of the helpers that the tests above go by
    data = go(meadow(1, 1), first_year("mow"), treatments=[steady("mow")], vine=still())
    np.testing.assert_allclose(by_season(data, "hours")[:, 0, 1], PER_CELL)
