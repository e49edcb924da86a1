"""Rules of work in the reference simulator."""

from dataclasses import replace

import numpy as np
import pytest

from . import books, example, work
from .example import FollowUp, Strategy, Task, mat_site
from .helpers import MANY, season_of, world_of
from .world import BARE, CUT, EMPTY, FOUNDER


def test_hours_go_down_the_list_and_stop_at_the_first_target_that_they_do_not_cover():
    world = world_of(example.mat_site())
    crew = example.Crew("staff", (2.0,) * 4, pace=0.8)
    _, season_books = season_of(world, example.Strategy("s", (example.Task("pull"),)), [crew])
    # a full cell of 4 m2 costs 0.8 h, 1 h at this pace
    assert season_books.hours == pytest.approx([2.0])
    assert season_books.area == pytest.approx([8.0])
    assert [c.number for c in season_books.visited_cells] == [0, 1]


def test_new_ground_is_capped_by_the_year():
    world = world_of(example.mat_site())
    crew = example.Crew("staff", (100.0,) * 4)
    task = example.Task("pull", new_ground=9.0)
    _, season_books = season_of(world, example.Strategy("s", (task,)), [crew])
    assert season_books.area == pytest.approx([8.0])


def test_spray_waits_for_fit_days_and_the_crew_does_something_else_instead():
    crew = example.Crew("staff", (100.0,) * 4)
    task = example.Task("spray", instead="pull")
    for days, area_hours in ((0.0, 0.8), (50.0, 0.0012 * 4)):
        world = world_of(example.mat_site())
        _, season_books = season_of(world, example.Strategy("s", (task,)), [crew], fit_days=(days,) * 4)
        assert season_books.hours == pytest.approx([5 * area_hours])
    world = world_of(example.mat_site())
    _, season_books = season_of(world, example.Strategy("s", (task,)), [crew], season_index=2)
    assert season_books.hours == [0.0]  # summer: the treatment is out of season, and so is the task


def test_no_spray_on_sensitive_ground_and_none_by_those_who_may_not():
    sensitive = np.zeros((4, 4), dtype=bool)
    sensitive[0, 1] = True
    crew = example.Crew("staff", (100.0,) * 4)
    task = example.Task("spray")
    world = world_of(example.mat_site(sensitive=sensitive))
    _, season_books = season_of(world, example.Strategy("s", (task,)), [crew], fit_days=(50.0,) * 4)
    assert [c.number for c in season_books.visited_cells] == [0, 2, 14, 15]
    world = world_of(example.mat_site())
    _, season_books = season_of(
        world, example.Strategy("s", (task,)), [replace(crew, may=("pull",))], fit_days=(50.0,) * 4
    )
    assert season_books.visited_cells == []


def test_volunteers_use_no_herbicide_unless_it_is_named():
    spray, pull = (example.treatments()[name] for name in ("spray", "pull"))
    volunteers = example.Crew("friends", (1.0,) * 4, volunteers=True)
    task = example.Task("spray")
    assert not books.may(volunteers, task, spray)
    assert books.may(volunteers, task, pull)
    assert books.may(replace(volunteers, may=("spray",)), task, spray)
    assert books.may(replace(volunteers, volunteers=False), task, spray)
    assert not books.may(replace(volunteers, volunteers=False), replace(task, crews=("others",)), spray)


def test_not_until_no_known_fruiting_host_is_left():
    rows = [{"x": 1.0, "y": 1.0, "state": 2}]
    crew = example.Crew("staff", (100.0,) * 4)
    for rule, cells in (
        (None, [0, 1, 2, 14, 15]),
        ("no known fruiting host in the unit", [0, 1, 2]),
        ("no known fruiting host on the site", []),
    ):
        world = world_of(example.mat_site(hosts=rows))
        task = example.Task("pull", not_until=rule)
        _, season_books = season_of(world, example.Strategy("s", (task,)), [crew])
        assert [c.number for c in season_books.visited_cells] == cells


def test_follow_up_comes_back_until_clean_and_before_new_ground():
    world = world_of(example.mat_site())
    crew = example.Crew("staff", (1.0,) * 4)
    rows = example.treatments()
    rows["pull"].parameters["mat_kill"] = example.Parameter(1.0)
    task = example.Task("pull", follow_up=example.FollowUp(every=2, clean=2))
    strategy = example.Strategy("s", (task,))
    plan, first = season_of(world, strategy, [crew], treatments=rows)
    cell = world.cells[0]
    assert [c.number for c in first.visited_cells] == [0]
    assert (cell.opened_by, cell.next_visit) == (0, 2)
    assert cell.kind == EMPTY
    second = work.work(world, plan, 0, 1, 0.05)
    assert [c.number for c in second.visited_cells] == [1]
    third = work.work(world, plan, 0, 2, 0.5)
    assert [c.number for c in third.visited_cells] == [0, 14]  # the southern patch is now the largest
    assert third.follow_up_hours == pytest.approx([0.05 * 0.8])
    assert (cell.clean_visits, cell.next_visit) == (1, 4)
    fourth = work.work(world, plan, 0, 3, 0.9)
    assert [c.number for c in fourth.visited_cells] == [1, 2]
    fifth = work.work(world, plan, 1, 0, 1.0)
    assert [c.number for c in fifth.visited_cells] == [0, 14, 15]
    assert cell.opened_by is None


def test_a_host_is_worked_once_a_season_by_the_same_treatment():
    rows = example.treatments()
    rows["cut"].parameters["stem_kill"] = example.Parameter(0.0)
    world = world_of(mat_site(hosts=[{"x": 1.0, "y": 7.0, "state": 2}]))
    strategy = Strategy("s", (Task("cut"), Task("cut"), Task("ring")))
    _, books = season_of(world, strategy, [MANY], treatments=rows)
    assert books.hosts == [1, 0, 1]
    assert world.hosts[0].visits_this_season == 2


def test_a_cell_is_worked_once_a_season():
    world = world_of(mat_site())
    _, books = season_of(world, Strategy("s", (Task("pull"), Task("pull"))), [MANY])
    assert books.hours[1] == 0.0
    assert books.hours[0] > 0.0


def test_a_task_keeps_within_its_cap_and_its_share():
    for task, most in ((Task("pull", cap=1.7), 1.6), (Task("pull", share=0.03), 2.4)):
        _, books = season_of(world_of(mat_site()), Strategy("s", (task,)), [MANY])
        assert books.hours == pytest.approx([most])  # cells of 0.8 h


def test_fit_hours_are_shared_by_all_spraying_of_a_crew():
    rows = example.treatments()
    rows["spray"].parameters["hours_per_area"] = example.Parameter(0.5)  # 2 h a cell
    strategy = Strategy("s", (Task("spray", units=("south",)), Task("spray")))
    for people in (1, 2):
        world = world_of(mat_site())
        crew = replace(MANY, people=people)
        _, books = season_of(world, strategy, [crew], treatments=rows, fit_days=(1.0,) * 4)
        fit = 4.5 * people * books.days_fit
        assert books.days_fit == 1
        assert sum(books.hours) == min(10.0, fit // 2 * 2)


def test_clean_visits_must_come_in_a_row():
    task = Task("pull", follow_up=FollowUp(every=1, clean=2))
    world = world_of(mat_site())
    plan, _ = season_of(world, Strategy("s", (task,)), [MANY])
    cell = world.cells[0]
    counts = []
    for number, infested in ((1, False), (2, True), (3, False), (4, False)):
        cell.kind = FOUNDER if infested else EMPTY
        cell.density, cell.arrival, cell.push = 0.9, 0.0, 0.0
        work.work(world, plan, number // 4, number % 4, number / 4)
        counts.append(cell.clean_visits)
    assert counts == [1, 0, 1, 2]
    assert cell.opened_by is None


def test_a_visit_out_of_season_is_made_with_another_treatment():
    task = Task("spray", instead="pull", follow_up=FollowUp(every=2))
    world = world_of(mat_site())
    plan, first = season_of(world, Strategy("s", (task,)), [MANY], fit_days=(50.0,) * 4)
    summer = work.work(world, plan, 0, 2, 0.5)
    assert len(first.visited_cells) == len(summer.visited_cells) == 5
    assert summer.hours[0] > 5 * 0.05 * 0.8 > first.hours[0]


def test_a_visit_makes_what_it_meets_known():
    world = world_of(mat_site())
    plan, _ = season_of(world, Strategy("s", (Task("pull", follow_up=FollowUp(every=1)),)), [MANY])
    for cell in world.cells:
        cell.known = False
    work.work(world, plan, 0, 1, 0.05)
    for cell in world.cells:
        assert cell.known == cell.infested
    assert any(cell.known for cell in world.cells)


def test_follow_up_visits_go_on_when_a_task_opens_no_more():
    task = Task("pull", years=(1, 1), seasons=("winter",), follow_up=FollowUp(every=5))
    world = world_of(mat_site())
    plan, first = season_of(world, Strategy("s", (task,)), [replace(MANY, hours=(1.0,) * 4)])
    assert len(first.visited_cells) == 1
    later = [work.work(world, plan, y, s, y + s / 4) for y, s in ((0, 1), (1, 0), (1, 1))]
    assert [len(books.visited_cells) for books in later] == [0, 0, 1]


def test_visits_may_take_more_than_the_hours_of_the_task_and_leave_it_none():
    world = world_of(mat_site())
    task = Task("pull", cap=1.6, follow_up=FollowUp(every=1))  # 2 full cells of 0.8 h
    rows = example.treatments()
    rows["pull"].parameters.update(mat_kill=example.Parameter(0.0), hours_floor=example.Parameter(1.0))
    plan, first = season_of(world, Strategy("s", (task,)), [MANY], treatments=rows)
    assert first.hours == pytest.approx([1.6])
    world.cells[2].opened_by, world.cells[2].next_visit, world.cells[2].opened_at = 0, 1, -1
    second = work.work(world, plan, 0, 1, 0.0)
    assert [cell.number for cell in second.visited_cells] == [2, 0, 1]  # in the order of opening
    assert second.hours == second.follow_up_hours == pytest.approx([2.4])
    assert second.task_left == pytest.approx([-0.8])


def test_clean_visits_cost_hours_but_count_in_no_area_and_no_number_of_hosts():
    world = world_of(mat_site(hosts=[{"x": 1.0, "y": 7.0, "state": 2}]))
    rows = example.treatments()
    rows["pull"].parameters["native_loss_growing"] = example.Parameter(0.5)
    rows["cut"].parameters["hours_floor"] = example.Parameter(0.2)
    tasks = (Task("pull", follow_up=FollowUp(every=1)), Task("cut", follow_up=FollowUp(every=1)))
    plan, first = season_of(world, Strategy("s", tasks), [MANY], treatments=rows)
    assert first.area[0] == pytest.approx(20.0)
    assert first.hosts[1] == 1
    world.hosts[0].state = BARE
    for cell in world.cells:
        cell.kind, cell.native = EMPTY, 1.0
    second = work.work(world, plan, 0, 1, 0.05)
    assert second.hours == pytest.approx([20.0 * 0.2 * 0.05, 0.3 * 0.2])
    assert second.area == [0.0, 0.0]
    assert second.hosts == [0, 0]
    assert world.cells[0].native == 1.0
    assert len(second.visited_cells) == 6


def test_hosts_wait_too_until_no_known_fruiting_host_is_left():
    rows = [{"x": 1.0, "y": 7.0, "state": 2}, {"x": 1.0, "y": 1.0, "state": 1, "years_climbing": 0.0}]
    world = world_of(mat_site(hosts=rows))
    task = Task("cut", not_until="no known fruiting host in the unit")
    season_of(world, Strategy("s", (task,)), [MANY])
    assert [host.worked_before for host in world.hosts] == [False, True]


def test_a_ring_is_laid_round_a_bare_host_and_opens_nothing():
    rows = [{"x": 1.0, "y": 7.0}]
    world = world_of(mat_site(hosts=rows))
    host = world.hosts[0]
    host.worked_before = True
    task = Task("ring", follow_up=FollowUp(every=1))
    _, books = season_of(world, Strategy("s", (task,)), [MANY])
    assert books.hosts == [1]
    assert host.ring_until == pytest.approx(3.0)
    assert host.opened_by is None


def test_a_recut_host_waits_anew_and_a_bare_one_is_left_alone():
    world = world_of(mat_site(hosts=[{"x": 1.0, "y": 7.0, "state": 2}]))
    rows = example.treatments()
    rows["cut"].parameters.update(stem_kill=example.Parameter(1.0), base_kill=example.Parameter(0.0))
    task = Task("cut", follow_up=FollowUp(every=2, clean=1))
    plan, _ = season_of(world, Strategy("s", (task,)), [MANY], treatments=rows)
    host = world.hosts[0]
    assert (host.state, host.last_cut) == (CUT, 0.0)
    work.work(world, plan, 0, 2, 0.5)
    assert host.last_cut == 0.5
    host.state = BARE
    work.work(world, plan, 1, 0, 1.0)
    assert host.opened_by is None
    assert host.last_cut == 0.5
