"""Hosts: waiting times, light, being climbed, and the start from what was mapped."""

import math
from typing import Any

import numpy as np

from spreadsim.model.draws import AGE, CLIMB, EVER, WAIT, trait, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    AT_RISK,
    BARE,
    CLIMBERS,
    CLIMBING,
    CUT_BASE,
    EMPTY,
    FIRST_CLIMBED,
    N_AT_RISK,
    N_CLIMBERS,
    N_FIRST_CLIMBED,
    N_TOUCHED_HOSTS,
    N_UNKNOWN_HOSTS,
    NEVER,
    TOUCHED_HOSTS,
    UNKNOWN_HOSTS,
)
from spreadsim.model.kernels.mat import cover


@inner
def unit_wait(key: Any, vine: Any, j: Any, attempt: Any) -> Any:
    """Gamma of mean 1 and whole shape, the host's for life."""
    shape = int(vine.wait_shape)
    blocks = (shape + 1) // 2
    total = 0.0
    for b in range(blocks):
        first, second = trait(key, WAIT, j, attempt * blocks + b)
        total += math.log(first)
        if 2 * b + 1 < shape:
            total += math.log(second)
    return -total / shape


@inner
def wait_met(key: Any, vine: Any, j: Any) -> Any:
    """The wait of a host met climbing at a random moment: the likelier, the longer; gamma of shape one more."""
    terms = int(vine.wait_shape) + 1
    total = 0.0
    for b in range((terms + 1) // 2):
        first, second = trait(key, AGE, j, 1 + b)
        total += math.log(first)
        if 2 * b + 1 < terms:
            total += math.log(second)
    return -total / (terms - 1)


@inner
def wait(key: Any, vine: Any, state: Any, j: Any) -> Any:
    """The host's wait relative to the mean, drawn when first asked for."""
    host = state.hosts[j]
    if host.wait < 0.0:
        host.wait = unit_wait(key, vine, j, 0)
    return host.wait


@inner
def ever_fruits(key: Any, vine: Any, state: Any, j: Any) -> Any:
    """Whether climbing stems on this host fruit at all: a lasting trait, or what was seen when it was mapped."""
    if state.hosts[j].fruited_when_mapped:
        return True
    return trait(key, EVER, j, 0)[0] < vine.share_of_mature_climbers_fruiting


@inner
def years_to_light(ground: Any, vine: Any, state: Any, j: Any) -> Any:
    """Years from the ground to the height with light enough to fruit; infinite if there is none."""
    if state.hosts[j].fruited_when_mapped:
        return 0.0
    host = ground.hosts[j]
    below = 1.0 - ground.canopy[host.cell]
    if below >= vine.light_to_fruit:
        return 0.0
    if host.top_light < vine.light_to_fruit:
        return NEVER
    z = host.height * (vine.light_to_fruit - below) / (host.top_light - below)
    if z > vine.max_height:
        return NEVER
    return z / vine.vertical_speed


@inner
def touch_host(state: Any, j: Any) -> None:
    """Note that a host changed, so that it is put back after the run."""
    if state.hosts[j].touched == 0:
        state.hosts[j].touched = 1
        state.lists[TOUCHED_HOSTS, state.count[N_TOUCHED_HOSTS]] = j
        state.count[N_TOUCHED_HOSTS] += 1


@inner
def list_climber(state: Any, j: Any) -> None:
    """Follow a host that carries the vine."""
    if state.hosts[j].listed == 0:
        state.hosts[j].listed = 1
        state.lists[CLIMBERS, state.count[N_CLIMBERS]] = j
        state.count[N_CLIMBERS] += 1


@inner
def list_unknown_host(state: Any, j: Any) -> None:
    """A climbed host that nobody knows can be found."""
    if state.hosts[j].unlisted == 0:
        state.hosts[j].unlisted = 1
        state.lists[UNKNOWN_HOSTS, state.count[N_UNKNOWN_HOSTS]] = j
        state.count[N_UNKNOWN_HOSTS] += 1


@inner
def set_first_climbed(key: Any, ground: Any, vine: Any, state: Any) -> None:
    """Hosts mapped climbing or fruiting, at time 0."""
    for i in range(ground.shape[N_FIRST_CLIMBED]):
        j = ground.lists[FIRST_CLIMBED, i]
        mapped = ground.hosts[j]
        host = state.hosts[j]
        touch_host(state, j)
        list_climber(state, j)
        host.state = CLIMBING
        host.known = mapped.known
        if mapped.known == 0:
            list_unknown_host(state, j)
        if mapped.state == 2:
            host.fruited_when_mapped = 1
            host.climbed = -1.0
            host.fruit = -1.0
            continue
        mean = vine.years_to_first_fruit
        if np.isnan(mapped.years_climbing):
            years = wait_met(key, vine, j) * mean
            age = trait(key, AGE, j, 0)[0] * years
        else:
            age = mapped.years_climbing
            years = 0.0
            for attempt in range(64):
                years = unit_wait(key, vine, j, attempt) * mean
                if years > age:
                    break
        host.climbed = -age
        if ever_fruits(key, vine, state, j):
            host.fruit = max(0.0, -age + max(years, years_to_light(ground, vine, state, j)))
        else:
            host.fruit = NEVER


@inner
def climb(key: Any, ground: Any, vine: Any, state: Any, season: Any, start: Any, end: Any) -> None:
    """Cut bases come up again, and bare hosts in mat are climbed, by the season's end."""
    kept = 0
    for i in range(state.count[N_CLIMBERS]):
        j = state.lists[CLIMBERS, i]
        host = state.hosts[j]
        if host.state == CUT_BASE and end >= host.cut + vine.resprout_time:
            host.state = CLIMBING
            host.climbed = host.cut
        # one cut down to a dead base this season may still shed what was ripe
        if host.state == CLIMBING or host.state == CUT_BASE or host.crop_season == season + 1:
            state.lists[CLIMBERS, kept] = j
            kept += 1
        else:
            host.listed = 0
    state.count[N_CLIMBERS] = kept

    kept = 0
    years = end - start
    most = 1.0 - math.exp(-vine.climb_rate * vine.max_cover * years)
    for i in range(state.count[N_AT_RISK]):
        j = state.lists[AT_RISK, i]
        state.lists[AT_RISK, kept] = j
        kept += 1
        u = uniform(key, CLIMB, j, season, 0)
        # most hosts are passed over by the bound, without a look at them; so some stay listed that are no more at risk
        if u >= most:
            continue
        host = state.hosts[j]
        c = ground.hosts[j].cell
        if host.state == BARE and state.kinds[c] != EMPTY:
            if end < host.ring or u >= 1.0 - math.exp(-vine.climb_rate * cover(ground, state, vine, c, end) * years):
                continue
            be_climbed(key, ground, vine, state, j, end)
        kept -= 1
        host.at_risk = 0
    state.count[N_AT_RISK] = kept


@inner
def be_climbed(key: Any, ground: Any, vine: Any, state: Any, j: Any, now: Any) -> None:
    """A bare host becomes a climbing one."""
    host = state.hosts[j]
    touch_host(state, j)
    list_climber(state, j)
    host.state = CLIMBING
    host.climbed = now
    host.fruit = NEVER
    if ever_fruits(key, vine, state, j):
        years = wait(key, vine, state, j) * vine.years_to_first_fruit
        host.fruit = now + max(years, years_to_light(ground, vine, state, j))
    if host.task < 0:
        host.known = 0
        list_unknown_host(state, j)
