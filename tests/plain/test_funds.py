"""Money in the reference simulator, by values worked out by hand."""

import math
from dataclasses import replace

import pytest

from . import books, example, funds, work
from .example import Crew, Fund, Strategy, Task, mat_site
from .helpers import season_of, world_of

HIRED = Crew("hired", (100.0,) * 4, price=50.0, minimum_charge=300.0)


def plan_of(*these, strategy=None, crews=(HIRED,)):
    """A plan with funds in the order of use."""
    ordered = tuple(funds.order_of_use(these))
    rows = example.treatments()
    return books.Plan(
        strategy or Strategy(), tuple(crews), rows, {}, example.weather(), ordered, [f.amount for f in ordered]
    )


def test_years_are_counted_from_1_with_both_ends():
    assert [funds.in_years((2, 3), year) for year in range(4)] == [False, True, True, False]
    assert [funds.in_years((2, None), year) for year in range(3)] == [False, True, True]
    assert funds.in_years(None, 99)


def test_the_fund_that_ends_first_is_used_first_and_only_where_it_may_be():
    plan = plan_of(
        Fund("for ever", 1000.0),
        Fund("long", 500.0, years=(1, 4)),
        Fund("short", 200.0, years=(1, 2)),
        Fund("others", 9e9, years=(1, 1), crews=("friends",)),
    )
    assert [fund.name for fund in plan.funds] == ["others", "short", "long", "for ever"]
    assert [funds.money_left(plan, year, HIRED) for year in (0, 2, 5)] == [1700.0, 1500.0, 1000.0]
    funds.pay(plan, 0, HIRED, 650.0)
    assert plan.fund_left == [9e9, 0.0, 50.0, 1000.0]
    funds.pay(plan, 4, HIRED, 100.0)  # the second has ended
    assert plan.fund_left == [9e9, 0.0, 50.0, 900.0]


def test_without_funds_money_is_no_limit():
    assert funds.money_left(plan_of(), 0, HIRED) == math.inf


@pytest.mark.parametrize(
    ("worked", "hours", "expected"),
    [
        (0.0, 0.0, 0.0),  # who does nothing charges nothing
        (0.0, 2.0, 300.0),  # 100 of wages: the minimum
        (2.0, 3.0, 0.0),  # 250 in all: still the minimum
        (2.0, 5.0, 50.0),  # 350 in all
        (0.0, 10.0, 500.0),
        (10.0, 1.0, 50.0),
    ],
)
def test_a_charge_is_at_least_the_minimum_of_the_season(worked, hours, expected):
    assert funds.charge(HIRED, worked, hours) == pytest.approx(expected)
    assert funds.charge(replace(HIRED, paid=False), worked, hours) == 0.0
    assert funds.charge(replace(HIRED, minimum_charge=0.0), worked, hours) == pytest.approx(50.0 * hours)


@pytest.mark.parametrize("worked", [0.0, 2.0, 6.0, 9.0])
@pytest.mark.parametrize("money", [10.0, 299.0, 300.0, 340.0, 2000.0])
def test_hours_that_money_pays_cost_that_money_and_no_more_hours_do(worked, money):
    leader = Crew("leader", (100.0,) * 4, price=90.0, minimum_charge=45.0)
    for leading in (None, 0.0, 0.4, 3.0):
        workers = [(*funds.charged_before(HIRED, worked), 50.0)]
        if leading is not None:
            workers.append((*funds.charged_before(leader, leading), 90.0 / 9.0))

        def cost(hours, leading=leading):
            of_leader = 0.0 if leading is None else funds.charge(leader, leading, hours / 9.0)
            return funds.charge(HIRED, worked, hours) + of_leader

        hours = funds.hours_for(money, workers)
        if hours > 0.0:
            assert cost(hours) == pytest.approx(money)
        assert cost(hours + 1e-6) > money


def test_hours_of_those_who_are_not_paid_are_not_held_back():
    assert funds.hours_for(0.0, [(0.0, 0.0, 0.0)]) == math.inf
    # an unpaid crew of nine to a leader of 90 an hour
    assert funds.hours_for(40.0, [(0.0, 0.0, 0.0), (0.0, 0.0, 10.0)]) == pytest.approx(4.0)


def test_a_crew_does_not_come_for_less_than_its_minimum():
    task = Task("pull")
    for amount, cells in ((299.0, 0), (300.0, 5), (100.0, 0)):
        world = world_of(mat_site())
        plan = plan_of(Fund("grant", amount), strategy=Strategy("s", (task,)))
        plan.numbers.update(season_of(world_of(mat_site()), Strategy(), [])[0].numbers)
        season = work.work(world, plan, 0, 0, 0.0)
        assert len(season.visited_cells) == cells
        # five cells of 0.8 h are 200 of wages
        assert plan.fund_left == [amount - 300.0 if cells else amount]


def test_what_was_charged_as_a_minimum_is_worked_off_before_more_is_paid():
    world = world_of(mat_site())
    crew = replace(HIRED, minimum_charge=100.0)
    plan = plan_of(Fund("grant", 170.0), strategy=Strategy("s", (Task("pull"),)), crews=(crew,))
    plan.numbers.update(season_of(world_of(mat_site()), Strategy(), [])[0].numbers)
    season = work.work(world, plan, 0, 0, 0.0)
    # cells of 40: 100 hold for two and a half, 120 and 160 for three and four; 200 is too much
    assert len(season.visited_cells) == 4
    assert plan.fund_left == pytest.approx([10.0])
    assert season.met[0] == {books.HELD_BACK, books.NO_TARGET}


def test_leading_counts_as_the_leaders_work():
    staff = Crew("staff", (100.0,) * 4, may=("scout",), price=90.0, minimum_charge=30.0)
    friends = Crew("friends", (100.0,) * 4, paid=False, price=20.0, leader="staff", people_per_leader=8.0)
    season = season_of(world_of(mat_site()), Strategy("s", (Task("pull"),)), [friends, staff])[1]
    assert season.crew_worked == pytest.approx([4.0, 0.5])
    assert books.money_for(season, 0, 8.0) == pytest.approx(90.0)
    season.crew_worked[1] = 0.1  # 9 of 30
    assert books.money_for(season, 0, 1.6, material=7.0) == pytest.approx(7.0)
    assert books.money_for(season, 0, 8.0) == pytest.approx(69.0)


def test_material_is_by_area_or_host_and_none_on_a_clean_visit():
    world = world_of(mat_site(hosts=[{"x": 1.0, "y": 7.0, "state": 2}]))
    numbers = {"material_per_area": 0.5, "material_per_host": 3.0}
    assert funds.material(world, world.cells[0], numbers, False) == pytest.approx(2.0)
    assert funds.material(world, world.hosts[0], numbers, False) == 3.0
    assert funds.material(world, world.cells[0], numbers, True) == 0.0
