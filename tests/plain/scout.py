"""Scouting and finds on the way (ODD page, 7.9)."""

import math

from .books import HELD_BACK, leader_of, may, pace, spend
from .draws import FIND_HOST, FIND_MAT
from .funds import charged_before, hours_for, money_left, price_of_hour
from .mat import cover
from .orders import block, in_units
from .world import CLIMBING

MINUTES = 60.0
LONGEST_SEARCH = 3.0  # search time constants of mat
NOTHING = 1e-9  # of an effort: a crew is not called for it


def plantable_hectares(world, cells):
    """Hectares of plantable ground."""
    total = 0.0
    for cell in cells:
        total = total + cell.plantable * (world.h * world.h)
    return total / 10_000.0


def most_hours(season, task_number, c):
    """Hours that the task, a leader and money leave a crew for the search."""
    plan = season.plan
    crew, leader = plan.crews[c], leader_of(plan, c)
    hours = season.task_left[task_number]
    if leader is not None:
        hours = min(hours, season.crew_left[leader] * crew.people_per_leader)
    workers = [(*charged_before(crew, season.crew_worked[c]), price_of_hour(crew))]
    if leader is not None:
        led_by = plan.crews[leader]
        per_hour = price_of_hour(led_by) / crew.people_per_leader
        workers.append((*charged_before(led_by, season.crew_worked[leader]), per_hour))
    return min(hours, hours_for(money_left(plan, season.year, crew), workers))


def scout(world, season, task_number):
    """Spend a scouting task's hours, crew by crew, and find."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    treatment = plan.treatments[task.treatment]
    most = LONGEST_SEARCH * plan.numbers["scout"]["search_time_constant_mat"]
    if season.name not in treatment.seasons:
        return
    ground = [cell for cell in world.cells if in_units(world, task, cell)]
    hectares = plantable_hectares(world, ground)
    if hectares == 0.0:
        return
    effort = 0.0
    for c, crew in enumerate(plan.crews):
        if not may(crew, task, treatment) or most - effort <= NOTHING * most:
            continue
        enough = (most - effort) * hectares / (MINUTES * pace(crew))
        wanted = min(season.crew_left[c], enough)
        hours = min(wanted, most_hours(season, task_number, c))
        if hours < wanted:
            season.met[c].add(HELD_BACK)
        if hours > 0.0:
            spend(season, task_number, c, treatment, hours, follow_up=False)
            effort = effort + MINUTES * hours * pace(crew) / hectares
    for cell in ground:
        season.effort[cell.number] = season.effort.get(cell.number, 0.0) + effort
    if effort > 0.0:
        for cell in ground:
            look_for_mat(world, season, cell)
        for host in world.hosts:
            if in_units(world, task, host.cell):
                look_for_stem(world, season, host)


def chance_by_scouting(season, cell, cover_term, time_constant):
    """Chance by the season's effort here: (1 - cryptic_share)(1 - exp(-...))."""
    numbers = season.plan.numbers["scout"]
    effort = season.effort.get(cell.number, 0.0)
    if effort == 0.0:
        return 0.0
    boost = numbers.get("leaf_off_boost", 1.0) if season.name == "winter" else 1.0
    clumping = numbers.get("clumping_factor", 1.0)
    exponent = effort * boost * clumping * cover_term / numbers[time_constant]
    return (1.0 - numbers.get("cryptic_share", 0.0)) * (1.0 - math.exp(-exponent))


def combined(by_scouting, by_the_way):
    """Give the chance of being found in one way or the other; None for no work near by."""
    if by_the_way is None:
        return by_scouting
    return 1.0 - (1.0 - by_scouting) * (1.0 - by_the_way)


def look_for_mat(world, season, cell, by_the_way=None):
    """An unknown infested cell: found or not, and with it all cells of the same origin."""
    if not cell.infested or cell.known:
        return
    cover_term = math.sqrt(cover(world, cell, season.now) / world.p["mat.max_cover"])
    by_scouting = chance_by_scouting(season, cell, cover_term, "search_time_constant_mat")
    chance = combined(by_scouting, by_the_way)
    if world.draws.first(FIND_MAT, cell.origin, season.number, 0) < chance:
        for other in world.cells:
            if other.infested and other.origin == cell.origin:
                other.known = True


def look_for_stem(world, season, host, by_the_way=None):
    """An unknown climbing host: found or not."""
    if host.state != CLIMBING or host.known:
        return
    by_scouting = chance_by_scouting(season, host.cell, 1.0, "search_time_constant_climbing")
    chance = combined(by_scouting, by_the_way)
    if world.draws.first(FIND_HOST, host.number, season.number, 0) < chance:
        host.known = True


def finds_after_work(world, season):
    """What is unknown in a block in which a target was visited may be found on the way."""
    numbers = season.plan.numbers["scout"]
    visited_blocks = season.visited_blocks
    for cell in world.cells:
        if block(world, cell) in visited_blocks:
            look_for_mat(world, season, cell, numbers.get("incidental_finds", 0.0))
    for host in world.hosts:
        if block(world, host.cell) in visited_blocks:
            look_for_stem(world, season, host, numbers.get("incidental_finds", 0.0))
