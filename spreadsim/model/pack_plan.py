"""A strategy, its crews and treatments as the flat arrays that kernels read."""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Site, Strategy, Task, Treatment, Vine
from spreadsim.model.compiled import layout
from spreadsim.schema import SEASONS

PROCESSES = ("work", "mat", "climbing", "birds", "seedlings", "trees", "natives")
_SWITCHES = dict(
    zip(
        PROCESSES,
        (
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
_CONDITIONS = {None: 0, "no known fruiting host in the unit": 1, "no known fruiting host on the site": 2}
MOST_CREWS = MOST_TREATMENTS = 32  # one bit each


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
        for part in ("stems", "mat", "search"):
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
    for row, crew in zip(rows, crews, strict=True):
        for name in ("hours", "pace", "turnout", "people", "volunteers"):
            row[name] = getattr(crew, name)
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
    fit_days: Sequence[float],
    years: int,
    processes: Collection[str] | None = None,
) -> Any:
    """Pack one strategy.

    Parameters
    ----------
    treatments
        All in use, `scout` among them; their order is that of the drawn rows.
    fit_days
        Mean number of days fit to spray by season.
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
    switches = np.zeros(10, "i8")
    for name in chosen:
        switches[_SWITCHES[name]] = 1
    switches[layout.RESERVE] = strategy.reserve_follow_up
    switches[layout.YEARS] = years
    switches[layout.SCOUT] = [treatment.name for treatment in treatments].index("scout")
    units = len(site.unit_names) + 1
    ground = (site.plantable * site.cell_size**2).ravel()
    return layout.Plan(
        tasks=tasks,
        rules=pack_rules(treatments),
        crews=pack_crews(crews, treatments),
        unit_rank=_unit_rank(site, strategy.tasks),
        unit_area=np.bincount(site.unit.ravel(), weights=ground, minlength=units),
        seasonal=_seasonal(vine, fit_days),
        switches=switches,
    )
