"""Planting and asking owners in the reference simulator, by values worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from . import example, other_work, work
from .books import CLEAN_GROUND, HELD_BACK, NO_TARGET
from .example import Crew, Strategy, Task, mat_site, treatment
from .helpers import ERRORS, MANY, season_of, world_of
from .world import EMPTY, NEVER

PLANT = treatment("plant", ["natives"], {"plant_survival": 0.6, "hours_per_area": 0.06, "material_per_area": 0.5})
ASK = treatment("ask", ["sources"], {"consent": 0.35, "consent_delay": 1.5, "hours_per_visit": 3.0})
ROWS = {**example.treatments(), "plant": PLANT, "ask": ASK}


def worked_ground(**layers):
    """Four rows of cells, those of the northernmost cleared by work and of half native cover."""
    world = world_of(mat_site(**layers))
    for cell in world.cells:
        cell.kind = EMPTY
    for cell in world.cells[:4]:
        cell.worked_in_season, cell.native = 0, 0.5
    return world


def plant_in(world, task=None, crews=(MANY,), season_index=1):
    """One season of planting."""
    return season_of(world, Strategy("s", (task or Task("plant"),)), crews, season_index, treatments=ROWS)[1]


def planted(world):
    """Numbers of planted cells."""
    return [cell.number for cell in world.cells if cell.planted]


def test_native_cover_rises_by_the_share_of_what_is_missing():
    world = world_of(example.site(1, 1, 2.0))
    cell = world.cells[0]
    cell.native = 0.3
    other_work.plant(cell, {"plant_survival": 0.6})
    assert cell.native == pytest.approx(0.72)
    assert cell.planted
    cell.native = 0.3
    other_work.plant(cell, {})
    assert cell.native == 0.3


def test_places_to_plant_were_worked_and_are_empty_bare_not_planted_and_not_full():
    world = worked_ground()
    assert not plant_in(worked_ground(), Task("plant", units=("south",))).visited_cells
    season = plant_in(world)
    assert planted(world) == [0, 1, 2, 3]
    assert season.hours == pytest.approx([4 * 0.06 * 4.0])
    assert season.area == pytest.approx([16.0])
    assert [cell.native for cell in world.cells[:4]] == pytest.approx([0.8] * 4)
    assert plant_in(world).hours == [0.0]  # once a place
    world = worked_ground()
    world.cells[0].kind = "front"
    world.cells[1].covered_until = 0.1
    world.cells[2].native = 1.0
    plant_in(world)
    assert planted(world) == [3]
    world.cells[1].covered_until = 0.0  # bare by now
    plant_in(world)
    assert planted(world) == [1, 3]


def test_planting_may_wait_for_two_clean_visits():
    world = worked_ground()
    for clean, cell in enumerate(world.cells[:4]):
        cell.clean_visits = clean
    plant_in(world, Task("plant", not_until=CLEAN_GROUND))
    assert planted(world) == [2, 3]


def test_planting_goes_by_access_pace_and_walk_and_stops_where_hours_end():
    access = np.array([[1.0, 4.0, 2.0, 1.0]] + [[1.0] * 4] * 3)
    crew = Crew("staff", (1.0,) * 4, pace=0.5, walking_minutes=6.0)
    world = worked_ground(access=access)
    season = plant_in(world, Task("plant", order="nearest access first"), (crew,))
    # 0.24 h at pace 0.5 are 0.48 h, and 0.1 h of walking at first; the third place would take 0.96 h
    assert season.hours == pytest.approx([0.1 + 0.48])
    assert planted(world) == [0]
    season = plant_in(world, Task("plant", order="nearest access first"), (replace(crew, hours=(2.1,) * 4),))
    assert season.hours == pytest.approx([0.1 + 0.48 + 0.96])
    assert planted(world) == [0, 2, 3]


def test_planting_ends_at_the_cap_of_new_ground_and_takes_money():
    world = worked_ground()
    season = plant_in(world, Task("plant", new_ground=9.0))
    assert planted(world) == [0, 1]
    assert season.met[0] == {HELD_BACK, NO_TARGET}
    world = worked_ground()
    plan = season.plan
    plan.funds, plan.fund_left = (example.Fund("grant", 7.0),), [7.0]
    plan.strategy = Strategy("s", (Task("plant"),))
    again = work.work(world, plan, 0, 1, 0.0)
    assert len(again.visited_cells) == 3  # material for 2 a cell
    assert plan.fund_left == pytest.approx([1.0])


def sources_world(n=3):
    """Ground with planted sources west of it."""
    return world_of(example.site(2, 2, 2.0, sources=[(-5.0, 1.0 + i, 2.0) for i in range(n)]))


def test_owners_are_asked_once_a_year_in_the_order_of_the_list_as_hours_last():
    world = sources_world()
    crew = Crew("staff", (7.0,) * 4, pace=1.0)
    rows = {**ROWS, "ask": treatment("ask", ["sources"], {"consent": 0.0, "hours_per_visit": 3.0})}
    strategy = Strategy("s", (Task("ask"),))
    plan, first = season_of(world, strategy, [crew], treatments=rows)
    assert first.hours == pytest.approx([6.0])
    assert first.hosts == [2]
    assert [source.asked_in_year for source in world.sources] == [0, 0, -1]
    assert work.work(world, plan, 0, 1, 0.05).hosts == [1]
    assert work.work(world, plan, 0, 2, 0.5).hosts == [0]
    assert work.work(world, plan, 1, 0, 1.0).hosts == [2]
    assert all(source.gone == NEVER for source in world.sources)


def test_who_consents_is_not_asked_again_and_gone_after_the_delay():
    rows = {
        **ROWS,
        "ask": treatment("ask", ["sources"], {"consent": 1.0, "consent_delay": 1.5, "hours_per_visit": 3.0}),
    }
    world = sources_world()
    plan, first = season_of(world, Strategy("s", (Task("ask"),)), [MANY], 2, treatments=rows)
    assert first.hosts == [3]
    assert [(s.consented, s.gone) for s in world.sources] == [(True, 1.5)] * 3  # asked at 0.0
    assert work.work(world, plan, 1, 0, 1.0).hosts == [0]


def test_owners_consent_by_their_chance_and_each_year_anew():
    """Binomial, 4.9 standard errors."""
    world = sources_world(600)
    plan, first = season_of(world, Strategy("s", (Task("ask"),)), [replace(MANY, hours=(1e4,) * 4)], treatments=ROWS)
    left = [600, 600 - sum(s.consented for s in world.sources)]
    assert first.hosts == [600]
    second = work.work(world, plan, 1, 0, 1.0)
    assert second.hosts == [left[1]]
    left.append(sum(not s.consented for s in world.sources))
    for before, after in zip(left, left[1:], strict=False):
        assert abs(before - after - 0.35 * before) < ERRORS * math.sqrt(before * 0.35 * 0.65)
    assert {s.gone for s in world.sources} == {1.5, 2.5, NEVER}
