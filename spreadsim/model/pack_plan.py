"""A strategy, its crews and treatments as the flat arrays that kernels read."""

import zlib
from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Event, Fund, Site, Strategy, Task, Treatment, Vine, Weather
from spreadsim.model.compiled import layout
from spreadsim.schema import SEASONS

PROCESSES = ("events", "work", "mat", "climbing", "birds", "seedlings", "trees", "natives")
_SWITCHES = dict(
    zip(
        PROCESSES,
        (
            layout.RUN_EVENTS,
            layout.RUN_WORK,
            layout.RUN_MAT,
            layout.RUN_CLIMBING,
            layout.RUN_BIRDS,
            layout.RUN_SEEDLINGS,
            layout.RUN_TREES,
            layout.RUN_NATIVES,
        ),
        strict=True,
    )
)
_ORDERS = {
    "fruiting first": layout.ORDER_FRUIT,
    "most fruit per hour": layout.ORDER_FRUIT_PER_HOUR,
    "outlying patches first": layout.ORDER_OUTLYING,
    "largest first": layout.ORDER_LARGEST,
    "by unit": layout.ORDER_UNIT,
    "walking sweep": layout.ORDER_SWEEP,
    "nearest access first": layout.ORDER_ACCESS,
}
_STATES = {"all": 0, "fruiting": 1, "climbing": 2}
_CONDITIONS = {
    None: 0,
    "no known fruiting host in the unit": 1,
    "no known fruiting host on the site": 2,
    "two clean visits": 3,
}
MOST_CREWS = MOST_TREATMENTS = 32  # one bit each
NO_END = 2**62


def season_bits(seasons: Collection[str]) -> int:
    """Seasons as bits, winter first."""
    return sum(1 << i for i, season in enumerate(SEASONS) if season in seasons)


def pack_rules(treatments: Sequence[Treatment]) -> Any:
    """What treatments act on and where they are allowed: TREATMENT_RULES (treatments,)."""
    if len(treatments) > MOST_TREATMENTS:
        raise InputError(f"treatments: found {len(treatments)} in use, allowed at most {MOST_TREATMENTS}")
    rules = np.zeros(len(treatments), layout.TREATMENT_RULES)
    for row, treatment in zip(rules, treatments, strict=True):
        row["seasons"] = season_bits(treatment.seasons)
        for part in ("stems", "mat", "search", "natives", "sources"):
            row[part] = part in treatment.acts_on
        # what kills seedlings only is done on ground
        row["mat"] |= "seedlings" in treatment.acts_on
        for flag in ("needs_fit_weather", "not_on_sensitive", "disturbs"):
            row[flag] = getattr(treatment, flag)
    return rules


def pack_crews(crews: Sequence[Crew], treatments: Sequence[Treatment]) -> Any:
    """Crews with their hours and what they may do: CREW (crews,)."""
    if len(crews) > MOST_CREWS:
        raise InputError(f"crews: found {len(crews)}, allowed at most {MOST_CREWS}")
    rows = np.zeros(len(crews), layout.CREW)
    names = [crew.name for crew in crews]
    for row, crew in zip(rows, crews, strict=True):
        for name in ("hours", "turnout", "turnout_spread", "people", "volunteers"):
            row[name] = getattr(crew, name)
        # what goes into setting up and putting away is not worked
        row["pace"] = crew.pace * (1.0 - crew.setup_hours / crew.session_hours if crew.session_hours else 1.0)
        row["name"] = zlib.crc32(crew.name.encode())
        row["leader"] = names.index(crew.leader) if crew.leader else -1
        row["per_leader"] = crew.people_per_leader
        row["walking"] = crew.walking_minutes / 60.0
        row["price"] = crew.price if crew.paid else 0.0
        row["minimum"] = crew.minimum_charge if crew.paid else 0.0
        first, last = crew.years or (1, None)
        row["first_season"] = max(crew.lead_seasons, 4 * (first - 1))
        row["last_season"] = NO_END if last is None else 4 * last - 1
        row["may"] = sum(1 << i for i, treatment in enumerate(treatments) if crew.may_do(treatment))
    return rows


def _pack_task(row: Any, task: Task, treatments: Sequence[Treatment], crews: Sequence[Crew], years: int) -> None:
    names = [treatment.name for treatment in treatments]
    own = treatments[names.index(task.treatment)]
    row["treatment"] = names.index(task.treatment)
    row["follow"] = row["instead"] = -1
    row["share"] = task.share
    row["cap"] = np.inf if task.cap is None else task.cap
    row["new_ground"] = np.inf if task.new_ground is None else task.new_ground
    row["order"] = _ORDERS[task.order_for(own)]
    row["states"] = _STATES[task.targets]
    row["not_until"] = _CONDITIONS[task.not_until]
    row["seasons"] = season_bits(task.seasons_for(own))
    row["haul"] = task.haul_out
    first, last = task.years or (1, None)
    row["first_year"] = first - 1
    row["last_year"] = years if last is None else last - 1
    row["first_season"] = task.permit_seasons
    if task.follow_up:
        row["every"] = task.follow_up.every
        row["clean"] = task.follow_up.clean
        if task.follow_up.treatment:
            row["follow"] = names.index(task.follow_up.treatment)
    if task.instead:
        row["instead"] = names.index(task.instead)
    row["crews"] = sum(1 << i for i, crew in enumerate(crews) if not task.crews or crew.name in task.crews)


def _unit_rank(site: Site, tasks: Sequence[Task]) -> Any:
    """Place of each unit (0: ground in none) in the order of each task; -1 where the task does not work."""
    rank = np.full((len(tasks), len(site.unit_names) + 1), -1, "i8")
    for row, task in zip(rank, tasks, strict=True):
        if task.units:
            for place, name in enumerate(task.units):
                row[site.unit_names.index(name) + 1] = place
        else:
            row[1:] = np.arange(len(site.unit_names))
            row[0] = len(site.unit_names)
    return rank


def growth_times(vine: Vine) -> Any:
    """Growth time at the start of each season and at the year's end, yr: 0 to exactly 1."""
    value = vine["mat.growth_share_by_season"].value
    shares = np.array(value, "f8")
    times = np.concatenate([[0.0], np.cumsum(shares)])
    times[-1] = 1.0
    return times


def pack_funds(funds: Sequence[Fund], crews: Sequence[Crew]) -> Any:
    """Dated money, that which ends first first: FUND (funds,)."""
    rows = np.zeros(len(funds), layout.FUND)
    for row, fund in zip(rows, in_order_of_use(funds), strict=True):
        row["amount"] = fund.amount
        first, last = fund.years or (1, None)
        row["first_year"] = first - 1
        row["last_year"] = NO_END if last is None else last - 1
        row["crews"] = sum(1 << i for i, crew in enumerate(crews) if not fund.crews or crew.name in fund.crews)
    return rows


def in_order_of_use(funds: Sequence[Fund]) -> list[Fund]:
    """Funds as they are drawn on: the one that ends first first."""
    return sorted(funds, key=lambda fund: NO_END if fund.years is None or fund.years[1] is None else fund.years[1])


def pack_events(events: Sequence[Event]) -> Any:
    """What befalls the ground: EVENT_ROW (events,)."""
    rows = np.zeros(len(events), layout.EVENT_ROW)
    for row, event in zip(rows, events, strict=True):
        row["year"] = -1 if event.year is None else event.year - 1
        row["quarter"] = SEASONS.index(event.season)
        for name in ("radius", "trees_fall", "per_year"):
            row[name] = getattr(event, name)
        if event.x is not None and event.y is not None:
            row["x"], row["y"] = event.x, event.y
    return rows


def _seasonal(vine: Vine, fit_days: Sequence[float]) -> Any:
    fruit = vine["seed.fruit_season"].value
    rows = np.zeros((3, 5))
    rows[layout.FIT_DAYS, :4] = fit_days
    rows[layout.FRUIT, :4] = [season in fruit for season in SEASONS]  # type: ignore[operator]
    rows[layout.FRUIT, 4] = rows[layout.FRUIT, :4].sum()
    rows[layout.GROWTH] = growth_times(vine)
    return rows


def pack_plan(
    site: Site,
    vine: Vine,
    strategy: Strategy,
    crews: Sequence[Crew],
    treatments: Sequence[Treatment],
    weather: Weather,
    years: int,
    funds: Sequence[Fund] = (),
    events: Sequence[Event] = (),
    processes: Collection[str] | None = None,
) -> Any:
    """Pack one strategy.

    Parameters
    ----------
    treatments
        All in use, `scout` among them; their order is that of the drawn rows.
    weather
        Days fit to spray.
    funds, events
        Dated money; what befalls the ground.
    processes
        Names of the processes to run, of `PROCESSES`; None: all.

    Returns
    -------
    layout.Plan

    Raises
    ------
    InputError
        For an unknown process, or more crews or treatments than there are bits.
    """
    chosen = PROCESSES if processes is None else tuple(processes)
    if unknown := [name for name in chosen if name not in PROCESSES]:
        raise InputError(f"processes: found {', '.join(map(repr, unknown))}, allowed {', '.join(PROCESSES)}")
    tasks = np.zeros(len(strategy.tasks), layout.TASK)
    for row, task in zip(tasks, strategy.tasks, strict=True):
        _pack_task(row, task, treatments, crews, years)
    switches = np.zeros(layout.N_SWITCHES, "i8")
    for name in chosen:
        switches[_SWITCHES[name]] = 1
    switches[layout.RESERVE] = strategy.reserve_follow_up
    switches[layout.YEARS] = switches[layout.END_YEAR] = years
    switches[layout.SCOUT] = [treatment.name for treatment in treatments].index("scout")
    units = len(site.unit_names) + 1
    ground = (site.plantable * site.cell_size**2).ravel()
    return layout.Plan(
        tasks=tasks,
        rules=pack_rules(treatments),
        crews=pack_crews(crews, treatments),
        unit_rank=_unit_rank(site, strategy.tasks),
        unit_area=np.bincount(site.unit.ravel(), weights=ground, minlength=units),
        funds=pack_funds(funds, crews),
        events=pack_events(events),
        weather=np.zeros((0, 4)) if weather.table is None else np.ascontiguousarray(weather.table, "f8"),
        seasonal=_seasonal(vine, weather.fit_days),
        switches=switches,
    )
