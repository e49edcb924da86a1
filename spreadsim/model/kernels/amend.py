"""What a survey saw, put into a world: mat laid, thinned or taken away, hosts bare, climbing or fruiting."""

import math
from typing import Any

from spreadsim.model.draws import AGE, trait
from spreadsim.model.kernels.compiling import entry, inner
from spreadsim.model.kernels.hosts import (
    ever_fruits,
    list_climber,
    list_unknown_host,
    touch_host,
    unit_wait,
    years_to_light,
)
from spreadsim.model.kernels.layout import (
    BARE,
    CLIMBING,
    CUT_BASE,
    EMPTY,
    FALLEN,
    FALLEN_HOSTS,
    FRONT,
    FRUITING,
    INFESTED,
    KNOWN_FRUITING,
    N_FALLEN,
    N_FALLEN_HOSTS,
    N_INFESTED,
    N_OPENED_HOSTS,
    N_TOUCHED_HOSTS,
    NEVER,
    OFFSETS,
    OPENED_HOSTS,
    OPENED_HOSTS_WHEN,
    REACH,
    SIDE,
    TOUCHED_HOSTS,
    WIDTH,
)
from spreadsim.model.kernels.light import slowness, thickening
from spreadsim.model.kernels.mat import (
    clear,
    cover,
    delay,
    density,
    infest,
    list_unknown,
    make_known,
    set_density,
    share,
    watch,
)
from spreadsim.model.kernels.natives import native_target
from spreadsim.model.kernels.patches import mark_gone

SAME = 1e-9  # covers that differ by less are one
SEEN_AGE = 64  # number of the draw of how long ago a host was climbed; begin uses lower ones
ATTEMPTS = 64


@entry
def amend(
    key: Any, ground: Any, plan: Any, state: Any, vines: Any, cells: Any, hosts: Any, shares: Any, years: Any,
    yearly: Any,
) -> None:  # fmt: skip
    """Put what was seen into the state at the end of so many years.

    `cells` and `hosts` are SEEN_CELL and SEEN_HOST rows, each place once; `shares` is room (cells), -1 everywhere, and
    left so; `yearly` is the record of the last year, where hosts that bore are counted afresh if any host was seen.
    """
    vine = vines[0]
    now = 1.0 * years
    # first what will be infested of each cell, since the age of a full one hangs on its neighbours: order is no matter
    for i in range(cells.size):
        c = cells[i].cell
        there = share(ground, state.stands[state.cells[c].slot], vine, now) if state.kinds[c] != EMPTY else 0.0
        if cells[i].cover > vine.max_cover * there:
            there = min(1.0, cells[i].cover / vine.max_cover)
        shares[c] = there if cells[i].cover > 0.0 else 0.0
    for i in range(cells.size):
        c = cells[i].cell
        if cells[i].cover <= 0.0:
            if state.kinds[c] != EMPTY:
                clear(ground, plan, state, vine, c, now)
            continue
        wanted = min(cells[i].cover, vine.max_cover)
        there = 0.0 if state.kinds[c] == EMPTY else share(ground, state.stands[state.cells[c].slot], vine, now)
        if wanted > vine.max_cover * there:
            lay(ground, plan, state, vine, shares, c, now)
        elif abs(wanted - cover(ground, state, vine, c, now)) > SAME:
            thin(ground, state, vine, c, wanted / (vine.max_cover * there), now)
        stand = state.stands[state.cells[c].slot]
        stand.native = min(stand.native, native_target(vine, wanted))
        if cells[i].known:
            make_known(ground, state, c)
        else:
            forget(ground, state, c)
    for i in range(cells.size):
        shares[cells[i].cell] = -1.0
    for i in range(hosts.size):
        j = hosts[i].host
        touch_host(state, j)
        if hosts[i].state == 0:
            strip(ground, state, j, years)
            if hosts[i].known:
                close(state, j)  # known to be no vine: nobody comes back
        else:
            if state.hosts[j].state != CLIMBING or (hosts[i].state == 2 and state.hosts[j].fruit > 1.0 * years):
                close(state, j)
            dress(key, ground, vine, state, j, hosts[i].state == 2, years)
            state.hosts[j].known = hosts[i].known
            if hosts[i].known == 0:
                list_unknown_host(state, j)
    if hosts.size > 0:
        count_bearing(state, years, yearly)


@inner
def share_after(ground: Any, state: Any, vine: Any, shares: Any, c: Any, now: Any) -> Any:
    """Infested share of a cell once all is amended."""
    if shares[c] >= 0.0:
        return shares[c]
    return 0.0 if state.kinds[c] == EMPTY else share(ground, state.stands[state.cells[c].slot], vine, now)


@inner
def lay(ground: Any, plan: Any, state: Any, vine: Any, shares: Any, c: Any, now: Any) -> None:
    """Lay mat in a cell as if it had been mapped so now: as dense as it gets, see `mat.first_arrival`."""
    new = state.kinds[c] == EMPTY
    if not new:
        lift(ground, state, c)
    behind = shares[c] - 0.5
    if shares[c] >= 1.0:
        behind = REACH[15]
        for k in range(16):
            if (ground.cells[c].moves >> k) & 1:
                other = share_after(ground, state, vine, shares, c + ground.lists[OFFSETS, k], now)
                if other < 1.0:
                    behind = min(behind, REACH[k] + (other - 0.5) * WIDTH[k])
    arrival = now - behind * ground.numbers[SIDE] * slowness(ground, vine, c)
    infest(ground, plan, state, vine, c, FRONT, arrival, now, 1.0)
    if new:
        state.cells[c].known = 0
        state.pasts[state.cells[c].slot].origin = c


@inner
def lift(ground: Any, state: Any, c: Any) -> None:
    """Take an infested cell out of the list, to be infested again at once; what it knows and came from stays."""
    state.kinds[c] = EMPTY
    state.expected[c] = NEVER
    last = state.lists[INFESTED, state.count[N_INFESTED] - 1]
    place = state.pasts[state.cells[c].slot].place
    state.lists[INFESTED, place] = last
    state.pasts[state.cells[last].slot].place = place
    state.count[N_INFESTED] -= 1
    delay(ground, state, c)


@inner
def thin(ground: Any, state: Any, vine: Any, c: Any, dense: Any, now: Any) -> None:
    """Give an infested cell another density on the same share of it; thin mat pushes on when it is half dense."""
    before = density(ground, state, vine, c, now)
    slot = state.cells[c].slot
    set_density(state, slot, min(1.0, dense), now)
    if dense < 0.5 and dense < before:
        half = now + math.log(state.stands[slot].odds) / thickening(ground, vine, c)
        state.push[c] = max(state.push[c], half)
        delay(ground, state, c)


@inner
def forget(ground: Any, state: Any, c: Any) -> None:
    """Let the steward not know of an infested cell."""
    if state.cells[c].known:
        state.cells[c].known = 0
        state.stands[state.cells[c].slot].known = 0
        mark_gone(ground, state, c)
    list_unknown(state, c)


@inner
def close(state: Any, j: Any) -> None:
    """End the follow-up of a host: what climbs it now is new work; `hand_over` drops it from the list."""
    if state.hosts[j].task < 0:
        return
    state.hosts[j].task = -1
    for i in range(state.count[N_OPENED_HOSTS]):
        if state.lists[OPENED_HOSTS, i] == j:
            state.lists[OPENED_HOSTS_WHEN, i] = -1


@inner
def strip(ground: Any, state: Any, j: Any, years: Any) -> None:
    """Take the vine off a host; one that has fallen stays so."""
    host = state.hosts[j]
    if host.state == CLIMBING or host.state == CUT_BASE:
        host.state = BARE
        if state.kinds[ground.hosts[j].cell] != EMPTY:
            watch(state, j)
    if host.bore == years:
        host.bore = 0


@inner
def dress(key: Any, ground: Any, vine: Any, state: Any, j: Any, fruits: Any, years: Any) -> None:
    """Let a host carry climbing stems, with fruit or not yet; one that had fallen stands."""
    host = state.hosts[j]
    now = 1.0 * years
    list_climber(state, j)
    if host.state == FALLEN:
        state.count[N_FALLEN] -= 1
        host.state = BARE
    if host.state == BARE:
        # climbed at any moment since the map
        host.climbed = now - trait(key, AGE, j, SEEN_AGE)[0] * now
        host.fruit = NEVER
        if fruits or ever_fruits(key, vine, state, j):
            host.fruit = next_fruit(key, ground, vine, state, j, now)
    elif host.state == CUT_BASE:
        host.climbed = host.cut
    host.state = CLIMBING
    if fruits:
        host.fruited_when_mapped = 1  # it has light enough, and always will
        host.fruit = min(host.fruit, now)
        host.bore = years
    else:
        if host.fruit <= now:
            host.fruit = next_fruit(key, ground, vine, state, j, now)
        if host.bore == years:
            host.bore = 0


@inner
def next_fruit(key: Any, ground: Any, vine: Any, state: Any, j: Any, now: Any) -> Any:
    """When climbing stems without fruit will bear: their wait, known to be longer than it has lasted."""
    climbed = state.hosts[j].climbed
    years = 0.0
    for attempt in range(ATTEMPTS):
        years = unit_wait(key, vine, j, attempt) * vine.years_to_first_fruit
        if climbed + years > now:
            break
    return max(now, climbed + max(years, years_to_light(ground, vine, state, j)))


@inner
def count_bearing(state: Any, years: Any, yearly: Any) -> None:
    """Count the hosts that bore in the last year, and those of them that are known."""
    yearly[FRUITING] = 0.0
    yearly[KNOWN_FRUITING] = 0.0
    fallen = state.count[N_FALLEN_HOSTS]
    for i in range(fallen + state.count[N_TOUCHED_HOSTS]):
        j = state.lists[FALLEN_HOSTS, i] if i < fallen else state.lists[TOUCHED_HOSTS, i - fallen]
        if state.hosts[j].bore == years:
            yearly[FRUITING] += 1.0
            yearly[KNOWN_FRUITING] += 1.0 * state.hosts[j].known
