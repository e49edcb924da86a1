"""Beginning from a learned state (ODD page, 7.12)."""

import hashlib
import math

from .books import Plan
from .draws import AGE, EVER_FRUITS, WAIT, Draws
from .funds import order_of_use
from .hosts import ever_fruits, time_to_light, wait
from .mat import KNIGHT, WIDTHS, cover, density, open_neighbours, share
from .parameters import draw_treatment, draw_vine, numbers_at_work
from .record import Record
from .season import PROCESSES, run_season, start_world
from .world import BARE, CLIMBING, CUT, EMPTY, FALLEN, FRONT, NEVER

TRAITS = (WAIT, EVER_FRUITS, AGE)


class Future(Draws):
    """The chance of the seasons to come, with the lasting traits of the past."""

    def __init__(self, luck, past):
        super().__init__(luck, past[1])
        self.past = Draws(*past)

    def pair(self, process, entity, season, number):
        """Traits are the world's; all else has the luck of the future."""
        if process in TRAITS:
            return self.past.pair(process, entity, season, number)
        return super().pair(process, entity, season, number)


def luck_of(past_seed, seed, copy):
    """First word of the key of what is to come."""
    if copy == 0 and seed == past_seed:
        return past_seed
    return int.from_bytes(hashlib.sha256(f"luck {past_seed} {seed} {copy}".encode()).digest()[:4], "little")


def amend_ground(world, seen, g):
    """Lay, thin and take away mat; `seen` are cells' numbers with (cover, known)."""
    most = world.p["mat.max_cover"]
    before = {number: share(world, world.cells[number], g) for number in seen}
    after = {}
    for number, (m, _) in seen.items():
        s = before[number]
        after[number] = 0.0 if m == 0.0 else s if m <= most * s else min(1.0, m / most)

    def share_of(cell):
        return after[cell.number] if cell.number in after else share(world, cell, g)

    for number, (m, known) in seen.items():
        cell, wanted = world.cells[number], min(m, most)
        if m == 0.0:
            if cell.infested:
                cell.kind, cell.arrival, cell.push = EMPTY, NEVER, NEVER
                cell.density, cell.known, cell.cleared = 0.0, False, g
            continue
        if wanted > most * before[number]:
            ways = [d + (share_of(n) - 0.5) * WIDTHS[d] for n, d in open_neighbours(world, cell) if share_of(n) < 1.0]
            behind = share_of(cell) - 0.5 if share_of(cell) < 1.0 else min([KNIGHT, *ways])
            if not cell.infested:
                cell.origin = number
            cell.kind = FRONT
            cell.arrival = cell.push = g - behind * world.h * cell.slowness
            cell.density, cell.changed = 1.0, g
        elif abs(wanted - cover(world, cell, g)) > 1e-9:
            was, now = density(world, cell, g), wanted / (most * before[number])
            cell.density, cell.changed = min(1.0, now), g
            if now < 0.5 and now < was:
                cell.push = max(cell.push, g + math.log(cell.odds) / cell.thickening)
        under = world.p["impact.native_cover_under_full_mat"]
        cell.native = min(cell.native, 1.0 - (1.0 - under) * wanted / most)
        cell.known = known


def fruit_to_come(world, host, g):
    """First fruit of a host that was seen without: its wait is longer than it has lasted."""
    years = 0.0
    for attempt in range(64):
        years = wait(world, host, attempt) * world.p["climb.years_to_first_fruit"]
        if host.climbed + years > g:
            break
    return max(g, host.climbed + max(years, time_to_light(world, host)))


def amend_hosts(world, seen, g, bore):
    """Put hosts in the state that was seen; `seen` are their numbers with (state, known)."""
    for number, (state, known) in seen.items():
        host = world.hosts[number]
        bore.discard(number)
        if state == 0:
            if host.state in (CLIMBING, CUT):
                host.state = BARE
            if known:  # no vine: nobody comes back
                host.opened_by = None
            continue
        if host.state != CLIMBING or (state == 2 and host.first_fruit > g):
            host.opened_by = None  # what climbs it now is new work
        fruits = state == 2
        if host.state in (BARE, FALLEN):
            host.climbed = g - world.draws.first(AGE, number, 0, 64) * g
            host.first_fruit = NEVER
            if fruits or ever_fruits(world, host):
                host.first_fruit = fruit_to_come(world, host, g)
        elif host.state == CUT:
            host.climbed = host.last_cut
        host.state, host.known = CLIMBING, known
        if fruits:
            host.mapped_fruiting = True
            host.first_fruit = min(host.first_fruit, g)
            bore.add(number)
        elif host.first_fruit <= g:
            host.first_fruit = fruit_to_come(world, host, g)


def heir(world, done, then, treatments, t, unit):
    """Task of the second strategy that takes over what task t of the first has open in a unit, or None."""
    old = done.tasks[t]
    if t < len(then.tasks) and then.tasks[t] == old:
        return t
    stems = "stems" in treatments[old.treatment].acts_on
    name = "" if unit == 0 else world.unit_names[unit - 1]

    def able(task, anywhere):
        same_kind = ("stems" in treatments[task.treatment].acts_on) == stems
        alone = treatments[task.treatment].acts_on in ({"search"}, {"natives"}, {"sources"})
        here = anywhere or not task.units or name in task.units
        return task.follow_up is not None and same_kind and not alone and here

    rules = (
        lambda task: task == old and able(task, True),
        lambda task: task.label == old.label and task.treatment == old.treatment and able(task, False),
        lambda task: task.label == old.label and able(task, False),
        lambda task: task.treatment == old.treatment and able(task, False),
    )
    for rule in rules:
        for n, task in enumerate(then.tasks):
            if rule(task):
                return n
    return None


def hand_over(world, done, then, treatments):
    """Visits that are due pass on, or nobody comes back."""
    for place in (*world.cells, *world.hosts):
        if place.opened_by is not None:
            unit = place.cell.unit if hasattr(place, "cell") else place.unit
            place.opened_by = heir(world, done, then, treatments, place.opened_by, unit)


def run_from(
    site, vine, treatments, done, strategy, crews, weather, years, past, begin, *,
    seed, copy=0, cells=None, hosts=None, fixed_parameters=False, funds=(), events=(),
):  # fmt: skip
    """Run one replicate from a learned state.

    Parameters as for `season.run`, and: `done`, the strategy of the first `begin` years; `past`, seed and number of
    the world; `seed` and `copy`, of the comparison; `cells` and `hosts`, what was seen, by number.
    """
    values = draw_vine(vine, Draws(*past), fixed_parameters)
    numbers = {
        name: numbers_at_work(one, draw_treatment(one, Draws(*past), fixed_parameters))
        for name, one in treatments.items()
    }
    world = start_world(site, values, Draws(*past))
    funds = tuple(order_of_use(funds))
    left = [float(fund.amount) for fund in funds]
    before = Plan(done, tuple(crews), dict(treatments), numbers, weather, funds, left)
    old = Record(world, years, len(done.tasks), len(funds))
    for year in range(begin):
        old.new_year()
        for season_index in range(4):
            run_season(world, before, events, year, season_index, set(PROCESSES), old)
    g = float(begin)
    amend_ground(world, cells or {}, g)
    if hosts:
        amend_hosts(world, hosts, g, old.bore)
        old.known_when_they_bore = {number for number in old.bore if world.hosts[number].known}
    hand_over(world, done, strategy, treatments)
    world.draws = Future(luck_of(past[0], seed, copy), past)
    plan = Plan(strategy, tuple(crews), dict(treatments), numbers, weather, funds, left, openings=before.openings)
    record = Record(world, years, len(strategy.tasks), len(funds))
    record.bore, record.known_when_they_bore = old.bore, old.known_when_they_bore
    record.write_ground(world, begin, g)
    record.write_hosts(world, begin)
    record.outcomes["sources_standing"][begin] = sum(source.gone > g for source in world.sources)
    record.write_funds(begin, left)
    for year in range(begin, years):
        record.new_year()
        for season_index in range(4):
            run_season(world, plan, events, year, season_index, set(PROCESSES), record)
        record.write_funds(year + 1, plan.fund_left)
    return record.outcomes
