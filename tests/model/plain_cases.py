"""Random small cases in which everything happens within a few years, for the comparison with tests/plain.

hypothesis draws the structure (what a case has at all); numbers come from a generator whose seed it draws. Ground,
vines and crews are invented.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from spreadsim.inputs import (
    Crew,
    FollowUp,
    Parameter,
    Site,
    Strategy,
    Task,
    Treatment,
    Vine,
    load_treatment,
    load_vine,
    treatment_names,
)
from spreadsim.inputs.hosts import GIRTHS, KINDS, STATES
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work
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
    "climb.max_height": (4.0, 15.0),
    "climb.wait_shape": (1.0, 2.0, 3.0, 4.0, 5.0),
    "climb.resprout_time": (0.0, 0.2, 0.9, (0.1, 0.3, 0.5)),
    "seed.fruits_per_host": (700.0, (300.0, 1000.0, 3000.0)),
    "seed.crop_spread": (0.0, 0.5, 1.5),
    "seed.seed_bank_life": (0.0, 0.3, (0.0, 0.5, 1.5)),
    "seed.years_seed_to_patch": (0.0, 0.2, 1.0, 2.3),
    "seed.patches_founded": (0.5, 3.0, (0.5, 2.0, 4.0)),
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
    "hours_floor": (0.0, 0.1, 1.0),
    "fit_hours_per_day": (0.5, 4.5),
    "cryptic_share": (0.0, 0.5),
    "leaf_off_boost": (1.0, 5.0),
    "clumping_factor": (0.05, 1.0),
    "incidental_finds": (0.0, 0.3, 0.9),
}


@dataclass(frozen=True)
class Case:
    """One replicate of one strategy on one site."""

    site: Site
    vine: Vine
    treatments: tuple[Treatment, ...]
    crews: tuple[Crew, ...]
    strategy: Strategy
    fit_days: tuple[float, ...]
    years: int
    seed: int
    replicate: int
    fixed_parameters: bool

    def __repr__(self) -> str:
        site = self.site
        return (
            f"Case({self.vine.name}, {site.ny} x {site.nx} cells of {site.cell_size} m, {len(site.hosts)} hosts, "
            f"{self.years} years, seed {self.seed}, replicate {self.replicate}, fit days {self.fit_days},\n"
            f"  {self.crews},\n  {self.strategy})"
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
    parameters = {
        role: Parameter(role, value, unit=ROLES[role], source="invented") for role, value in numbers.items()
    }
    return Treatment(name, name, frozenset(acts_on), parameters=parameters, **flags)


OWN = (
    own_treatment(
        "mow",
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
            "mat_kill": 0.7,
            "seedling_kill": 0.3,
            "reroots": 0.6,
            "hauling_share": 0.5,
            "hours_per_host": 0.4,
            "hours_per_area": 0.1,
            "hours_floor": 0.1,
        },
        disturbs=True,
    ),
    own_treatment("burn", {"seedlings"}, {"seedling_kill": 0.9, "hours_per_area": 0.01, "hours_floor": 0.5}),
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
        "height": rng.uniform(0.3, 12, number),
        "years_climbing": np.where(state == "bare", np.nan, years),
        "known": rng.random(number) < 0.7,
    }


@st.composite
def sites(draw: Callable[[Any], Any], rng: np.random.Generator) -> Site:
    """A small site with whatever a site can have."""
    shape = (draw(st.integers(8, 20)), draw(st.integers(8, 20)))
    h = draw(st.sampled_from((1.0, 2.0, 2.5, 3.0, 5.0)))
    kind = st.sampled_from(("none", "even", "mixed", "mixed"))
    plantable = np.where(rng.random(shape) < 0.3, rng.uniform(0.1, 1, shape), 1.0)
    barriers = draw(st.sampled_from(("none", "scattered", "walls")))
    if barriers != "none":
        plantable[rng.random(shape) < 0.15] = 0.0
    if barriers == "walls":
        plantable[rng.integers(shape[0]), : shape[1] // 2] = 0.0
        plantable[:, rng.integers(shape[1])] = 0.0
    mat = mat_of(rng, shape, draw(st.integers(1, 4))) * (plantable > 0)
    number = draw(st.integers(0, 40))
    sources = draw(st.sampled_from((0, 0, 1, 2)))
    reach = max(shape) * h
    return Site.from_arrays(
        h,
        mat=mat,
        canopy=layer(rng, shape, draw(kind), 0.0, 1.0),
        plantable=plantable,
        hosts=hosts_of(rng, mat, h, number) if number else None,
        units=rng.integers(0, draw(st.integers(0, 3)) + 1, shape),
        access=layer(rng, shape, draw(kind), 1.0, 3.0),
        wetness=layer(rng, shape, draw(kind), 0.0, 1.0),
        sensitive=rng.random(shape) < draw(st.sampled_from((0.0, 0.3))),
        sources={
            "x": rng.uniform(-0.5 * reach, 1.5 * reach, sources),
            "y": rng.uniform(-0.5 * reach, 1.5 * reach, sources),
            "hosts": rng.choice([0.5, 5.0, 300.0], sources),
        },
        background_seed=draw(st.sampled_from((0.0, 1e4, 3e6))),
    )


@st.composite
def crews(draw: Callable[[Any], Any], names: Sequence[str]) -> tuple[Crew, ...]:
    """Staff who may do all, and perhaps volunteers and a crew with a list."""
    hours = st.sampled_from((0.0, 0.5, 2.0, 8.0, 30.0, 200.0))
    four = st.tuples(hours, hours, hours, hours)
    made = [Crew("staff", draw(four), turnout=draw(st.sampled_from((1.0, 0.9))), people=draw(st.integers(1, 3)))]
    if draw(st.booleans()):
        may = draw(st.sampled_from((["all"], ["cut", "cut-and-treat", "pull", "spot-spray", "grub"])))
        made.append(Crew("friends", draw(four), may, volunteers=True, pace=0.7, turnout=0.8))
    if draw(st.booleans()):
        may = draw(st.lists(st.sampled_from(names), min_size=1, max_size=5, unique=True))
        made.append(Crew("hired", draw(four), may, pace=1.3, people=2.5))
    return tuple(draw(st.permutations(made)))


def some(names: Sequence[str]) -> Any:
    """Any few of the names, in any order."""
    return st.lists(st.sampled_from(list(names)), max_size=len(names), unique=True)


@st.composite
def tasks(draw: Callable[[Any], Any], site: Site, crew: Sequence[Crew], years: int, known: dict[str, Treatment]) -> Task:
    """A task that an experiment accepts, with any rules."""
    named = draw(some([c.name for c in crew])) if draw(st.integers(0, 3)) == 0 else []
    workers = [c for c in crew if not named or c.name in named]
    may = [name for name in known if any(c.may_do(known[name]) for c in workers)]
    treatment = known[draw(st.sampled_from(may))]
    kind = kind_of_work(treatment)
    other = st.sampled_from([None, *(name for name in may if name != treatment.name)])
    follow_up = None
    if draw(st.booleans()):
        every = draw(st.sampled_from((1, 1, 2, 3, 5)))
        follow_up = FollowUp(every, draw(st.integers(1, 3)), draw(other) if draw(st.booleans()) else None)
    first = draw(st.integers(1, years))
    span = draw(st.sampled_from((None, None, (first, None), (1, first))))
    return Task(
        treatment.name,
        targets=draw(st.sampled_from(("all", "fruiting", "climbing"))) if kind == "stems" else "all",
        order=draw(st.sampled_from([None, *ORDERS[kind]])),
        units=draw(some(site.unit_names)) if site.unit_names and draw(st.booleans()) else [],
        seasons=draw(some(treatment.seasons)) if draw(st.integers(0, 2)) == 0 else [],
        years=span,
        share=draw(st.sampled_from((1.0, 1.0, 0.6, 0.2))),
        cap=draw(st.sampled_from((None, None, 0.3, 3.0))),
        new_ground=draw(st.sampled_from((None, None, 15.0, 60.0))) if kind == "mat" else None,
        follow_up=follow_up,
        not_until=draw(st.sampled_from((None, None, None, *CONDITIONS))),
        instead=draw(other) if draw(st.booleans()) else None,
        crews=named,
        haul_out=draw(st.booleans()),
    )


@st.composite
def cases(draw: Callable[[Any], Any]) -> Case:
    """Everything at once."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    site = draw(sites(rng))
    vine = load_vine(draw(st.sampled_from(VINES)))
    raised = draw(st.sampled_from((0.7, 0.9, 0.9, 0.0)))
    vine = changed(vine, RAISED, rng, raised)
    own = [changed(load_treatment(name), CHANGED, rng, raised / 2) for name in treatment_names()]
    known = {treatment.name: treatment for treatment in (*own, *OWN)}
    crew = draw(crews(tuple(known)))
    years = draw(st.integers(4, 8))
    made = [draw(tasks(site, crew, years, known)) for _ in range(draw(st.integers(1, 6)))]
    return Case(
        site=site,
        vine=vine,
        treatments=tuple(known.values()),
        crews=crew,
        strategy=Strategy("work", tasks=made, reserve_follow_up=draw(st.booleans())),
        fit_days=draw(st.sampled_from(((4.0, 6.0, 8.0, 5.0), (0.0, 1.0, 1.0, 0.3)))),
        years=years,
        seed=draw(st.integers(0, 2**32 - 1)),
        replicate=draw(st.integers(0, 2**32 - 1)),
        fixed_parameters=draw(st.sampled_from((False, False, True))),
    )


def few(examples: int) -> settings:
    """Settings for so many examples, the same ones every time."""
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
    )


def default_cases(number: int) -> list[Case]:
    """The cases of the default run, as a list."""
    found: list[Case] = []

    @few(number)
    @given(cases())
    def collect(case: Case) -> None:
        found.append(case)

    collect()
    return found


__all__ = ["SEASONS", "Case", "cases", "default_cases", "few"]
