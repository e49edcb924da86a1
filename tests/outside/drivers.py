"""Small compiled loops through which the tests reach kernel functions that Python cannot call.

They add nothing: each hands its arguments on to the kernels. Compiled code is kept in the project's own cache
folder, named by a hash of the kernels, so that it can't be older than what it calls.
"""

import math

from numba import njit

from spreadsim.model.cache import compiled_into_cache
from spreadsim.model.compiled import layout

with compiled_into_cache():
    from spreadsim.model.draws import CROP, pair, poisson
    from spreadsim.model.kernels import birds, front, hosts, mat, scout, season, seedlings, treat

    @njit(cache=True)
    def begin(key, ground, plan, state, vines):
        """Lay out the mapped mat and hosts."""
        season.begin(key, ground, plan, state, vines[0], None)

    @njit(cache=True)
    def advance(ground, plan, state, vines, end):
        """Let the front move on to the end of the season in which `end` lies."""
        for when in range(state.count[layout.ADVANCING], front.season_of(plan, end) + 1):
            mat.advance(ground, plan, state, vines[0], when)

    @njit(cache=True)
    def found(ground, plan, state, vines, cells, kind, since, dense):
        """Infest cells as patches of their own that nobody knows."""
        for c in cells:
            mat.infest(ground, plan, state, vines[0], c, kind, since, since, dense)
            state.pasts[state.cells[c].slot].origin = c
            state.cells[c].known = 0
            mat.list_unknown(state, c)

    @njit(cache=True)
    def clear(ground, plan, state, vines, cells, now):
        """Empty infested cells."""
        for c in cells:
            if state.kinds[c] != layout.EMPTY:
                mat.touch(ground, state, c)
                mat.clear(ground, plan, state, vines[0], c, now)

    @njit(cache=True)
    def infested(ground, state, vines, now, out):
        """Infested share of every cell."""
        for c in range(out.size):
            out[c] = 0.0
            if state.kinds[c] != layout.EMPTY:
                out[c] = mat.share(ground, state.stands[state.cells[c].slot], vines[0], now)

    @njit(cache=True)
    def densities(ground, state, vines, c, times, out):
        """Density of one cell at some times."""
        for i in range(times.size):
            out[i] = mat.density(ground, state, vines[0], c, times[i])

    @njit(cache=True)
    def distances(vines, u, out):
        """Landing distances at quantiles u."""
        for i in range(u.size):
            out[i] = birds.landing_distance(vines[0], u[i])

    @njit(cache=True)
    def beyond(vines, r, out):
        """Shares of seed that go further than r."""
        for i in range(r.size):
            out[i] = birds.share_beyond(vines[0], r[i])

    @njit(cache=True)
    def leaving(ground, vines, x, y):
        """Share of the seed taken at (x, y) that leaves the site."""
        return birds.share_leaving(ground, vines[0], x, y)

    @njit(cache=True)
    def land(key, ground, plan, state, vines, entity, when, x, y, taken):
        """Let seeds land that birds took at (x, y)."""
        birds.land(key, ground, plan, state, vines[0], entity, when, x, y, taken, 0.0)

    @njit(cache=True)
    def fruit(key, ground, plan, state, vines, tally, year, when):
        """Let all fruiting hosts shed their seed in one season."""
        birds.fruit(key, ground, plan, state, vines[0], tally, year, when, year + 0.0, year + 1.0)

    @njit(cache=True)
    def waits(key, vines, attempt, out):
        """Waits of hosts 0, 1, 2... relative to their mean."""
        for j in range(out.size):
            out[j] = hosts.unit_wait(key, vines[0], j, attempt)

    @njit(cache=True)
    def climb(key, ground, state, vines, when, start, end):
        """Let hosts be climbed in one season."""
        hosts.climb(key, ground, vines[0], state, when, start, end)

    @njit(cache=True)
    def counts(key, entities, when, number, mean, out):
        """Keyed Poisson counts."""
        for i in range(entities.size):
            out[i] = poisson(key, entities[i], when, number, mean)

    @njit(cache=True)
    def lineages(key, mean, mixed, most, out):
        """Sizes of branching families by generation, each parent's children a keyed Poisson count of its own.

        `mixed`: the mean varies between parents as an exponential variable, which makes the number of
        children geometric. A family that reaches `most` stays there.
        """
        for family in range(out.shape[0]):
            alive = 1
            for generation in range(out.shape[1]):
                children = 0
                if alive >= most:
                    children = most
                else:
                    for parent in range(alive):
                        own = mean
                        if mixed:
                            own = -mean * math.log(pair(key, CROP, family, generation, parent)[0])
                        children += poisson(key, family, generation, parent, own)
                alive = children
                out[family, generation] = alive

    @njit(cache=True)
    def kills(mean, spread, u, out):
        """Kills of visits."""
        for i in range(u.size):
            out[i] = treat.kill_of_visit(mean, spread, u[i])

    @njit(cache=True)
    def clearing(pieces, kill):
        """Chance that a cell with so many pieces on average is cleared."""
        return treat.chance_of_clearing(pieces, kill)

    @njit(cache=True)
    def treat_cells(key, ground, plan, state, vines, treatment, rules, cells, when, now):
        """Work cells once; nothing is hauled out."""
        for c in cells:
            treat.treat_cell(key, ground, plan, state, vines[0], treatment[0], rules[0], c, when, now, False)

    @njit(cache=True)
    def enter_seedlings(key, plan, state, vines, entity, when, numbers, c):
        """Enter seedlings by number."""
        for i in range(numbers.size):
            seedlings.shed(key, plan, state, vines[0], entity, when, numbers[i], c, numbers[i] < 65536)

    @njit(cache=True)
    def kill_seedlings(key, state, c, when, kill):
        """Kill germinated seedlings of a cell."""
        seedlings.kill_seedlings(key, state, c, when, kill)

    @njit(cache=True)
    def detection(effort, time_constant, missed):
        """Chance that a search finds a thing."""
        return scout.detection(effort, time_constant, missed)

    @njit(cache=True)
    def find(key, ground, state, vines, scouting, when, now):
        """Look for what nobody knows, with the effort in the books."""
        scout.find(key, ground, state, vines[0], scouting[0], True, when, now, 0.0)
