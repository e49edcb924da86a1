"""The strategy's work of one season (ODD page, 7.8)."""

import math

from .books import hours_left, may, open_books, spend
from .orders import (
    MAT,
    SEARCH,
    STEMS,
    acts_on,
    form_of,
    hours_on,
    in_order,
    is_clean,
    is_ring,
    new_cells,
    new_hosts,
)
from .scout import finds_after_work, scout
from .treat import treat_cell, treat_host
from .world import Cell, Host

DONE, NOT_PERMITTED, NO_HOURS = "done", "not permitted", "no hours"


def is_permitted(season, target, name):
    """Whether a treatment acts on such targets, is in season, allowed here, and new to the host."""
    treatment = season.plan.treatments[name]
    cell = target.cell if isinstance(target, Host) else target
    if not acts_on(treatment, target):
        return False
    if season.name not in treatment.seasons:
        return False
    if treatment.not_on_sensitive and cell.sensitive:
        return False
    return not (isinstance(target, Host) and name in target.treatments_this_season)


def choose(world, season, task_number, target, names, follow_up, clean):
    """The first permitted treatment for which a crew has the hours: (outcome, name, crew, hours)."""
    task = season.plan.strategy.tasks[task_number]
    any_permitted = False
    for name in names:
        if name is None or not is_permitted(season, target, name):
            continue
        treatment, numbers = season.plan.treatments[name], season.plan.numbers[name]
        for c, crew in enumerate(season.plan.crews):
            if not may(crew, task, treatment):
                continue
            any_permitted = True
            hours = hours_on(world, target, numbers, season.now, task.haul_out, clean) / crew.pace
            if hours <= hours_left(season, task_number, c, treatment, numbers, follow_up):
                return DONE, name, c, hours
    return (NO_HOURS if any_permitted else NOT_PERMITTED), None, None, None


def work_on(world, season, task_number, target, names, follow_up):
    """Visit one target, if somebody may and can; says how that went."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    clean = follow_up and is_clean(world, target, season.number)
    outcome, name, c, hours = choose(world, season, task_number, target, names, follow_up, clean)
    if outcome != DONE:
        return outcome
    treatment, numbers = plan.treatments[name], plan.numbers[name]
    spend(season, task_number, c, treatment, hours, follow_up)
    if isinstance(target, Cell):
        season.visited_cells.append(target)
        target.known = target.infested
        target.worked_in_season = season.number
        if not clean:
            season.area[task_number] += world.h * world.h * target.plantable
            treat_cell(world, target, treatment, numbers, season.number, season.now, task.haul_out)
    else:
        season.visited_cells.append(target.cell)
        target.known = True
        if not clean:
            season.hosts[task_number] += 1
            target.treatments_this_season.add(name)
            treat_host(world, target, numbers, season.number, season.now, plan.crews[c].volunteers)
        target.visits_this_season += 1
    if follow_up:
        after_visit(task, target, clean, season)
    return DONE


def after_visit(task, target, clean, season):
    """Clean visits in a row close a target; else there is a next visit."""
    target.clean_visits = target.clean_visits + 1 if clean else 0
    if target.clean_visits >= task.follow_up.clean:
        target.opened_by = None
    else:
        target.next_visit = season.number + task.follow_up.every


def due_visits(world, season, task_number):
    """Make the due visits of a task in the order of opening, cells before hosts."""
    task = season.plan.strategy.tasks[task_number]
    if task.follow_up is None:
        return
    due = []
    for everything in (world.cells, world.hosts):
        found = [t for t in everything if t.opened_by == task_number and t.next_visit <= season.number]
        due.extend(sorted(found, key=lambda t: t.opened_at))
    names = (task.follow_up.treatment or task.treatment, task.instead, task.treatment)
    for target in due:
        if isinstance(target, Cell) and target.worked_in_season == season.number:
            continue
        if work_on(world, season, task_number, target, names, follow_up=True) == NO_HOURS:
            return


def opens_now(season, task_number):
    """Whether the task has hours, and this is a season and a year in which it opens new ground."""
    task = season.plan.strategy.tasks[task_number]
    if season.task_left[task_number] <= 0.0:
        return False
    seasons = task.seasons or season.plan.treatments[task.treatment].seasons
    if season.name not in seasons:
        return False
    if task.years is None:
        return True
    first, last = task.years
    return first <= season.year + 1 and (last is None or season.year + 1 <= last)


def open_new(world, season, task_number):
    """Open new ground, take on new hosts, or scout."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    if not opens_now(season, task_number):
        return
    form = form_of(plan.treatments[task.treatment])
    if form == SEARCH:
        scout(world, season, task_number)
        return
    numbers = plan.numbers[task.treatment]
    if form == STEMS:
        targets = new_hosts(world, task, numbers, season.now, season.blocked[task_number])
    else:
        targets = new_cells(world, task, season.blocked[task_number])
    for target in in_order(world, task, form, targets, season.now):
        ground = 0.0
        if form == MAT:
            if target.worked_in_season == season.number:
                continue
            ground = world.h * world.h * target.plantable
            allowed = math.inf if task.new_ground is None else task.new_ground
            if plan.new_ground.get((task_number, season.year), 0.0) + ground > allowed:
                return
        outcome = work_on(world, season, task_number, target, (task.treatment, task.instead), follow_up=False)
        if outcome == NO_HOURS:
            return
        if outcome == DONE:
            opened = plan.new_ground.get((task_number, season.year), 0.0)
            plan.new_ground[(task_number, season.year)] = opened + ground
            if task.follow_up is not None and not (form == STEMS and is_ring(numbers)):
                plan.openings += 1
                target.opened_at = plan.openings
                target.opened_by = task_number
                target.next_visit = season.number + task.follow_up.every
                target.clean_visits = 0


def work(world, plan, year, season_index, now):
    """All work of a season, at its start."""
    season = open_books(world, plan, year, season_index, now)
    for host in world.hosts:
        host.visits_this_season = 0
        host.treatments_this_season = set()
        host.share_left_of_cut_crop = None
    tasks = range(len(plan.strategy.tasks))
    if plan.strategy.reserve_follow_up:
        for t in tasks:
            due_visits(world, season, t)
        for t in tasks:
            open_new(world, season, t)
    else:
        for t in tasks:
            open_new(world, season, t)
            due_visits(world, season, t)
    finds_after_work(world, season)
    return season
