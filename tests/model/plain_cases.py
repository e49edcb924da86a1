"""Random small cases in which everything happens within a few years, for the comparison with tests/plain.

hypothesis draws a seed and a size; all else comes from a generator of that seed, so that no two cases are alike.
Ground, vines and crews are invented.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from spreadsim.inputs import (
    Crew,
    Event,
    FollowUp,
    Fund,
    Parameter,
    Site,
    Strategy,
    Task,
    Treatment,
    Vine,
    Weather,
    load_treatment,
    load_vine,
    treatment_names,
)
from spreadsim.inputs.hosts import GIRTHS, KINDS, STATES
from spreadsim.inputs.task import CLEAN, CONDITIONS, ORDERS, kind_of_work
from spreadsim.inputs.treatment import ROLES
from spreadsim.schema import SEASONS

VINES = ("wintercreeper", "english-ivy")

# From each row a raised vine takes one value or range, so that much happens in few years.
RAISED: dict[str, Sequence[Any]] = {
    "mat.front_speed": (0.3, 1.0, (0.5, 1.0, 2.5)),
    "mat.cover_doubling_time": (0.2, 1.0, (0.3, 0.5, 2.0)),
    "mat.max_cover": (0.8, 1.0),
    "mat.shade_factor": (0.1, 0.5, 1.0),
    "mat.rooted_pieces": (0.3, 1.0, (0.1, 1.0, 10.0)),
    "mat.density_on_arrival": (0.05, 0.6),
    "mat.founder_area": (0.05, 1.5),
    "climb.climb_rate": (0.5, 1.5, (0.5, 2.0, 8.0)),
    "climb.vertical_speed": (1.0, 8.0),
    "climb.years_to_first_fruit": (0.3, 1.0, (0.5, 1.5, 3.0)),
    "climb.years_to_refruit": (0.05, 0.5, (0.1, 1.0, 2.0)),
    "climb.light_to_fruit": (0.1, 0.3, 0.6),
    "climb.share_of_mature_climbers_fruiting": (0.6, 0.9, 1.0),
    "climb.max_height": (1.0, 4.0, 15.0),
    "climb.wait_shape": (1.0, 2.0, 3.0, 4.0, 5.0),
    "climb.resprout_time": (0.0, 0.2, 0.9, (0.1, 0.3, 0.5)),
    "seed.fruits_per_host": (700.0, (300.0, 1000.0, 3000.0)),
    "seed.crop_spread": (0.0, 0.5, 1.5),
    "seed.seed_bank_life": (0.0, 0.3, (0.0, 0.5, 1.5)),
    "seed.years_seed_to_patch": (0.0, 0.2, 1.0, 2.3),
    "seed.patches_founded": (1.5, 3.0, (0.5, 2.0, 4.0)),
    "seed.first_winter_survival": (0.6, (0.3, 0.5, 0.9)),
    "seed.seedling_to_rooted_patch": (0.2, (0.05, 0.2, 0.5)),
    "birds.median_distance": (4.0, 15.0, (3.0, 10.0, 40.0)),
    "birds.share_far": (1e-6, 0.3, (0.0, 0.05, 0.4)),
    "birds.kernel_p": (0.7, 1.42, 3.0),
    "birds.perch_bias_open": (0.5, 5.0, 30.0),
    "birds.perch_bias_forest": (0.0, 2.0),
    "impact.tree_failure_base": (0.02, 0.1),
    "impact.tree_failure_factor": (1.0, 3.0, 8.0),
    "impact.native_recovery_time": (0.5, 4.0),
    "disturbance.release_factor": (0.5, 1.0, 2.5),
    "disturbance.release_years": (0.3, 2.0, 6.0),
}

# Treatments with rules of their own, which have an effect in few cases.
OFTEN = ("cut", "clear-ring", "pull", "foliar-spray", "spot-spray", "tarp", "hoe", "plant")

# The same for numbers of treatments.
CHANGED: dict[str, Sequence[Any]] = {
    "stem_kill": (0.5, 1.0),
    "stem_kill_volunteers": (0.2, 0.6),
    "base_kill": (0.3, 0.7, (0.0, 0.4, 1.0)),
    "mat_kill": (0.3, 0.9, 1.0, (0.2, 0.9, 1.0)),
    "kill_variation": (0.0, 0.05, 0.5),
    "reroots": (0.0, 0.9),
    "ring_radius": (0.3, 3.0),
    "crop_prevented_ripe": (0.0, 0.9, 1.0),
    "native_loss_dormant": (0.4,),
    "native_loss_growing": (0.0, 0.8),
    "hours_per_area": (0.02, 0.02, 0.1),
    "hours_floor": (0.0, 0.1, 1.0),
    "fit_hours_per_day": (0.1, 0.3, 1.0),
    "cryptic_share": (0.0, 0.5),
    "leaf_off_boost": (1.0, 5.0),
    "clumping_factor": (0.05, 1.0),
    "incidental_finds": (0.0, 0.3, 0.9),
    "misidentified": (0.0, 0.3),
    "cover_years": (0.1, 0.6, 1.3, (0.3, 1.0, 2.5)),
    "hours_per_visit": (0.05, 0.4),
    "largest_patch": (0.0, 20.0, 100.0),
    "plant_survival": (0.5, 1.0),
    "consent": (0.5, 1.0),
    "consent_delay": (0.0, 0.5, 1.5),
    "material_per_area": (0.5, 3.0),
}


@dataclass(frozen=True)
class Case:
    """One replicate of one strategy on one site."""

    site: Site
    vine: Vine
    treatments: tuple[Treatment, ...]
    crews: tuple[Crew, ...]
    strategy: Strategy
    weather: Weather
    funds: tuple[Fund, ...]
    events: tuple[Event, ...]
    years: int
    seed: int
    replicate: int
    fixed_parameters: bool

    def __repr__(self) -> str:
        site = self.site
        return (
            f"Case({self.vine.name}, {site.ny} x {site.nx} cells of {site.cell_size} m, {len(site.hosts)} hosts, "
            f"{self.years} years, seed {self.seed}, replicate {self.replicate},\n"
            f"  {self.weather},\n  {self.funds},\n  {self.events},\n  {self.crews},\n  {self.strategy})"
        )

    def treatments_by_name(self) -> dict[str, Treatment]:
        """All that a task may use, with what the case changed about them."""
        return {name: load_treatment(name) for name in treatment_names()} | {t.name: t for t in self.treatments}


def of_value(choice: Any) -> dict[str, float]:
    """A value that is not drawn, or a range (low, value, high)."""
    low, value, high = choice if isinstance(choice, tuple) else (choice,) * 3
    return {"low": low, "value": value, "high": high}


def changed(thing: Any, table: dict[str, Sequence[Any]], rng: np.random.Generator, share: float) -> Any:
    """A vine or treatment with a share of the table's rows taken up."""
    names = [name for name in table if name in thing.parameters and rng.random() < share]
    values = {name: of_value(table[name][rng.integers(len(table[name]))]) for name in names}
    return thing.replace(values, check_ranges=False)


def own_treatment(name: str, acts_on: set[str], numbers: dict[str, float], **flags: Any) -> Treatment:
    """An invented treatment, with what none of the shipped ones has."""
    parameters = {role: Parameter(role, value, unit=ROLES[role], source="invented") for role, value in numbers.items()}
    return Treatment(name, name, frozenset(acts_on), parameters=parameters, **flags)


OWN = (
    own_treatment(
        "hoe",
        {"mat"},
        {
            "mat_kill": 0.4,
            "seedling_kill": 0.9,
            "kill_variation": 0.3,
            "hours_per_area": 0.02,
            "hours_floor": 0.4,
            "native_loss_growing": 0.2,
        },
        seasons=("spring", "summer", "autumn"),
        disturbs=True,
    ),
    own_treatment(
        "grub",
        {"stems", "mat", "seedlings"},
        {
            "stem_kill": 0.8,
            "base_kill": 0.5,
            "ring_radius": 1.0,
            "mat_kill": 0.8,
            "seedling_kill": 0.3,
            "reroots": 0.6,
            "hauling_share": 0.5,
            "hours_per_host": 0.4,
            "hours_per_area": 0.1,
            "hours_floor": 0.1,
            "material_per_area": 0.5,
            "material_per_host": 1.0,
            "hours_per_visit": 0.1,
        },
        disturbs=True,
    ),
    own_treatment(
        "blanket",
        {"mat", "seedlings"},
        {"mat_kill": 0.4, "cover_years": 0.7, "hours_per_area": 0.01, "hours_floor": 1.0, "native_loss_growing": 0.3},
        disturbs=True,
    ),
    own_treatment(
        "burn",
        {"mat", "seedlings"},
        {"mat_kill": 1.0, "seedling_kill": 0.4, "hours_per_area": 0.01, "hours_floor": 0.5},
    ),
    own_treatment("weed", {"seedlings"}, {"seedling_kill": 0.9, "hours_per_area": 0.01}),
    own_treatment("walk", {"search"}, {}, seasons=("winter", "spring")),
)


def layer(rng: np.random.Generator, shape: tuple[int, int], kind: str, low: float, high: float) -> Any:
    """Numbers from low to high: all low, all the same, or mixed."""
    if kind == "none":
        return np.full(shape, low)
    return np.full(shape, rng.uniform(low, high)) if kind == "even" else rng.uniform(low, high, shape)


def mat_of(rng: np.random.Generator, shape: tuple[int, int], patches: int) -> Any:
    """Patches of mat, full in the middle."""
    mat = np.zeros(shape)
    rows, columns = np.indices(shape)
    for _ in range(patches):
        away = np.hypot(rows - rng.uniform(0, shape[0]), columns - rng.uniform(0, shape[1]))
        inside = away < rng.uniform(0.7, max(shape) / 4)
        mat[inside] = np.where(rng.random(inside.sum()) < 0.6, 1.0, rng.uniform(0, 1, inside.sum()))
    return mat


def hosts_of(rng: np.random.Generator, mat: Any, h: float, number: int) -> dict[str, Any]:
    """Hosts, most of them in mat, some at the site's edges."""
    ny, nx = mat.shape
    x, y = rng.uniform(0, nx * h, number), rng.uniform(0, ny * h, number)
    cells = np.argwhere(mat > 0)
    for j in range(number):
        if len(cells) and rng.random() < 0.7:
            row, column = cells[rng.integers(len(cells))]
            x[j], y[j] = (column + rng.random()) * h, (ny - 1 - row + rng.random()) * h
        elif rng.random() < 0.1:
            x[j] = rng.choice([0.0, nx * h])
    state = rng.choice(STATES, number)
    years = np.where(rng.random(number) < 0.5, rng.uniform(0, 3, number), np.nan)
    return {
        "x": x,
        "y": y,
        "state": state,
        "kind": rng.choice(KINDS, number, p=[0.6, *[0.4 / (len(KINDS) - 1)] * (len(KINDS) - 1)]),
        "girth": rng.choice(GIRTHS, number),
        "top_light": rng.uniform(0.1, 1, number),
        "height": rng.choice([1.0, 3.0, 12.0, 30.0], number) * rng.uniform(0.5, 1.0, number),
        "years_climbing": np.where(state == "bare", np.nan, years),
        "known": rng.random(number) < 0.7,
    }


class Choices:
    """Random choices from one generator: as rich as a case can be, and the same for the same seed."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def of(self, *options: Any) -> Any:
        """One of the options, each as likely."""
        return options[self.rng.integers(len(options))]

    def some(self, names: Sequence[str], least: int = 0, most: int | None = None) -> list[str]:
        """A few of the names, in any order."""
        number = self.rng.integers(least, min(len(names), len(names) if most is None else most) + 1)
        return [names[i] for i in self.rng.permutation(len(names))[:number]]


def site_of(choose: Choices, shape: tuple[int, int], number: int) -> Site:
    """A small site with whatever a site can have, and a number of hosts."""
    rng = choose.rng
    h = choose.of(1.0, 2.0, 2.5, 3.0, 5.0)
    kinds = ("none", "even", "mixed", "mixed")
    plantable = np.where(rng.random(shape) < 0.3, rng.uniform(0.1, 1, shape), 1.0)
    barriers = choose.of("none", "scattered", "walls")
    if barriers != "none":
        plantable[rng.random(shape) < 0.15] = 0.0
    if barriers == "walls":
        plantable[rng.integers(shape[0]), : shape[1] // 2] = 0.0
        plantable[:, rng.integers(shape[1])] = 0.0
    mat = mat_of(rng, shape, rng.integers(1, 5)) * (plantable > 0)
    sources = choose.of(0, 1, 2, 4)
    reach = max(shape) * h
    return Site.from_arrays(
        h,
        mat=mat,
        canopy=layer(rng, shape, choose.of(*kinds), 0.0, 1.0),
        plantable=plantable,
        hosts=hosts_of(rng, mat, h, number) if number else None,
        units=rng.integers(0, rng.integers(1, 5), shape),
        access=layer(rng, shape, choose.of(*kinds), 1.0, 3.0),
        wetness=layer(rng, shape, choose.of(*kinds), 0.0, 1.0),
        sensitive=rng.random(shape) < choose.of(0.0, 0.3),
        sources={
            "x": rng.uniform(-0.5 * reach, 1.5 * reach, sources),
            "y": rng.uniform(-0.5 * reach, 1.5 * reach, sources),
            "hosts": rng.choice([0.5, 5.0, 60.0], sources),
        },
        background_seed=choose.of(0.0, 1e4, 1e5),
        boundary_mat=beyond_of(choose, plantable, h),
    )


def beyond_of(choose: Choices, plantable: Any, h: float) -> Any:
    """Mat across no side, whole sides or stretches of them; none where a barrier stands at the edge."""
    beyond = np.zeros(plantable.shape, dtype=bool)
    for row, column in choose.some(((0, ...), (-1, ...), (..., 0), (..., -1)), 0, 2) if choose.of(True, False) else ():
        side = plantable[row, column] > 0
        beyond[row, column] = side & (choose.rng.random(len(side)) < choose.of(0.4, 1.0))
    return beyond


def crews_of(choose: Choices, names: Sequence[str]) -> tuple[Crew, ...]:
    """Staff who may do all, and perhaps volunteers and a crew with a list, in any order."""

    def four() -> list[float]:
        return [choose.of(0.0, 0.5, 1.0, 2.0, 5.0, 20.0, 200.0) for _ in SEASONS]

    def more() -> dict[str, Any]:
        session = choose.of(None, None, 4.0)
        return {
            "turnout_spread": choose.of(0.0, 0.2, 1.0),
            "session_hours": session,
            "setup_hours": 0.0 if session is None else choose.of(0.0, 0.5, 1.5),
            "walking_minutes": choose.of(0.0, 0.0, 1.0, 5.0),
            "lead_seasons": choose.of(0, 0, 0, 1, 5),
            "years": choose.of(None, None, None, (1, 3), (2, 4)),
            "price": choose.of(0.0, 25.0, 25.0),
            "paid": choose.of(True, True, False),
            "minimum_charge": choose.of(0.0, 0.0, 30.0, 150.0),
        }

    made = [Crew("staff", four(), turnout=choose.of(1.0, 0.9), people=choose.of(1, 2, 3), **more())]
    if choose.of(True, False):
        may = choose.of(["all"], ["cut", "cut-and-treat", "pull", "spot-spray"])
        led = {"leader": choose.of(None, "staff", "staff"), "people_per_leader": choose.of(9.0, 2.0, 0.8)}
        made.append(Crew("friends", four(), may, volunteers=True, pace=0.7, turnout=0.8, **led, **more()))
    if choose.of(True, False):
        made.append(Crew("hired", four(), choose.some(names, 1, 5), pace=1.3, people=2.5, **more()))
    return tuple(made[i] for i in choose.rng.permutation(len(made)))


def funds_of(choose: Choices, crews: Sequence[Crew], years: int) -> tuple[Fund, ...]:
    """No funds, or a few for some crews and years."""
    if choose.of(True, False):
        return ()
    made = []
    for number in range(int(choose.rng.integers(1, 4))):
        first = int(choose.rng.integers(1, years + 1))
        span = choose.of(None, (1, None), (first, None), (first, first + 1), (1, first))
        who = choose.some([crew.name for crew in crews], 1, 1) if choose.of(True, False) else []
        made.append(Fund(f"fund {number}", choose.of(0.0, 30.0, 200.0, 500.0, 2000.0), years=span, crews=who))
    return tuple(made)


def events_of(choose: Choices, site: Site, years: int) -> tuple[Event, ...]:
    """No events, or a few planned and random ones."""
    made = []
    for _ in range(choose.of(0, 0, 1, 2, 3)):
        common = {
            "season": choose.of(*SEASONS),
            "radius": choose.of(1.0, 4.0, 10.0),
            "trees_fall": choose.of(0.0, 0.3, 1.0),
        }
        if choose.of(True, False):
            x, y = (side * site.cell_size * choose.rng.random() for side in (site.nx, site.ny))
            common |= {"year": int(choose.rng.integers(1, years + 1)), "x": float(x), "y": float(y)}
        else:
            common |= {"per_year": choose.of(0.3, 1.0, 3.0)}
        made.append(Event(choose.of("storm", "gap", "shrub removal"), **common))
    return tuple(made)


def weather_of(choose: Choices) -> Weather:
    """Days fit to spray by season, or by year and season out of monthly means or a record of days."""
    way = choose.of("mean", "mean", "monthly", "daily")
    if way == "daily":
        return Weather(daily=record_of(choose))
    if way == "mean":
        return Weather(choose.of((4.0, 6.0, 8.0, 5.0), (1.0, 2.0, 1.0, 1.0), (0.4, 0.4, 0.4, 0.4)))
    monthly = {
        "temperature": tuple(10.0 + 12.0 * float(np.sin((m - 3) / 12 * 2 * np.pi)) for m in range(12)),
        "temperature_sd": (4.0,) * 12,
        "rain_days": (choose.of(16.0, 24.0),) * 12,
        "wind_days": (15.0,) * 12,
        "snow_days": (3.0, 3.0, *(0.0,) * 10),
    }
    return Weather(monthly=monthly)


def record_of(choose: Choices) -> dict[str, Any]:
    """Four invented years of days, most of them wet."""
    days = np.arange(4 * 365 + 1)
    warm = 12.0 - 12.0 * np.cos(2 * np.pi * days / 365.25)
    wet = choose.rng.random(days.size) < choose.of(0.7, 0.85)
    return {
        "first": "2001-01-01",
        "temperature": warm + choose.rng.normal(0.0, 4.0, days.size),
        "rain": np.where(wet, 5.0, 0.0),
        "wind": choose.rng.uniform(1.0, 6.0, days.size),
        "snow": np.where(warm < 2.0, 1.0, 0.0),
    }


def task_of(choose: Choices, site: Site, crews: Sequence[Crew], years: int, known: dict[str, Treatment]) -> Task:
    """A task that an experiment accepts, with any rules."""
    named = choose.some([crew.name for crew in crews]) if choose.of(True, False, False, False) else []
    workers = [crew for crew in crews if not named or crew.name in named]
    may = [name for name in known if any(crew.may_do(known[name]) for crew in workers)]
    wanted = choose.of("stems", "stems", "mat", "mat", "mat", "search", "natives", "sources")
    fitting = [name for name in may if kind_of_work(known[name]) == wanted] or may
    usual = [name for name in fitting if name in OFTEN]
    treatment = known[choose.of(*fitting, *usual, *usual)]
    kind = kind_of_work(treatment)
    others = [None, *(name for name in may if name != treatment.name and kind_of_work(known[name]) in ("stems", "mat"))]
    follow_up = None
    if choose.of(True, True, False):
        following = choose.of(None, None, choose.of(*others))
        follow_up = FollowUp(choose.of(1, 1, 2, 3, 5), choose.of(1, 2, 3), following)
    first = int(choose.rng.integers(1, years + 1))
    return Task(
        treatment.name,
        targets=choose.of("all", "fruiting", "climbing") if kind == "stems" else "all",
        order=choose.of(None, *ORDERS[kind]),
        units=choose.some(site.unit_names) if choose.of(True, False) else [],
        seasons=choose.some(treatment.seasons) if choose.of(True, False, False) else [],
        years=choose.of(None, None, (first, None), (1, first)),
        share=choose.of(1.0, 1.0, 0.6, 0.2),
        cap=choose.of(None, None, 0.3, 3.0),
        new_ground=choose.of(None, None, 15.0, 60.0) if kind in ("mat", "natives") else None,
        follow_up=follow_up,
        not_until=choose.of(None, None, *((CLEAN,) if kind == "natives" else CONDITIONS[:2])),
        instead=choose.of(None, choose.of(*others)),
        crews=named,
        haul_out=choose.of(True, False),
        permit_seasons=choose.of(0, 0, 0, 2, 6),
    )


def case_of(seed: int, ny: int, nx: int, hosts: int, years: int, tasks: int) -> Case:
    """The case of a seed, in a given size."""
    choose = Choices(seed)
    site = site_of(choose, (ny, nx), hosts)
    raised = choose.of(0.7, 0.9, 0.9, 0.0)
    vine = changed(load_vine(choose.of(*VINES)), RAISED, choose.rng, raised)
    own = [changed(load_treatment(name), CHANGED, choose.rng, 0.7 * raised) for name in treatment_names()]
    known = {treatment.name: treatment for treatment in (*own, *OWN)}
    crews = crews_of(choose, tuple(known))
    made = [task_of(choose, site, crews, years, known) for _ in range(tasks)]
    return Case(
        site=site,
        vine=vine,
        treatments=tuple(known.values()),
        crews=crews,
        strategy=Strategy("work", tasks=made, reserve_follow_up=choose.of(True, False)),
        weather=weather_of(choose),
        funds=funds_of(choose, crews, years),
        events=events_of(choose, site, years),
        years=years,
        seed=int(choose.rng.integers(2**32)),
        replicate=int(choose.rng.integers(2**32)),
        fixed_parameters=choose.of(False, False, True),
    )


def cases() -> st.SearchStrategy[Case]:
    """Random cases; hypothesis can shrink their size."""
    return st.builds(
        case_of,
        seed=st.integers(0, 2**32 - 1),
        ny=st.integers(8, 20),
        nx=st.integers(8, 20),
        hosts=st.integers(0, 40),
        years=st.integers(4, 8),
        tasks=st.integers(1, 6),
    )


def few(examples: int) -> settings:
    """Settings for so many examples, the same ones every time."""
    return settings(
        max_examples=examples, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )


def numbered_case(number: int) -> Case:
    """One of a fixed series of cases of all sizes: hypothesis tries many that are nearly alike."""
    rng = np.random.default_rng([number, 1])
    sides = rng.integers(8, 21, 2)
    return case_of(number, *sides, hosts=rng.integers(10, 41), years=int(rng.integers(4, 9)), tasks=rng.integers(2, 7))
