"""Which targets a task has, and in which order (ODD page, 7.8)."""

import math

from .mat import cover
from .world import BARE, CLIMBING, FALLEN, Host

STEMS, MAT, SEEDLINGS, SEARCH = "stems", "mat", "seedlings", "search"
NATIVES, SOURCES = "natives", "sources"
BLOCK = 10.0
GIRTH_FACTOR = {"small": 0.5, "medium": 1.0, "large": 2.0}
DEFAULT_ORDER = {STEMS: "fruiting first", MAT: "largest first", NATIVES: "largest first"}


def form_of(treatment):
    """What a treatment's targets are: hosts (stems), cells (mat) or neither (search)."""
    if STEMS in treatment.acts_on:
        return STEMS
    if MAT in treatment.acts_on or SEEDLINGS in treatment.acts_on:
        return MAT
    if NATIVES in treatment.acts_on:
        return NATIVES
    return SOURCES if SOURCES in treatment.acts_on else SEARCH


def acts_on(treatment, target):
    """Whether a treatment acts on such a target: stems on a host, mat or seedlings in a cell."""
    if isinstance(target, Host):
        return STEMS in treatment.acts_on
    return MAT in treatment.acts_on or SEEDLINGS in treatment.acts_on


def cell_of(target):
    """Give the cell of a target."""
    return target.cell if isinstance(target, Host) else target


def unit_numbers(world, task):
    """Numbers of the task's units, in its own order; all units of the site when it names none."""
    if task.units:
        return [world.unit_names.index(name) + 1 for name in task.units]
    return None


def in_units(world, task, cell):
    """Whether the task works here."""
    numbers = unit_numbers(world, task)
    return numbers is None or cell.unit in numbers


def hours_on_host(host, numbers, hauled):
    """Hours that a host costs at pace 1."""
    hours = numbers.get("hours_per_host", 0.0) * GIRTH_FACTOR[host.girth] * host.cell.access
    return hours * (1.0 + numbers.get("hauling_share", 0.0)) if hauled else hours


def hours_on_cell(world, cell, numbers, now, hauled):
    """Hours that a cell costs at pace 1."""
    dense = max(numbers.get("hours_floor", 0.0), cover(world, cell, now) / world.p["mat.max_cover"])
    area = world.h * world.h
    hours = numbers.get("hours_per_area", 0.0) * area * cell.plantable * dense * cell.access
    return hours * (1.0 + numbers.get("hauling_share", 0.0)) if hauled else hours


def hours_on(world, target, numbers, now, hauled, clean=False):
    """Hours that a target costs at pace 1, the look-alikes and the first coming in a season aside."""
    if isinstance(target, Host):
        hours = hours_on_host(target, numbers, hauled)
        return numbers.get("hours_floor", 0.0) * hours if clean else hours
    return hours_on_cell(world, target, numbers, now, hauled)


def hours_to_plant(world, cell, numbers):
    """Hours that a place to plant costs at pace 1."""
    return numbers.get("hours_per_area", 0.0) * (world.h * world.h * cell.plantable) * cell.access


def block(world, cell):
    """Ten-metre block, by rows from the north and columns from the west."""
    return math.floor(cell.row * world.h / BLOCK), math.floor(cell.column * world.h / BLOCK)


def known_patches(world):
    """8-connected known infested cells: by cell number (number of cells, least cell)."""
    patch_of = {}
    for first in world.cells:
        if not (first.infested and first.known) or first.number in patch_of:
            continue
        members = [first]
        seen = {first.number}
        for cell in members:
            for down in (-1, 0, 1):
                for right in (-1, 0, 1):
                    other = world.cell_at(cell.row + down, cell.column + right)
                    if other is None or other.number in seen or not (other.infested and other.known):
                        continue
                    seen.add(other.number)
                    members.append(other)
        for cell in members:
            patch_of[cell.number] = (len(members), min(seen))
    return patch_of


def sort_key(world, task, order, target, patches, now):
    """(first, second, number) by which targets are compared."""
    cell = cell_of(target)
    is_host = isinstance(target, Host)
    fruit_rank = 0 if is_host and target.fruiting(now) else 1
    size, least = patches.get(cell.number, (1, cell.number))
    if order == "fruiting first":
        return fruit_rank, 0, target.number
    if order == "most fruit per hour":
        return fruit_rank, GIRTH_FACTOR[target.girth] * cell.access, target.number
    if order == "outlying patches first":
        return size, least, target.number
    if order == "largest first":
        return -size, least, target.number
    if order == "by unit":
        units = unit_numbers(world, task) or range(1, len(world.unit_names) + 1)
        rank = len(units) if cell.unit == 0 else units.index(cell.unit)
        return rank, fruit_rank if is_host else 0, target.number
    if order == "walking sweep":
        return cell.number, 0, target.number
    if order == "nearest access first":
        return cell.access, 0, target.number
    raise ValueError(f"no such order: {order}")


def in_order(world, task, form, targets, now):
    """Targets of a pass in the task's order, as things stand when the pass starts."""
    order = task.order or DEFAULT_ORDER[form]
    patches = known_patches(world)
    return sorted(targets, key=lambda t: sort_key(world, task, order, t, patches, now))


def new_cells(world, task, blocked_units):
    """Known infested cells in the task's units that no task has open and no rule holds back."""
    return [
        cell
        for cell in world.cells
        if cell.infested
        and cell.known
        and cell.opened_by is None
        and cell.unit not in blocked_units
        and in_units(world, task, cell)
    ]


def wanted(host, targets, now):
    """Whether a climbing host is of the wanted state."""
    return targets == "all" or host.fruiting(now) == (targets == "fruiting")


def is_ring(numbers):
    """Whether a treatment clears a ring and cuts no stem."""
    return numbers.get("ring_radius", 0.0) > 0.0 and numbers.get("stem_kill", 0.0) == 0.0


def new_hosts(world, task, numbers, now, blocked_units):
    """Hosts that a task may newly take on."""
    found = []
    for host in world.hosts:
        if not host.known or host.state == FALLEN or not in_units(world, task, host.cell):
            continue
        if host.cell.unit in blocked_units:
            continue
        if is_ring(numbers):
            touched = host.state == CLIMBING or host.worked_before
            if touched and host.cell.infested and host.ring_until <= now:
                found.append(host)
        elif host.state == CLIMBING and host.opened_by is None and wanted(host, task.targets, now):
            found.append(host)
    return found


def is_clean(world, target, season):
    """Whether a due visit finds nothing to do."""
    if isinstance(target, Host):
        return target.state in (BARE, FALLEN)
    return not target.infested and not world.germinated_seedlings(target, season)
