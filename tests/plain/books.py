"""The books of a season: hours that crews and tasks have, and why hours are left (ODD page, 7.8)."""

import math
import zlib
from dataclasses import dataclass, field

from .draws import TURNOUT, WEATHER
from .funds import charge, in_years, money_left, pay

SEASONS = ("winter", "spring", "summer", "autumn")
NO_TASK, NONE_OPEN, NO_DAYS, HELD_BACK, TOO_FEW, NO_TARGET = range(6)
FIRST_REASONS = (NO_DAYS, HELD_BACK, TOO_FEW, NO_TARGET)
CLEAN_GROUND = "two clean visits"


@dataclass
class Plan:
    """What does not change from season to season, and what is carried over."""

    strategy: object
    crews: tuple
    treatments: dict
    numbers: dict
    weather: object
    funds: tuple = ()
    fund_left: list = field(default_factory=list)
    new_ground: dict = field(default_factory=dict)
    openings: int = 0


@dataclass
class Season:
    """One season's books: when it is, what is left, what was done."""

    plan: Plan
    year: int
    name: str
    number: int
    now: float
    days_fit: float
    crew_left: list
    crew_worked: list
    fit_used: list
    task_left: list
    hours: list
    follow_up_hours: list
    area: list
    hosts: list
    hours_available: float
    met: list = field(default_factory=list)
    blocked: dict = field(default_factory=dict)
    visited_cells: list = field(default_factory=list)
    visited_blocks: set = field(default_factory=set)
    tasks_that_worked: set = field(default_factory=set)
    effort: dict = field(default_factory=dict)

    def unspent(self):
        """Hours left over, by reason."""
        hours = [0.0] * 6
        for c, crew in enumerate(self.plan.crews):
            hours[reason_of(self, c, crew)] += self.crew_left[c]
        return hours


def reason_of(season, c, crew):
    """Why a crew has hours left."""
    for reason in FIRST_REASONS:
        if reason in season.met[c]:
            return reason
    tasks = season.plan.strategy.tasks
    if any(may(crew, task, season.plan.treatments[task.treatment]) for task in tasks):
        return NONE_OPEN
    return NO_TASK


def crew_hours(world, crew, year, season_index):
    """Hours that a crew has in a season."""
    season = 4 * year + season_index
    if season < crew.lead_seasons or not in_years(crew.years, year):
        return 0.0
    u = world.draws.first(TURNOUT, zlib.crc32(crew.name.encode("utf-8")), season, 0)
    turnout = max(0.0, crew.turnout + math.sqrt(3.0) * crew.turnout_spread * (2.0 * u - 1.0))
    return crew.hours[season_index] * turnout


def pace(crew):
    """Work done in an hour, setting up and putting away counted."""
    if crew.session_hours is None:
        return crew.pace
    return crew.pace * (1.0 - crew.setup_hours / crew.session_hours)


def may(crew, task, treatment):
    """Whether a crew may do a treatment for a task; "all" leaves herbicides out for volunteers."""
    if task.crews and crew.name not in task.crews:
        return False
    if tuple(crew.may) == ("all",):
        return not (crew.volunteers and treatment.herbicide)
    return treatment.name in crew.may


def hours_of_task(plan, task, hours):
    """min(share x hours of the crews that may do its treatment, cap)."""
    total = 0.0
    for c, crew in enumerate(plan.crews):
        if may(crew, task, plan.treatments[task.treatment]):
            total = total + hours[c]
    total = task.share * total
    return total if task.cap is None else min(total, task.cap)


def days_fit(world, weather, year, season_index):
    """Days fit to spray: of the year's row of the table, or drawn about the season's mean."""
    if weather.table is None:
        return world.draws.poisson(weather.fit_days[season_index], WEATHER, 0, 4 * year + season_index, 0)
    row = math.floor(world.draws.first(WEATHER, 0, 4 * year, 1) * len(weather.table))
    return float(weather.table[row][season_index])


def open_books(world, plan, year, season_index, now):
    """Books of a new season."""
    tasks = plan.strategy.tasks
    hours = [crew_hours(world, crew, year, season_index) for crew in plan.crews]
    available = 0.0
    for h in hours:
        available = available + h
    return Season(
        plan=plan,
        year=year,
        name=SEASONS[season_index],
        number=4 * year + season_index,
        now=now,
        days_fit=days_fit(world, plan.weather, year, season_index),
        crew_left=hours,
        crew_worked=[0.0 for _ in plan.crews],
        fit_used=[0.0 for _ in plan.crews],
        task_left=[hours_of_task(plan, task, hours) for task in tasks],
        hours=[0.0 for _ in tasks],
        follow_up_hours=[0.0 for _ in tasks],
        area=[0.0 for _ in tasks],
        hosts=[0 for _ in tasks],
        hours_available=available,
        met=[set() for _ in plan.crews],
        blocked={t: blocked_units(world, task, now) for t, task in enumerate(tasks)},
    )


def blocked_units(world, task, now):
    """Units in which `not_until` holds a task back, by known fruiting hosts at the season's start."""
    if task.not_until == CLEAN_GROUND:  # a rule of the place, not of the unit
        return set()
    fruiting_units = {host.cell.unit for host in world.hosts if host.known and host.fruiting(now)}
    if task.not_until is None or not fruiting_units:
        return set()
    if task.not_until == "no known fruiting host on the site":
        return {cell.unit for cell in world.cells}
    if task.not_until == "no known fruiting host in the unit":
        return fruiting_units
    raise ValueError(f"no such rule: {task.not_until}")


def leader_of(plan, c):
    """Number of the crew that leads this one, or None."""
    name = plan.crews[c].leader
    if name is None:
        return None
    return [crew.name for crew in plan.crews].index(name)


def leading_hours(plan, c, hours):
    """Hours of its leader that a crew's hours take."""
    return 0.0 if leader_of(plan, c) is None else hours / plan.crews[c].people_per_leader


def money_for(season, c, hours, material=0.0):
    """Money that hours of a crew cost, with its leader's and the material."""
    plan, leader = season.plan, leader_of(season.plan, c)
    money = charge(plan.crews[c], season.crew_worked[c], hours) + material
    if leader is None:
        return money
    return money + charge(plan.crews[leader], season.crew_worked[leader], leading_hours(plan, c, hours))


def fit_hours_left(season, crew_number, numbers):
    """Hours fit to spray that a crew has left for this treatment."""
    people = season.plan.crews[crew_number].people
    return season.days_fit * numbers.get("fit_hours_per_day", 0.0) * people - season.fit_used[crew_number]


def lacking(season, task_number, c, treatment, numbers, hours, material, follow_up):
    """The first thing that a crew lacks for these hours, or None. Visits are not held to the task's hours."""
    plan = season.plan
    leader = leader_of(plan, c)
    if hours > season.crew_left[c]:
        return TOO_FEW
    if not follow_up and hours > season.task_left[task_number]:
        return HELD_BACK
    if leader is not None and leading_hours(plan, c, hours) > season.crew_left[leader]:
        return HELD_BACK
    if treatment.needs_fit_weather and hours > fit_hours_left(season, c, numbers):
        return NO_DAYS
    if money_for(season, c, hours, material) > money_left(plan, season.year, plan.crews[c]):
        return HELD_BACK
    return None


def spend(season, task_number, c, treatment, hours, follow_up, material=0.0):
    """Write hours and money down."""
    plan = season.plan
    leader, leading = leader_of(plan, c), leading_hours(plan, c, hours)
    if plan.funds:
        pay(plan, season.year, plan.crews[c], money_for(season, c, hours, material))
    season.crew_left[c] -= hours
    season.crew_worked[c] += hours
    season.task_left[task_number] -= hours
    season.hours[task_number] += hours + leading
    if follow_up:
        season.follow_up_hours[task_number] += hours + leading
    if leader is not None:
        season.crew_left[leader] -= leading
        season.crew_worked[leader] += leading
    if treatment.needs_fit_weather:
        season.fit_used[c] += hours
