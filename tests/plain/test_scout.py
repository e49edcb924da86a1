"""Scouting and finds in the reference simulator."""

import math

import numpy as np
import pytest

from . import example, scout
from .example import Crew, Strategy, Task
from .helpers import ERRORS, season_of, world_of


def test_scouting_finds_by_effort_and_finds_the_whole_patch():
    rows = [{"x": 1.0, "y": 1.0, "state": 1, "known": False} for _ in range(400)]
    world = world_of(example.site(20, 20, 2.0, mat=np.full((20, 20), 0.95), hosts=rows))
    for cell in world.cells:
        cell.known = False
        cell.origin = cell.number // 2 * 2
    crew = example.Crew("staff", (0.05,) * 4)
    _, season_books = season_of(world, example.Strategy("s", (example.Task("scout"),)), [crew], season_index=1)
    effort = 60 * 0.05 / 0.16
    assert season_books.hours == pytest.approx([0.05])
    for found, constant, n in (
        (sum(c.known for c in world.cells) / 2, 15.0, 200),
        (sum(h.known for h in world.hosts), 10.0, 400),
    ):
        chance = 0.9 * (1.0 - math.exp(-effort * 0.5 / constant))
        assert abs(found - n * chance) < ERRORS * math.sqrt(n * chance * (1 - chance))
    assert all(world.cells[i].known == world.cells[i + 1].known for i in range(0, 400, 2))


def test_scouting_stops_at_three_time_constants():
    world = world_of(example.site(10, 10, 10.0))
    crew = example.Crew("staff", (100.0,) * 4, pace=0.5)
    _, season_books = season_of(world, example.Strategy("s", (example.Task("scout"),)), [crew])
    assert season_books.hours == pytest.approx([3 * 15.0 / 60 / 0.5])


def test_finds_on_the_way_are_near_the_work():
    start = np.zeros((10, 100))
    start[:, 0] = 0.95
    rows = [{"x": 9.0, "y": 5.0, "state": 1, "known": False} for _ in range(200)]
    rows += [{"x": 199.0, "y": 5.0, "state": 1, "known": False} for _ in range(200)]
    world = world_of(example.site(10, 100, 2.0, mat=start, hosts=rows))
    crew = example.Crew("staff", (100.0,) * 4)
    season_of(world, example.Strategy("s", (example.Task("pull"),)), [crew])
    near, far = sum(h.known for h in world.hosts[:200]), sum(h.known for h in world.hosts[200:])
    assert abs(near - 100) < ERRORS * math.sqrt(50)
    assert far == 0


def test_chances_of_being_found_add_up_as_those_of_missing_multiply():
    assert scout.combined(0.3, None) == 0.3
    assert scout.combined(0.3, 0.5) == pytest.approx(0.65)


def test_effort_goes_by_pace():
    world = world_of(example.site(20, 20, 2.0, mat=np.full((20, 20), 0.95)))
    for cell in world.cells:
        cell.known = False
    crew = Crew("staff", (0.08,) * 4, pace=0.5)
    _, books = season_of(world, Strategy("s", (Task("scout"),)), [crew])
    assert set(books.effort.values()) == {60 * 0.08 * 0.5 / 0.16}
    chance = 0.9 * (1.0 - math.exp(-15.0 * 2.0 * 0.5 / 15.0))
    found = sum(cell.known for cell in world.cells)
    assert abs(found - 400 * chance) < ERRORS * math.sqrt(400 * chance * (1 - chance))
