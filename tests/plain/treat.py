"""What a treatment does to a cell or a host (ODD page, 7.7). `numbers` are its drawn numbers by role."""

import math

from .draws import BASE, CLEAR, CUT, KILL, SEEDLING_KILL
from .hosts import time_to_light, wait
from .mat import density, share
from .world import BARE, CLIMBING, EMPTY, NEVER
from .world import CUT as CUT_STATE

WINTER = 0


def kill_of_visit(world, cell, numbers, season, hauled):
    """k: the kill of this visit, re-rooting counted."""
    mean = numbers.get("mat_kill", 0.0)
    w = min(math.sqrt(3.0) * numbers.get("kill_variation", 0.0), mean, 1.0 - mean)
    k = mean + w * (2.0 * world.draws.first(KILL, cell.number, season, 0) - 1.0)
    if not hauled:
        k = k * (1.0 - numbers.get("reroots", 0.0) * cell.wetness)
    return k


def chance_of_clearing(pieces, k):
    """No piece left out of a Poisson number that was not nil; its limit k where there is nothing."""
    if pieces == 0.0:
        return k
    return math.exp(-pieces * (1.0 - k)) * -math.expm1(-pieces * k) / -math.expm1(-pieces)


def treat_mat(world, cell, k, season, now, bare):
    """Kill mat in an infested cell: it is cleared, or thinner and held up; `bare` is when its cover is off, or now."""
    p = world.p
    d = density(world, cell, now)
    pieces = p["mat.rooted_pieces"] * (world.h * world.h) * cell.plantable * share(world, cell, now) * d
    if world.draws.first(CLEAR, cell.number, season, 0) < chance_of_clearing(pieces, k):
        cell.kind = EMPTY
        cell.arrival = NEVER
        cell.push = NEVER
        cell.density = 0.0
        cell.known = False
        cell.cleared = bare
    else:
        left = d * (1.0 - k)
        cell.density = left
        cell.changed = bare
        if bare > now:
            cell.push = max(cell.push, bare)
        if left < 0.5:
            cell.push = max(cell.push, bare + math.log(1.0 / left - 1.0) / cell.thickening)


def treat_seedlings(world, cell, numbers, season):
    """Kill seedlings of the cell that have germinated."""
    kill = numbers.get("seedling_kill", 0.0)
    for seedling in world.germinated_seedlings(cell, season):
        number = seedling.number * 2**11 + seedling.shed
        if world.draws.first(SEEDLING_KILL, seedling.entity, season, number) < kill:
            seedling.alive = False


def treat_cell(world, cell, treatment, numbers, season, now, hauled):
    """Everything that one visit does to a cell that it does not find clean."""
    k = kill_of_visit(world, cell, numbers, season, hauled)
    covers = numbers.get("cover_years", 0.0)
    bare = now + covers if covers > 0.0 else now
    if k > 0.0 and cell.infested:
        treat_mat(world, cell, k, season, now, bare)
    if covers > 0.0:
        cell.covered_until = bare
        cell.cleared = max(cell.cleared, bare)
        for seedling in world.germinated_seedlings(cell, season):
            seedling.alive = False
    if k > 0.0 and treatment.disturbs:
        cell.disturbed_until = now + world.p["disturbance.release_years"]
    treat_seedlings(world, cell, numbers, season)
    role = "native_loss_dormant" if season % 4 == WINTER else "native_loss_growing"
    cell.native = cell.native * (1.0 - numbers.get(role, 0.0))


def stem_kill_of(numbers, volunteers):
    """Chance that a climbing stem is cut by those who do it."""
    return numbers.get("stem_kill_volunteers" if volunteers else "stem_kill", 0.0)


def treat_host(world, host, numbers, season, now, volunteers):
    """Everything that one visit does to a host that it does not find clean."""
    p = world.p
    visit = host.visits_this_season
    stem_kill = stem_kill_of(numbers, volunteers)
    base_kill = numbers.get("base_kill", 0.0)
    if host.state == CLIMBING and world.draws.first(CUT, host.number, season, visit) < stem_kill:
        if host.fruiting(now):
            host.share_left_of_cut_crop = 1.0 - numbers.get("crop_prevented_ripe", 0.0)
        host.state = CUT_STATE
    if host.state == CUT_STATE:
        if world.draws.first(BASE, host.number, season, visit) < base_kill:
            host.state = BARE
            host.first_fruit = NEVER
        elif stem_kill > 0.0:
            host.last_cut = now
            again = max(wait(world, host) * p["climb.years_to_refruit"], time_to_light(world, host))
            host.first_fruit = max(host.first_fruit, now + again)
    radius = numbers.get("ring_radius", 0.0)
    if radius > 0.0:
        host.ring_until = max(host.ring_until, now + radius * host.cell.slowness)
    host.worked_before = True
