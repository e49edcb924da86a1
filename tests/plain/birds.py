"""Crops, birds and seed from outside (ODD page, 7.3)."""

import math

from .draws import (
    BACKGROUND_SEED,
    CROP,
    FIRST_SOURCE,
    KEEP,
    LANDING,
    LANDING_BENEATH,
    NUMBER_OF_CANDIDATES,
    ROUNDING,
)
from .seedlings import shed

DIRECTIONS = 32
RADIUS_BENEATH = 2.0
BENEATH = 2**16


def crop_of_year(world, entity, year):
    """Seeds that one fruiting host (or source) bears this year, not yet whole."""
    p = world.p
    sigma = p["seed.crop_spread"]
    u1, u2 = world.draws.pair(CROP, entity, year, 0)
    z = math.sqrt(-2.0 * math.log(u1)) * math.cos(2.0 * math.pi * u2)
    return p["seed.fruits_per_host"] * p["seed.seeds_per_fruit"] * math.exp(sigma * z - sigma * sigma / 2.0)


def whole_seeds(world, entity, season, part):
    """Whole seeds of one season's part of a crop: (all, taken by birds)."""
    u1, u2 = world.draws.pair(ROUNDING, entity, season, 0)
    seeds = math.floor(part + u1)
    taken = math.floor(seeds * world.p["seed.share_taken_by_birds"] + u2)
    return seeds, taken


def distance_to_edge(world, x, y, angle):
    """From a point on the site to the site's edge, in one direction (counter-clockwise from east)."""
    east, north = math.cos(angle), math.sin(angle)
    distances = []
    if east > 0.0:
        distances.append((world.width - x) / east)
    if east < 0.0:
        distances.append(x / -east)
    if north > 0.0:
        distances.append((world.height - y) / north)
    if north < 0.0:
        distances.append(y / -north)
    return min(distances)


def share_leaving(world, x, y):
    """p_off: share of the seed taken at this point that leaves the site."""
    p = world.p
    total = 0.0
    for k in range(DIRECTIONS):
        angle = (k + 0.5) * 2.0 * math.pi / DIRECTIONS
        r = distance_to_edge(world, x, y, angle)
        total = total + (1.0 + r * r / p["birds.kernel_u"]) ** -p["birds.kernel_p"]
    return p["birds.share_far"] + (1.0 - p["birds.share_far"]) * (total / DIRECTIONS)


def seeds_leaving(world, host, season, taken):
    """Whole seeds leaving the site."""
    u = world.draws.first(ROUNDING, host.number, season, 1)
    return min(taken, math.floor(taken * share_leaving(world, host.x, host.y) + u))


def chain(world):
    """Chance that a landed seed becomes a lasting patch, before the local factors."""
    p = world.p
    return (
        p["seed.microsite_share"]
        * p["seed.germination"]
        * p["seed.first_winter_survival"]
        * p["seed.seedling_to_rooted_patch"]
    )


def reference_light(world):
    """e_ref: the light factor of open woodland, half canopy."""
    return 1.0 - (1.0 - world.p["mat.shade_factor"]) / 2.0


def perch_weight(world, cell):
    """w(c): 1 away from perches."""
    if not cell.perch:
        return 1.0
    p = world.p
    return p["birds.perch_bias_open"] + (p["birds.perch_bias_forest"] - p["birds.perch_bias_open"]) * cell.canopy


def mean_perch_weight(world):
    """w_mean: the mean of w over plantable ground; reckoned once, as perches do not change."""
    if world.mean_perch_weight is not None:
        return world.mean_perch_weight
    weights = 0.0
    ground = 0.0
    for cell in world.cells:
        weights = weights + perch_weight(world, cell) * cell.plantable
        ground = ground + cell.plantable
    world.mean_perch_weight = weights / ground
    return world.mean_perch_weight


def factors_without_perch(world, cell, g):
    """Local factors of seed that falls beneath its host."""
    value = cell.light / reference_light(world)
    if g < cell.disturbed_until:
        value = value * world.p["disturbance.release_factor"]
    return value * cell.plantable


def local_factors(world, cell, g):
    """Local factors of seed that birds drop."""
    return factors_without_perch(world, cell, g) * (perch_weight(world, cell) / mean_perch_weight(world))


def bound_beneath(world):
    """M': the largest that the local factors can be without perches."""
    return max(1.0, world.p["disturbance.release_factor"]) / reference_light(world)


def bound(world):
    """M: the largest that the local factors can be."""
    p = world.p
    highest_weight = max(1.0, p["birds.perch_bias_open"], p["birds.perch_bias_forest"])
    return bound_beneath(world) * highest_weight / mean_perch_weight(world)


def founded_here(cell, u, chance):
    """Whether a candidate is kept: on the site, on no barrier, by its chance, which is never clipped."""
    if cell is None or cell.barrier:
        return False
    if chance > 1.0 + 1e-12:
        raise AssertionError(f"local factors above their bound: {chance}")
    return u < chance


def disperse_by_birds(world, entity, x, y, taken, season, g):
    """Candidates of the seed that birds took at this point: they land, and are kept or lost."""
    p = world.p
    m = bound(world)
    n = world.draws.poisson(taken * chain(world) * m, NUMBER_OF_CANDIDATES, entity, season, 0)
    for i in range(n):
        u1, u2 = world.draws.pair(LANDING, entity, season, i)
        r = math.sqrt(p["birds.kernel_u"] * ((1.0 - u1) ** (-1.0 / p["birds.kernel_p"]) - 1.0))
        angle = 2.0 * math.pi * u2
        cell = world.cell_under(x + r * math.cos(angle), y + r * math.sin(angle))
        far, keep = world.draws.pair(KEEP, entity, season, i)
        if far < p["birds.share_far"] or cell is None:
            continue
        if founded_here(cell, keep, local_factors(world, cell, g) / m):
            shed(world, entity, season, i, cell, by_birds=True)


def drop_beneath(world, host, fallen, season, g):
    """Candidates of the seed that falls beneath its host."""
    m = bound_beneath(world)
    n = world.draws.poisson(fallen * chain(world) * m, NUMBER_OF_CANDIDATES, host.number, season, 1)
    for i in range(n):
        u1, u2 = world.draws.pair(LANDING_BENEATH, host.number, season, i)
        r = RADIUS_BENEATH * math.sqrt(u1)
        angle = 2.0 * math.pi * u2
        cell = world.cell_under(host.x + r * math.cos(angle), host.y + r * math.sin(angle))
        keep = world.draws.second(KEEP, host.number, season, BENEATH + i)
        if cell is not None and founded_here(cell, keep, factors_without_perch(world, cell, g) / m):
            shed(world, host.number, season, BENEATH + i, cell, by_birds=False)


def seed_from_background(world, season, g, fruit_seasons):
    """Candidates of the seed that comes in from all around."""
    m = bound(world)
    hectares = world.width * world.height / 10_000.0
    mean = world.background_seed * hectares * chain(world) * m / fruit_seasons
    n = world.draws.poisson(mean, NUMBER_OF_CANDIDATES, BACKGROUND_SEED, season, 0)
    for i in range(n):
        u1, u2 = world.draws.pair(LANDING, BACKGROUND_SEED, season, i)
        cell = world.cell_under(u1 * world.width, u2 * world.height)
        keep = world.draws.second(KEEP, BACKGROUND_SEED, season, i)
        if cell is not None and founded_here(cell, keep, local_factors(world, cell, g) / m):
            shed(world, BACKGROUND_SEED, season, i, cell, by_birds=True)


def share_borne(host, g):
    """Share of its part of the crop that a host bears this season; None if it does not bear."""
    if host.share_left_of_cut_crop is not None:
        return host.share_left_of_cut_crop if host.share_left_of_cut_crop > 0.0 else None
    return 1.0 if host.fruiting(g) else None


def fruit(world, year, season, g, fruit_seasons, record):
    """One fruit season: crops, birds, seed beneath, planted sources, background seed."""
    for host in world.hosts:
        borne = share_borne(host, g)
        if borne is None:
            continue
        part = crop_of_year(world, host.number, year) / fruit_seasons * borne
        seeds, taken = whole_seeds(world, host.number, season, part)
        record.bears(host)
        record.seeds_produced += seeds
        record.seeds_exported += seeds_leaving(world, host, season, taken)
        disperse_by_birds(world, host.number, host.x, host.y, taken, season, g)
        drop_beneath(world, host, seeds - taken, season, g)
    for source in world.sources:
        if source.gone <= g:
            continue
        entity = FIRST_SOURCE + source.number
        part = crop_of_year(world, entity, year) * source.equivalents / fruit_seasons
        _, taken = whole_seeds(world, entity, season, part)
        disperse_by_birds(world, entity, source.x, source.y, taken, season, g)
    seed_from_background(world, season, g, fruit_seasons)
