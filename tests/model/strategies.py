"""Random sites, vines, crews and strategies for hypothesis.

Structure (which layers, treatments, rules) is drawn by hypothesis; the numbers of a layer come from a generator whose
seed it draws, which is fast and still repeats exactly. All ground is invented.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

from spreadsim.inputs import (
    Crew,
    FollowUp,
    Site,
    Strategy,
    Task,
    Treatment,
    Vine,
    load_treatment,
    load_vine,
    treatment_names,
)
from spreadsim.inputs.hosts import GIRTHS, KINDS
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work
from spreadsim.schema import SEASONS

VINES = ("wintercreeper", "english-ivy")
TREATMENTS = treatment_names()
NIL = 1e-30  # for parameters on the log scale, which may not be 0
HARMLESS = (
    "stem_kill",
    "stem_kill_volunteers",
    "base_kill",
    "mat_kill",
    "seedling_kill",
    "reroots",
    "ring_radius",
    "native_loss_dormant",
    "native_loss_growing",
    "cover_years",
    "plant_survival",
    "consent",
)


def few(examples: int) -> settings:
    """Settings for that many examples, the same ones every time."""
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=(HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example),
    )


@dataclass(frozen=True, repr=False)
class Case:
    """One random thing to simulate; `repr` is what hypothesis shows when a test fails."""

    site: Site
    vine: Vine
    strategy: Strategy
    crews: tuple[Crew, ...]
    years: int
    seed: int

    def __repr__(self) -> str:
        site = self.site
        return (
            f"Case({self.vine.name}, {site.ny} x {site.nx} cells of {site.cell_size} m, {len(site.hosts)} hosts, "
            f"{self.years} years, seed {self.seed},\n  crews={self.crews},\n  {self.strategy})"
        )

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        """Keep hypothesis from printing every parameter of the vine."""
        printer.text(repr(self))

    def with_(self, **changes: Any) -> "Case":
        """The same with some parts changed."""
        return replace(self, **changes)


def fixed(value: float) -> dict[str, float]:
    """A parameter's value that is not drawn."""
    return {"value": value, "low": value, "high": value}


def with_values(thing: Any, **values: float) -> Any:
    """A vine or treatment with fixed values; "__" stands for the point in a name."""
    return thing.replace({name.replace("__", "."): fixed(value) for name, value in values.items()}, check_ranges=False)


def harmless(treatment: Treatment) -> Treatment:
    """The same treatment without any effect on vine or natives; it costs as many hours."""
    return with_values(treatment, **{role: 0.0 for role in HARMLESS if role in treatment.parameters})


def _ground(rng: np.random.Generator, shape: tuple[int, int], barriers: int) -> Any:
    plantable = np.where(rng.random(shape) < 0.3, rng.uniform(0.2, 1.0, shape), 1.0)
    if barriers:
        plantable[rng.random(shape) < 0.05 * barriers] = 0.0
        if barriers > 1:
            plantable[:, rng.integers(shape[1])] = 0.0
    return plantable


def _mat(rng: np.random.Generator, shape: tuple[int, int], patches: int) -> Any:
    rows, columns = np.indices(shape)
    mat = np.zeros(shape)
    for _ in range(patches):
        row, column = rng.uniform(0, shape[0]), rng.uniform(0, shape[1])
        inside = np.hypot(rows - row, columns - column) < rng.uniform(0.7, 1 + max(shape) / 6)
        mat[inside] = np.where(rng.random(inside.sum()) < 0.6, 1.0, rng.uniform(0, 1, inside.sum()))
    return mat


def _hosts(rng: np.random.Generator, width: float, height: float, number: int, states: Sequence[str]) -> dict[str, Any]:
    state = rng.choice(states, number)
    years = np.where(rng.random(number) < 0.5, np.nan, rng.uniform(0, 12, number))
    return {
        "x": rng.uniform(0, width, number),
        "y": rng.uniform(0, height, number),
        "state": state,
        "kind": rng.choice(KINDS, number, p=[0.6, *[0.4 / (len(KINDS) - 1)] * (len(KINDS) - 1)]),
        "girth": rng.choice(GIRTHS, number),
        "top_light": rng.uniform(0.05, 1, number),
        "height": rng.uniform(0.3, 25, number),
        "years_climbing": np.where(state == "climbing", years, np.nan),
        "known": rng.random(number) < 0.8,
    }


@st.composite
def sites(
    draw: Any,
    *,
    states: Sequence[str] = ("bare", "climbing", "fruiting"),
    patches: int | None = None,
    outside: bool = True,
    sizes: tuple[int, int] = (10, 40),
    barriers: int | None = None,
    square: bool = False,
) -> Site:
    """A small site with whatever a site can have.

    `patches` of mat (None: some), `outside` seed or none, `barriers` 0 to 2 (None: any), `sizes` in cells a side.
    """
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    ny, nx = draw(st.integers(*sizes)), draw(st.integers(*sizes))
    if square:
        nx = ny
    shape = (ny, nx)
    h = draw(st.sampled_from((1.0, 2.0, 3.0, 5.0)))
    plantable = _ground(rng, shape, draw(st.integers(0, 2)) if barriers is None else barriers)
    mat = _mat(rng, shape, draw(st.integers(1, 4)) if patches is None else patches)
    shade = draw(st.sampled_from(("none", "even", "mixed")))
    canopy = {"none": np.zeros(shape), "even": np.full(shape, 0.6), "mixed": rng.uniform(0, 1, shape)}[shade]
    units = rng.integers(0, draw(st.integers(0, 3)) + 1, shape)
    sources = None
    if outside and draw(st.booleans()):
        sources = {"x": [-rng.uniform(1, 60)], "y": [rng.uniform(0, ny * h)], "hosts": [rng.uniform(0.5, 20)]}
    return Site.from_arrays(
        h,
        mat=np.where(plantable > 0, mat, 0.0),
        canopy=canopy,
        plantable=plantable,
        hosts=_hosts(rng, nx * h, ny * h, draw(st.integers(0, 60)), states),
        units=units,
        access=rng.uniform(0.5, 3.0, shape),
        wetness=rng.uniform(0, 1, shape),
        sensitive=rng.random(shape) < draw(st.sampled_from((0.0, 0.2))),
        sources=sources,
        background_seed=draw(st.sampled_from((0.0, 0.0, 3e4))) if outside else 0.0,
    )


@st.composite
def vines(draw: Any, *, lively: bool = True) -> Vine:
    """Either vine; a lively one founds many patches near by and soon, so that few years hold much."""
    vine = load_vine(draw(st.sampled_from(VINES)))
    if not lively:
        return vine
    return vine.replace(
        {
            "seed.patches_founded": {"value": 2.0, "low": 0.5, "high": 6.0},
            "seed.fruits_per_host": {"value": 4000.0, "low": 1000.0, "high": 20000.0},
            "seed.seed_bank_life": {"value": 0.5, "low": 0.0, "high": 1.0},
            "seed.years_seed_to_patch": {"value": 1.0, "low": 0.5, "high": 3.0},
            "birds.median_distance": {"value": 20.0, "low": 8.0, "high": 60.0},
            "climb.climb_rate": {"value": 0.4, "low": 0.1, "high": 1.0},
            "climb.years_to_first_fruit": {"value": 3.0, "low": 1.0, "high": 6.0},
            "climb.years_to_refruit": {"value": 2.0, "low": 1.0, "high": 4.0},
            "impact.tree_failure_base": {"value": 0.005, "low": 0.001, "high": 0.03},
        },
        check_ranges=False,
    )


@st.composite
def crews(draw: Any) -> tuple[Crew, ...]:
    """Staff who may do all, and perhaps volunteers and a third crew with a list."""
    hours = st.sampled_from((0.0, 1.0, 5.0, 20.0, 60.0, 400.0))
    four = st.tuples(hours, hours, hours, hours)
    people = [Crew("staff", draw(four), people=draw(st.integers(1, 3)), price=30.0)]
    if draw(st.booleans()):
        turnout = draw(st.sampled_from((0.5, 0.8, 1.2)))
        people.append(Crew("friends", draw(four), volunteers=True, pace=0.7, turnout=turnout, paid=False, price=30.0))
    if draw(st.booleans()):
        may = draw(st.lists(st.sampled_from(TREATMENTS), min_size=1, max_size=4, unique=True))
        people.append(Crew("hired", draw(four), may, pace=1.3, price=75.0))
    return tuple(draw(st.permutations(people)))


def _permitted(named: Sequence[Crew]) -> list[str]:
    return [name for name in TREATMENTS if any(crew.may_do(load_treatment(name)) for crew in named)]


def _some(names: Sequence[str]) -> Any:
    return st.lists(st.sampled_from(list(names)), max_size=len(names), unique=True)


@st.composite
def tasks(
    draw: Any, site: Site, crew: Sequence[Crew], years: int, allowed: Sequence[str], unit_rules: bool = True
) -> Task:
    """A task that an experiment would accept, with any mix of rules."""
    names = draw(_some([c.name for c in crew])) if draw(st.integers(0, 3)) == 0 else []
    may = [name for name in _permitted([c for c in crew if not names or c.name in names]) if name in allowed]
    if not may:
        names = []
        may = [name for name in _permitted(crew) if name in allowed]
    treatment = load_treatment(draw(st.sampled_from(may)))
    kind = kind_of_work(treatment)
    alike = [name for name in may if kind_of_work(load_treatment(name)) == kind]
    orders = [order for order in ORDERS[kind] if unit_rules or order != "by unit"]
    conditions = CONDITIONS[:2] if unit_rules else CONDITIONS[1:2]
    if kind == "natives":
        conditions = CONDITIONS[2:]  # the third is for planting
    comes_back = kind in ("stems", "mat")
    first = draw(st.integers(1, years))
    follow_up = None
    if comes_back and draw(st.booleans()):
        other = draw(st.sampled_from([None, *alike]))
        follow_up = FollowUp(draw(st.sampled_from((1, 2, 4, 7))), draw(st.integers(1, 3)), other)
    return Task(
        treatment.name,
        name=None,
        targets=draw(st.sampled_from(("all", "fruiting", "climbing"))) if kind == "stems" else "all",
        order=draw(st.sampled_from([None, *orders])),
        units=draw(_some(site.unit_names)) if site.unit_names and unit_rules and draw(st.booleans()) else [],
        seasons=draw(_some(treatment.seasons)) if draw(st.booleans()) else [],
        years=draw(st.sampled_from((None, (first, None), (first, min(first + 1, years))))),
        share=draw(st.sampled_from((1.0, 1.0, 0.6, 0.3))),
        cap=draw(st.sampled_from((None, None, 2.0, 15.0))),
        new_ground=draw(st.sampled_from((None, None, 20.0, 150.0))) if kind in ("mat", "natives") else None,
        follow_up=follow_up,
        not_until=draw(st.sampled_from((None, None, None, *conditions))),
        instead=draw(st.sampled_from([None, None, *alike])) if comes_back else None,
        crews=names,
        haul_out=draw(st.booleans()),
    )


@st.composite
def plans(
    draw: Any,
    site: Site,
    crew: Sequence[Crew],
    years: int,
    *,
    allowed: Sequence[str] = TREATMENTS,
    unit_rules: bool = True,
    most: int = 5,
) -> Strategy:
    """A strategy of one to five tasks."""
    number = draw(st.integers(1, most))
    made = [draw(tasks(site, crew, years, allowed, unit_rules)) for _ in range(number)]
    return Strategy("work", tasks=made, reserve_follow_up=draw(st.booleans()))


@st.composite
def cases(draw: Any, *, years: tuple[int, int] = (3, 9), **options: Any) -> Case:
    """A site, a vine, crews and a strategy that fit together; options go to `sites`."""
    lively = options.pop("lively", True)
    unit_rules = options.pop("unit_rules", True)
    site = draw(sites(**options))
    crew = draw(crews())
    length = draw(st.integers(*years))
    strategy = draw(plans(site, crew, length, unit_rules=unit_rules))
    return Case(site, draw(vines(lively=lively)), strategy, crew, length, draw(st.integers(0, 2**32 - 1)))


__all__ = [
    "HARMLESS",
    "NIL",
    "SEASONS",
    "TREATMENTS",
    "VINES",
    "Case",
    "cases",
    "crews",
    "few",
    "fixed",
    "harmless",
    "plans",
    "sites",
    "vines",
    "with_values",
]
