"""The order of a season and the run of one replicate (ODD page, sections 3, 5 and 7.11)."""

from .birds import fruit
from .books import SEASONS, Plan
from .draws import Draws
from .events import events as befall_ground
from .funds import order_of_use
from .hosts import climb, start_host
from .mat import KNIGHT, WIDTHS, advance, bring_up_to_date, open_neighbours
from .natives import change_natives, start_natives
from .parameters import draw_treatment, draw_vine, numbers_at_work
from .record import Record
from .seedlings import germinate, root
from .trees import fail
from .work import work
from .world import FRONT, World

PROCESSES = ("events", "work", "mat", "climbing", "birds", "seedlings", "trees", "natives")


def behind(world, cell, mapped_cover):
    """Cell sides by which the front has passed a mapped cell's centre, along the way to the nearest edge."""

    def share(of):
        return min(1.0, float(mapped_cover[of.row][of.column]) / world.p["mat.max_cover"])

    if share(cell) < 1.0:
        return share(cell) - 0.5
    ways = [d + (share(n) - 0.5) * WIDTHS[d] for n, d in open_neighbours(world, cell) if share(n) < 1.0]
    return min([KNIGHT, *ways])


def start_mat(world, mapped_cover):
    """Put the mapped mat on the ground."""
    for cell in world.cells:
        m = float(mapped_cover[cell.row][cell.column])
        if m > 0.0 and not cell.barrier:
            cell.kind = FRONT
            cell.arrival = -behind(world, cell, mapped_cover) * world.h * cell.slowness
            cell.push = cell.arrival
            cell.density = 1.0
            cell.changed = 0.0
            cell.known = True
            cell.origin = cell.number


def start_world(site, vine_values, draws):
    """Everything as it is at time 0."""
    world = World(site, vine_values, draws)
    start_mat(world, site.mat)
    for host in world.hosts:
        start_host(world, host, int(site.hosts.state[host.number]), float(site.hosts.years_climbing[host.number]))
    start_natives(world)
    return world


def season_end(shares, year, season_index):
    """Growth time at the end of a season; that of season -1 is the start of the year, that of autumn its end."""
    if season_index == 3:
        return year + 1.0
    total = 0.0
    for s in range(season_index + 1):
        total = total + shares[s]
    return year + total


def run_season(world, plan, events, year, season_index, processes, record):
    """One season: events, work, mat, climbing, birds, seedlings; trees and natives at the year's end."""
    p = world.p
    shares = p["mat.growth_share_by_season"]
    start, end = season_end(shares, year, season_index - 1), season_end(shares, year, season_index)
    number = 4 * year + season_index
    fruit_seasons = p["seed.fruit_season"]
    if isinstance(fruit_seasons, str):
        fruit_seasons = (fruit_seasons,)
    if "events" in processes:
        befall_ground(world, events, year, season_index, SEASONS[season_index], start)
    germinate(world, number, start)
    if "work" in processes:
        record.write_work(year, season_index, work(world, plan, year, season_index, start))
    if "mat" in processes:
        advance(world, end)
    if "climbing" in processes:
        climb(world, number, start, end)
    if "birds" in processes and SEASONS[season_index] in fruit_seasons:
        fruit(world, year, number, end, len(fruit_seasons), record)
    if "seedlings" in processes:
        root(world, number, end, record)
    if season_index == 3:
        if "trees" in processes:
            fail(world, number)
        bring_up_to_date(world, end)
        if "natives" in processes:
            change_natives(world, end)
        record.write_year(world, year + 1, end)


def run(
    site,
    vine,
    treatments,
    strategy,
    crews,
    weather,
    years,
    seed,
    replicate,
    fixed_parameters=False,
    processes=None,
    funds=(),
    events=(),
):
    """Run one replicate of one strategy, slowly.

    Parameters
    ----------
    site, vine, strategy, crews
        Frozen objects with the attributes of spreadsim's own; anything with the same attributes will do.
    treatments : mapping
        Name to treatment, all that the strategy may use, and "scout" for finds on the way.
    weather : object
        With `table`, numbers of days fit to spray by weather year and season, or None; and `fit_days`, the
        means by season.
    years, seed, replicate : int
    fixed_parameters : bool
        Take every parameter at its default.
    processes : collection of str, optional
        Names of `PROCESSES` to run; None for all.
    funds, events : sequences
        Dated money; what befalls the ground.

    Returns
    -------
    dict
        Outcomes by the names of the dataset's variables, (years + 1,) or (years + 1, 4, tasks), flows NaN
        at year 0; `hours_unspent` (years + 1, 4, reasons) and `fund_left` (years + 1, funds in the order of
        use); `cover` and `share` (years + 1, ny, nx); `host_state` and `host_first_fruit`
        (years + 1, hosts); `parameters`, drawn values by name.
    """
    running = set(PROCESSES if processes is None else processes)
    if not running <= set(PROCESSES):
        raise ValueError(f"no such process: {sorted(running - set(PROCESSES))}")
    draws = Draws(seed, replicate)
    values = draw_vine(vine, draws, fixed_parameters)
    numbers = {}
    for name, treatment in treatments.items():
        numbers[name] = numbers_at_work(treatment, draw_treatment(treatment, draws, fixed_parameters))
    world = start_world(site, values, draws)
    funds = tuple(order_of_use(funds))
    left = [float(fund.amount) for fund in funds]
    plan = Plan(strategy, tuple(crews), dict(treatments), numbers, weather, funds, left)
    record = Record(world, years, len(strategy.tasks), len(funds))
    record.write_year(world, 0, 0.0)
    record.write_funds(0, left)
    for year in range(years):
        record.new_year()
        for season_index in range(4):
            run_season(world, plan, events, year, season_index, running, record)
        record.write_funds(year + 1, plan.fund_left)
    parameters = dict(values)
    for name, treatment in treatments.items():
        for role, value in numbers[name].items():
            parameters[f"{treatment.name}.{role}"] = value
    return {**record.outcomes, "parameters": parameters}
