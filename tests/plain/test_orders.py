"""Targets, orders and hours of the reference simulator."""

import numpy as np
import pytest

from . import example, orders
from .example import Task, mat_site
from .helpers import world_of


@pytest.mark.parametrize(
    ("order", "cells"),
    [
        ("largest first", [0, 1, 2, 14, 15]),
        ("outlying patches first", [14, 15, 0, 1, 2]),
        ("walking sweep", [0, 1, 2, 14, 15]),
        ("by unit", [14, 15, 0, 1, 2]),
        ("nearest access first", [15, 14, 2, 1, 0]),
        (None, [0, 1, 2, 14, 15]),
    ],
)
def test_orders_of_cells(order, cells):
    world = world_of(example.mat_site(access=np.arange(16.0, 0.0, -1.0).reshape(4, 4)))
    task = example.Task("pull", order=order, units=("south", "north"))
    targets = orders.new_cells(world, task, set())
    assert [c.number for c in orders.in_order(world, task, "mat", targets, 0.0)] == cells


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ("fruiting first", [1, 3, 0, 2]),
        ("most fruit per hour", [3, 1, 2, 0]),
        ("walking sweep", [2, 3, 0, 1]),
        (None, [1, 3, 0, 2]),
        ("by unit", [3, 2, 1, 0]),
        ("outlying patches first", [0, 1, 2, 3]),
    ],
)
def test_orders_of_hosts(order, expected):
    where = [(1.0, 1.0), (1.0, 1.0), (1.0, 7.0), (1.0, 7.0)]
    girths = ("large", "medium", "medium", "small")
    rows = [
        {"x": x, "y": y, "state": 2 if i % 2 else 1, "girth": girths[i], "years_climbing": 0.0}
        for i, (x, y) in enumerate(where)
    ]
    world = world_of(example.mat_site(hosts=rows))
    task = example.Task("cut", order=order)
    targets = orders.new_hosts(world, task, {"stem_kill": 1.0}, 0.0, set())
    ordered = orders.in_order(world, task, "stems", targets, 0.0)
    assert [h.number for h in ordered] == expected


def test_wanted_state_of_hosts():
    rows = [{"x": 1.0, "y": 1.0, "state": state, "years_climbing": 0.0} for state in (0, 1, 2)]
    world = world_of(example.mat_site(hosts=rows))
    found = {
        targets: [host.number for host in orders.new_hosts(world, Task("cut", targets=targets), {}, 0.0, set())]
        for targets in ("all", "fruiting", "climbing")
    }
    assert found == {"all": [1, 2], "fruiting": [2], "climbing": [1]}


def test_hours_go_by_girth_access_and_hauling():
    rows = [{"x": 1.0, "y": 1.0, "girth": girth} for girth in ("small", "medium", "large")]
    world = world_of(example.site(1, 1, 2.0, hosts=rows, access=np.full((1, 1), 1.5)))
    numbers = {"hours_per_host": 0.4, "hauling_share": 0.5}
    hours = [orders.hours_on(world, host, numbers, 0.0, False) for host in world.hosts]
    assert hours == pytest.approx([0.3, 0.6, 1.2])
    assert orders.hours_on(world, world.hosts[1], numbers, 0.0, True) == pytest.approx(0.9)


def test_hours_on_ground_go_by_cover_but_not_below_the_floor():
    world = world_of(example.site(1, 2, 2.0, mat=np.array([[0.19, 0.019]]), plantable=np.array([[0.5, 1.0]])))
    numbers = {"hours_per_area": 0.2, "hours_floor": 0.05}
    hours = [orders.hours_on(world, cell, numbers, 0.0, False) for cell in world.cells]
    assert hours == pytest.approx([0.2 * 4 * 0.5 * 0.2, 0.2 * 4 * 0.05])


def test_patches_of_a_size_are_told_apart_by_their_least_cell():
    start = np.zeros((4, 6))
    start[0:4, 5] = 0.95
    start[3, 0:4] = 0.95
    world = world_of(example.site(4, 6, 2.0, mat=start))
    targets = orders.new_cells(world, Task("pull"), set())
    for order in ("largest first", "outlying patches first"):
        ordered = orders.in_order(world, Task("pull", order=order), "mat", targets, 0.0)
        assert [cell.number for cell in ordered] == [5, 11, 17, 23, 18, 19, 20, 21]


def test_what_is_open_or_unknown_is_no_new_ground():
    world = world_of(mat_site(hosts=[{"x": 1.0, "y": 7.0, "state": 2}] * 3))
    world.cells[0].opened_by = 3
    world.cells[1].known = False
    assert [cell.number for cell in orders.new_cells(world, Task("pull"), set())] == [2, 14, 15]
    world.hosts[0].opened_by = 3
    world.hosts[1].known = False
    found = orders.new_hosts(world, Task("cut"), {"stem_kill": 1.0}, 0.0, set())
    assert [host.number for host in found] == [2]


def test_targets_of_a_ring():
    rows = [{"x": 1.0, "y": 7.0, "state": state} for state in (0, 0, 1, 1, 1)]
    rows.append({"x": 1.0, "y": 1.0, "state": 1})
    world = world_of(mat_site(hosts=rows))
    world.hosts[1].worked_before = True  # bare, but worked before
    world.hosts[3].ring_until = 1.0
    world.hosts[4].known = False
    numbers = {"ring_radius": 1.5, "base_kill": 0.6}
    for now, expected in ((0.0, [1, 2]), (1.0, [1, 2, 3])):
        found = orders.new_hosts(world, Task("ring"), numbers, now, set())
        assert [host.number for host in found] == expected
    assert orders.new_hosts(world, Task("ring"), numbers, 1.0, {1}) == []


def test_ground_in_no_unit_comes_last():
    unit = np.array([[0, 2, 1, 0]])
    site = example.site(1, 4, 2.0, mat=np.full((1, 4), 0.95), unit=unit, unit_names=("west", "east"))
    world = world_of(site)
    for units, expected in (((), [2, 1, 0, 3]), (("east", "west"), [1, 2])):
        task = Task("pull", order="by unit", units=units)
        ordered = orders.in_order(world, task, "mat", orders.new_cells(world, task, set()), 0.0)
        assert [cell.number for cell in ordered] == expected


def test_a_host_found_clean_costs_the_floor_of_its_hours():
    world = world_of(example.site(1, 1, 2.0, hosts=[{"x": 1.0, "y": 1.0, "girth": "large"}]))
    numbers = {"hours_per_host": 0.4, "hours_floor": 0.25}
    assert orders.hours_on(world, world.hosts[0], numbers, 0.0, False, clean=True) == pytest.approx(0.2)
    assert orders.hours_on(world, world.hosts[0], numbers, 0.0, False) == pytest.approx(0.8)
