"""The books of a season: hours that crews and tasks have (ODD page, 7.8)."""

from dataclasses import dataclass, field

from .draws import WEATHER

SEASONS = ("winter", "spring", "summer", "autumn")


@dataclass
class Plan:
    """What does not change from season to season."""

    strategy: object
    crews: tuple
    treatments: dict
    numbers: dict
    fit_days: tuple
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
    days_fit: int
    crew_left: list
    fit_used: list
    task_left: list
    hours: list
    follow_up_hours: list
    area: list
    hosts: list
    hours_available: float
    blocked: dict = field(default_factory=dict)
    visited_cells: list = field(default_factory=list)
    effort: dict = field(default_factory=dict)


def crew_hours(crew, season_index):
    """Hours that a crew has in a season."""
    return crew.hours[season_index] * crew.turnout


def may(crew, task, treatment):
    """Whether a crew may do a treatment for a task; "all" leaves herbicides out for volunteers."""
    if task.crews and crew.name not in task.crews:
        return False
    if tuple(crew.may) == ("all",):
        return not (crew.volunteers and treatment.herbicide)
    return treatment.name in crew.may


def hours_of_task(plan, task, season_index):
    """min(share x hours of the crews that may do its treatment, cap)."""
    total = 0.0
    for crew in plan.crews:
        if may(crew, task, plan.treatments[task.treatment]):
            total = total + crew_hours(crew, season_index)
    hours = task.share * total
    return hours if task.cap is None else min(hours, task.cap)


def open_books(world, plan, year, season_index, now):
    """Books of a new season."""
    season = 4 * year + season_index
    tasks = plan.strategy.tasks
    mean_days = plan.fit_days[season_index]
    available = 0.0
    for crew in plan.crews:
        available = available + crew_hours(crew, season_index)
    return Season(
        plan=plan,
        year=year,
        name=SEASONS[season_index],
        number=season,
        now=now,
        days_fit=world.draws.poisson(mean_days, WEATHER, 0, season, 0),
        crew_left=[crew_hours(crew, season_index) for crew in plan.crews],
        fit_used=[0.0 for _ in plan.crews],
        task_left=[hours_of_task(plan, task, season_index) for task in tasks],
        hours=[0.0 for _ in tasks],
        follow_up_hours=[0.0 for _ in tasks],
        area=[0.0 for _ in tasks],
        hosts=[0 for _ in tasks],
        hours_available=available,
        blocked={t: blocked_units(world, task, now) for t, task in enumerate(tasks)},
    )


def blocked_units(world, task, now):
    """Units in which `not_until` holds a task back, by known fruiting hosts at the season's start."""
    fruiting_units = {host.cell.unit for host in world.hosts if host.known and host.fruiting(now)}
    if task.not_until is None or not fruiting_units:
        return set()
    if task.not_until == "no known fruiting host on the site":
        return {cell.unit for cell in world.cells}
    if task.not_until == "no known fruiting host in the unit":
        return fruiting_units
    raise ValueError(f"no such rule: {task.not_until}")


def fit_hours_left(season, crew_number, numbers):
    """Hours fit to spray that a crew has left for this treatment."""
    people = getattr(season.plan.crews[crew_number], "people", 1)
    return season.days_fit * numbers.get("fit_hours_per_day", 0.0) * people - season.fit_used[crew_number]


def hours_left(season, task_number, crew_number, treatment, numbers, follow_up=False):
    """Hours that a crew can still spend on a task with a treatment; visits are not held to the task's."""
    left = season.crew_left[crew_number]
    if not follow_up:
        left = min(left, season.task_left[task_number])
    if treatment.needs_fit_weather:
        left = min(left, fit_hours_left(season, crew_number, numbers))
    return left


def spend(season, task_number, crew_number, treatment, hours, follow_up):
    """Write hours down."""
    season.crew_left[crew_number] -= hours
    season.task_left[task_number] -= hours
    season.hours[task_number] += hours
    if follow_up:
        season.follow_up_hours[task_number] += hours
    if treatment.needs_fit_weather:
        season.fit_used[crew_number] += hours
