"""What a treatment does to a cell or a host: one kernel for all, a treatment is a row of numbers."""

import math
from typing import Any

from spreadsim.model.draws import BASE, CLEAR, CUT, KILL, uniform
from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.hosts import touch_host, wait, years_to_light
from spreadsim.model.kernels.layout import (
    BARE,
    CLIMBING,
    CUT_BASE,
    EMPTY,
    N_CLEARED,
    SIDE,
)
from spreadsim.model.kernels.light import slowness, thickening
from spreadsim.model.kernels.mat import clear, delay, density, set_density, share, touch, watch
from spreadsim.model.kernels.seedlings import kill_seedlings


@inner
def kill_of_visit(mean: Any, spread: Any, u: Any) -> Any:
    """Kill of one visit: evenly spread about its mean with the given standard deviation where there is room."""
    width = min(math.sqrt(3.0) * spread, mean, 1.0 - mean)
    return mean + width * (2.0 * u - 1.0)


@inner
def chance_of_clearing(pieces: Any, kill: Any) -> Any:
    """Chance that none of a Poisson number of rooted pieces, known not to be nil, outlives a kill."""
    if pieces <= 0.0:
        return kill
    return math.exp(-pieces * (1.0 - kill)) * (-math.expm1(-pieces * kill)) / (-math.expm1(-pieces))


@inner
def treat_cell(
    key: Any, ground: Any, plan: Any, state: Any, vine: Any, treatment: Any, rules: Any, c: Any, season: Any, now: Any,
    hauled: Any,
) -> None:  # fmt: skip
    """Work the ground of a cell once."""
    touch(ground, state, c)
    cell = state.cells[c]
    loss = treatment.native_loss_dormant if season % 4 == 0 else treatment.native_loss_growing
    stand = state.stands[cell.slot]
    stand.native *= 1.0 - loss
    if treatment.seedling_kill > 0.0:
        kill_seedlings(key, state, c, season, treatment.seedling_kill)
    kill = kill_of_visit(treatment.mat_kill, treatment.kill_variation, uniform(key, KILL, c, season, 0))
    if not hauled:
        kill *= 1.0 - treatment.reroots * ground.cells[c].wetness
    # ground stays covered for a while; nothing spreads into it or grows on it before
    bare = now + treatment.cover_years
    if treatment.cover_years > 0.0:
        state.care[c].covered = bare
        state.cleared[c] = max(state.cleared[c], bare)
        state.count[N_CLEARED] += 1
        delay(ground, state, c)
    if kill <= 0.0:
        return
    if state.kinds[c] != EMPTY:
        h = ground.numbers[SIDE]
        dense = density(ground, state, vine, c, now)
        area = h * h * ground.cells[c].plantable
        pieces = vine.rooted_pieces * area * share(ground, stand, vine, now) * dense
        if uniform(key, CLEAR, c, season, 0) < chance_of_clearing(pieces, kill):
            clear(ground, plan, state, vine, c, bare)
        else:
            dense *= 1.0 - kill
            set_density(state, cell.slot, dense, bare)
            if treatment.cover_years > 0.0:
                state.push[c] = max(state.push[c], bare)
            if dense < 0.5:
                half = bare + math.log(stand.odds) / thickening(ground, vine, c)
                state.push[c] = max(state.push[c], half)
            delay(ground, state, c)
    if rules.disturbs:
        state.pasts[cell.slot].disturbed = now + vine.release_years
        stand.changed = 1


@inner
def treat_host(
    key: Any, ground: Any, state: Any, vine: Any, treatment: Any, volunteers: Any, j: Any, season: Any, now: Any,
    ripe: Any,
) -> None:  # fmt: skip
    """Work one host once; `ripe` says that this is a fruit season, so that what hangs is not wholly undone."""
    touch_host(state, j)
    host = state.hosts[j]
    if host.season != season + 1:
        host.season = season + 1
        host.visits = 0
        host.done = 0
    visit = host.visits
    host.visits += 1
    host.worked = 1
    stem_kill = treatment.stem_kill_volunteers if volunteers else treatment.stem_kill
    c = ground.hosts[j].cell
    if host.state == CLIMBING and uniform(key, CUT, j, season, visit) < stem_kill:
        if ripe and host.fruit <= now:
            host.crop_season = season + 1
            host.crop_left = 1.0 - treatment.crop_prevented_ripe
        host.state = CUT_BASE
    if host.state == CUT_BASE:
        if uniform(key, BASE, j, season, visit) < treatment.base_kill:
            host.state = BARE
            if state.kinds[c] != EMPTY:
                watch(state, j)
        elif stem_kill > 0.0:
            host.cut = now
            again = max(wait(key, vine, state, j) * vine.years_to_refruit, years_to_light(ground, vine, state, j))
            host.fruit = max(host.fruit, now + again)
    if treatment.ring_radius > 0.0:
        host.ring = max(host.ring, now + treatment.ring_radius * slowness(ground, vine, c))
