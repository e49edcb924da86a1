"""The strategy's work of one season (ODD page, 7.8)."""

from .books import HELD_BACK, NO_TARGET, lacking, may, open_books, pace, spend
from .funds import in_years, material
from .orders import (
    MAT,
    NATIVES,
    SEARCH,
    SOURCES,
    STEMS,
    acts_on,
    block,
    form_of,
    hours_on,
    hours_to_plant,
    in_order,
    is_clean,
    is_ring,
    known_patches,
    new_cells,
    new_hosts,
)
from .other_work import ask, places_to_plant, plant, sources_to_ask
from .scout import finds_after_work, scout
from .treat import treat_cell, treat_host
from .world import Cell, Host

DONE, NOT_PERMITTED, NO_HOURS = "done", "not permitted", "no hours"


def is_permitted(world, season, target, name, form, patches):
    """Whether a treatment acts on such targets, is in season, allowed here, and new to the host."""
    treatment, numbers = season.plan.treatments[name], season.plan.numbers[name]
    cell = target.cell if isinstance(target, Host) else target
    if form != NATIVES and not acts_on(treatment, target):
        return False
    if season.name not in treatment.seasons:
        return False
    if treatment.not_on_sensitive and cell.sensitive:
        return False
    largest = numbers.get("largest_patch", 0.0)
    if form == MAT and patches is not None and largest > 0.0:
        cells, _ = patches.get(cell.number, (1, cell.number))
        if cells * (world.h * world.h) > largest:
            return False
    return not (isinstance(target, Host) and name in target.treatments_this_season)


def hours_to_go_there(world, season, c, target):
    """Walking time to the target's block, if nobody was there yet this season."""
    cell = target.cell if isinstance(target, Host) else target
    if block(world, cell) in season.visited_blocks:
        return 0.0
    return season.plan.crews[c].walking_minutes / 60.0


def hours_of_visit(world, season, task_number, c, target, name, form, follow_up, clean):
    """Hours that one crew needs for a target, walking and all."""
    plan = season.plan
    task, numbers = plan.strategy.tasks[task_number], plan.numbers[name]
    if form == NATIVES:
        hours = hours_to_plant(world, target, numbers)
    else:
        hours = hours_on(world, target, numbers, season.now, task.haul_out, clean)
        if not follow_up:
            hours = hours * (1.0 + plan.numbers["scout"].get("misidentified", 0.0))
    if form != NATIVES and task_number not in season.tasks_that_worked:
        hours = hours + numbers.get("hours_per_visit", 0.0)
    return hours / pace(plan.crews[c]) + hours_to_go_there(world, season, c, target)


def choose(world, season, task_number, target, names, form, follow_up, clean, patches):
    """The first permitted treatment for which a crew has hours and money: (outcome, name, crew, hours)."""
    task = season.plan.strategy.tasks[task_number]
    any_permitted = False
    for name in names:
        if name is None or not is_permitted(world, season, target, name, form, patches):
            continue
        treatment, numbers = season.plan.treatments[name], season.plan.numbers[name]
        for c, crew in enumerate(season.plan.crews):
            if not may(crew, task, treatment):
                continue
            any_permitted = True
            hours = hours_of_visit(world, season, task_number, c, target, name, form, follow_up, clean)
            cost = material(world, target, numbers, clean)
            reason = lacking(season, task_number, c, treatment, numbers, hours, cost, follow_up)
            if reason is None:
                return DONE, name, c, hours
            season.met[c].add(reason)
    return (NO_HOURS if any_permitted else NOT_PERMITTED), None, None, None


def work_on(world, season, task_number, target, names, form, follow_up, patches=None):
    """Visit one target, if somebody may and can; says how that went."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    clean = follow_up and is_clean(world, target, season.number)
    outcome, name, c, hours = choose(world, season, task_number, target, names, form, follow_up, clean, patches)
    if outcome != DONE:
        return outcome
    treatment, numbers = plan.treatments[name], plan.numbers[name]
    spend(season, task_number, c, treatment, hours, follow_up, material(world, target, numbers, clean))
    season.tasks_that_worked.add(task_number)
    cell = target.cell if isinstance(target, Host) else target
    season.visited_cells.append(cell)
    season.visited_blocks.add(block(world, cell))
    if form == NATIVES:
        season.area[task_number] += world.h * world.h * target.plantable
        plant(target, numbers)
    elif isinstance(target, Cell):
        target.known = target.infested
        target.worked_in_season = season.number
        if not clean:
            season.area[task_number] += world.h * world.h * target.plantable
            target.clean_visits = 0
            treat_cell(world, target, treatment, numbers, season.number, season.now, task.haul_out)
    else:
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
    form = form_of(season.plan.treatments[task.treatment])
    for target in due:
        if isinstance(target, Cell) and (target.worked_in_season == season.number or target.covered_until > season.now):
            continue
        if work_on(world, season, task_number, target, names, form, follow_up=True) == NO_HOURS:
            return


def meets(season, task_number, reason):
    """All crews that may do the task meet this reason."""
    task = season.plan.strategy.tasks[task_number]
    for c, crew in enumerate(season.plan.crews):
        if may(crew, task, season.plan.treatments[task.treatment]):
            season.met[c].add(reason)


def opens_now(season, task_number):
    """Whether this is a season and a year in which the task opens new ground, and its permit is there."""
    task = season.plan.strategy.tasks[task_number]
    seasons = task.seasons or season.plan.treatments[task.treatment].seasons
    return season.name in seasons and in_years(task.years, season.year) and season.number >= task.permit_seasons


def targets_of(world, season, task_number, form):
    """New ground or new hosts in the task's order."""
    plan = season.plan
    task, blocked = plan.strategy.tasks[task_number], season.blocked[task_number]
    if form == STEMS:
        targets = new_hosts(world, task, plan.numbers[task.treatment], season.now, blocked)
    elif form == NATIVES:
        targets = places_to_plant(world, season, task, blocked)
    else:
        targets = [cell for cell in new_cells(world, task, blocked) if cell.covered_until <= season.now]
    return in_order(world, task, form, targets, season.now)


def open_new(world, season, task_number):
    """Open new ground, take on new hosts, plant, ask or scout."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    if not opens_now(season, task_number):
        return
    meets(season, task_number, NO_TARGET)
    if season.task_left[task_number] <= 0.0:
        meets(season, task_number, HELD_BACK)
        return
    form = form_of(plan.treatments[task.treatment])
    if form == SEARCH:
        scout(world, season, task_number)
    elif form == SOURCES:
        ask_owners(world, season, task_number)
    else:
        open_targets(world, season, task_number, form)


def somebody_may(world, season, task, target, patches):
    """Whether a treatment of the task is permitted on new ground and allowed to a crew."""
    return any(
        name is not None
        and is_permitted(world, season, target, name, MAT, patches)
        and any(may(crew, task, season.plan.treatments[name]) for crew in season.plan.crews)
        for name in (task.treatment, task.instead)
    )


def open_targets(world, season, task_number, form):
    """Work new targets, one after the other."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    key = (task_number, season.year)
    patches = known_patches(world)
    for target in targets_of(world, season, task_number, form):
        ground = 0.0
        if form != STEMS:
            if form == MAT and target.worked_in_season == season.number:
                continue
            if form == MAT and not somebody_may(world, season, task, target, patches):
                continue
            ground = world.h * world.h * target.plantable
            if task.new_ground is not None and plan.new_ground.get(key, 0.0) + ground > task.new_ground:
                meets(season, task_number, HELD_BACK)
                return
        names = (task.treatment,) if form == NATIVES else (task.treatment, task.instead)
        outcome = work_on(world, season, task_number, target, names, form, follow_up=False, patches=patches)
        if outcome == NO_HOURS:
            return
        if outcome == DONE:
            plan.new_ground[key] = plan.new_ground.get(key, 0.0) + ground
            ring = form == STEMS and is_ring(plan.numbers[task.treatment])
            if task.follow_up is not None and not ring and form != NATIVES:
                plan.openings += 1
                target.opened_at = plan.openings
                target.opened_by = task_number
                target.next_visit = season.number + task.follow_up.every
                target.clean_visits = 0


def ask_owners(world, season, task_number):
    """Ask owners in the order of the list."""
    plan = season.plan
    task = plan.strategy.tasks[task_number]
    treatment, numbers = plan.treatments[task.treatment], plan.numbers[task.treatment]
    cost = numbers.get("material_per_host", 0.0)
    for source in sources_to_ask(world, season):
        asked = False
        for c, crew in enumerate(plan.crews):
            if asked or not may(crew, task, treatment):
                continue
            hours = numbers.get("hours_per_visit", 0.0) / pace(crew)
            reason = lacking(season, task_number, c, treatment, numbers, hours, cost, False)
            if reason is not None:
                season.met[c].add(reason)
                continue
            spend(season, task_number, c, treatment, hours, False, cost)
            season.hosts[task_number] += 1
            ask(world, source, numbers, season)
            asked = True
        if not asked:
            return


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
