"""Hosts: waits, light, climbing (ODD page, 7.2) and how they stand at the start (section 5)."""

import math

from .draws import AGE, CLIMB, EVER_FRUITS, WAIT
from .mat import cover
from .world import BARE, CLIMBING, CUT, LONG_AGO, NEVER


def wait(world, host, attempt=0):
    """W: a gamma variate of mean 1 and whole shape K, keyed by the host and the try alone."""
    shape = int(world.p["climb.wait_shape"])
    pairs = math.ceil(shape / 2)
    uniforms = []
    for i in range(pairs):
        uniforms.extend(world.draws.pair(WAIT, host.number, 0, attempt * pairs + i))
    total = 0.0
    for u in uniforms[:shape]:
        total = total + math.log(u)
    return -total / shape


def wait_when_met(world, host):
    """W' of a host whose age is unknown: a gamma variate of shape K + 1, its mean (K + 1) / K."""
    shape = int(world.p["climb.wait_shape"])
    uniforms = []
    number = 1
    while len(uniforms) < shape + 1:
        uniforms.extend(world.draws.pair(AGE, host.number, 0, number))
        number += 1
    total = 0.0
    for u in uniforms[: shape + 1]:
        total = total + math.log(u)
    return -total / shape


def height_with_light(world, host):
    """Give the least height at which there is light enough to fruit, infinite if out of reach."""
    needed = world.p["climb.light_to_fruit"]
    ground_light = 1.0 - host.cell.canopy
    if ground_light >= needed:
        return 0.0
    if host.top_light < needed:
        return math.inf
    z = host.height * (needed - ground_light) / (host.top_light - ground_light)
    if z > world.p["climb.max_height"]:
        return math.inf
    return z


def time_to_light(world, host):
    """t_light; none for a host that was mapped fruiting, as light is no hindrance to it."""
    if host.mapped_fruiting:
        return 0.0
    return height_with_light(world, host) / world.p["climb.vertical_speed"]


def ever_fruits(world, host):
    """Whether the host's lasting trait lets a stem on it fruit."""
    if host.mapped_fruiting:
        return True
    u = world.draws.first(EVER_FRUITS, host.number, 0, 0)
    return not u >= world.p["climb.share_of_mature_climbers_fruiting"]


def time_until_first_fruit(world, host, w):
    """From first climbing on: max(W x years_to_first_fruit, t_light), infinite for never."""
    if not ever_fruits(world, host):
        return NEVER
    return max(w * world.p["climb.years_to_first_fruit"], time_to_light(world, host))


def wait_beyond(world, host, age):
    """W': the first of the host's waits (tries 0 to 63) that is longer than its mapped age."""
    w = 0.0
    for attempt in range(64):
        w = wait(world, host, attempt)
        if w * world.p["climb.years_to_first_fruit"] > age:
            return w
    return w


def start_host(world, host, mapped_state, mapped_age):
    """Put a host in its mapped state (0 bare, 1 climbing, 2 fruiting)."""
    if mapped_state == 0:
        host.state = BARE
    elif mapped_state == 2:
        host.state = CLIMBING
        host.mapped_fruiting = True
        host.climbed = host.first_fruit = -1.0
    else:
        host.state = CLIMBING
        if math.isnan(mapped_age):
            w = wait_when_met(world, host)
            u = world.draws.first(AGE, host.number, 0, 0)
            age = u * w * world.p["climb.years_to_first_fruit"]
        else:
            age = mapped_age
            w = wait_beyond(world, host, age)
        host.climbed = -age
        host.first_fruit = max(0.0, -age + time_until_first_fruit(world, host, w))


def climb(world, season, start, end):
    """One season: cut hosts sprout again, bare hosts in mat are climbed or not."""
    p = world.p
    for host in world.hosts:
        if host.state == CUT:
            if end >= host.last_cut + p["climb.resprout_time"]:
                host.state = CLIMBING
                host.climbed = host.last_cut
        elif host.state == BARE and host.cell.infested and end >= host.ring_until:
            hazard = p["climb.climb_rate"] * cover(world, host.cell, end) * (end - start)
            if world.draws.first(CLIMB, host.number, season, 0) < 1.0 - math.exp(-hazard):
                host.state = CLIMBING
                host.climbed = end
                host.first_fruit = end + time_until_first_fruit(world, host, wait(world, host))
                host.last_cut = LONG_AGO
                host.known = host.opened_by is not None
