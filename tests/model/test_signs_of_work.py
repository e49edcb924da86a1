"""One number of a treatment at a time, from the low to the high end of its range: the sign that theory gives."""

from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim.inputs import Crew, FollowUp, Task, Treatment, Weather, load_treatment, load_vine, treatment_names

from .signs import REPLICATES, Measure, assert_responds
from .small import ALL_DAY, ALL_HANDS, go, meadow, still
from .strategies import fixed

QUIET = ("work", "mat", "climbing", "birds", "natives")  # no seedlings, no trees that fall
FEW = (Crew("staff", (3.0,) * 4, price=10.0),)
HELPERS = (Crew("friends", 1e5, ["cut", "cut-and-treat"], volunteers=True),)
GROUND = ("pull", "mow", "graze", "mulch", "tarp", "foliar-spray", "spot-spray")
STEMS = ("cut", "cut-and-treat", "clear-ring")


def season_of(treatment: Treatment, wanted: str = "winter") -> str:
    """The season wanted, or the first that the treatment is allowed in."""
    return wanted if wanted in treatment.seasons else treatment.seasons[0]


def on_ground(treatment: Treatment, *, season: str = "winter") -> xr.Dataset:
    """One pass over a wet meadow of 14 m x 14 m full of mat."""
    task = Task(treatment.name, years=(1, 1), seasons=[season_of(treatment, season)])
    site = meadow(7, 7, wetness=np.ones((7, 7)))
    crews = (Crew("staff", 1e5, price=10.0),)
    return run_it(site, task, crews=crews, treatments=[treatment], weather=Weather((ALL_DAY,) * 4))


def run_it(site: Any, *tasks: Task, **options: Any) -> xr.Dataset:
    vine = options.pop("vine", None) or still()
    return go(site, *tasks, vine=vine, **({"years": 3, "replicates": REPLICATES, "processes": QUIET} | options))


def many_cells(treatment: Treatment, hours: float = 9.0, days: float = ALL_DAY) -> xr.Dataset:
    """Few hours, or days, on a large meadow: what they do of it."""
    task = Task(treatment.name, years=(1, 1), seasons=[season_of(treatment)], haul_out=True)
    own = (
        treatment.replace({"largest_patch": fixed(0.0)}, check_ranges=False) if treatment.name == "tarp" else treatment
    )
    crews = (Crew("staff", hours),)
    return run_it(meadow(80, 40), task, crews=crews, treatments=[own], weather=Weather((days,) * 4), years=1)


def spray_days(treatment: Treatment) -> xr.Dataset:
    """Hours enough, few days: every hour more of a day is an hour more of work."""
    slow = treatment.replace({"hours_per_area": fixed(0.01)}, check_ranges=False)
    return many_cells(slow, hours=400.0, days=2.0)


def on_hosts(treatment: Treatment, *, crews: Any = ALL_HANDS, season: str = "autumn", years: int = 6) -> xr.Dataset:
    """Thirty hosts in mat, fruiting, each year the first autumn's work; then they climb and fruit again."""
    rng = np.random.default_rng(2)
    hosts = {
        "x": rng.uniform(0, 20, 30),
        "y": rng.uniform(0, 20, 30),
        "state": ["fruiting"] * 30,
        "kind": ["fence"] * 30,
        "top_light": [1.0] * 30,
    }
    vine = load_vine("wintercreeper").replace(
        {"climb.climb_rate": fixed(0.5), "climb.years_to_refruit": fixed(2.0)}, check_ranges=False
    )
    tasks = [Task(treatment.name, years=(1, 1), seasons=[season_of(treatment, season)])]
    own = [treatment]
    if treatment.name == "clear-ring":
        cut = load_treatment("cut").replace({"stem_kill": fixed(1.0), "base_kill": fixed(0.0)}, check_ranges=False)
        tasks = [Task("cut", years=(1, 1), seasons=["winter"]), *tasks]
        own = [treatment, cut]
    return run_it(meadow(hosts=hosts), *tasks, crews=crews, treatments=own, vine=vine, years=years)


def planted(treatment: Treatment) -> xr.Dataset:
    pull = load_treatment("pull").replace({"mat_kill": fixed(1.0)}, check_ranges=False)
    tasks = (
        Task("pull", years=(1, 1), follow_up=FollowUp(1, 2), crews=["staff"]),
        Task("plant", not_until="two clean visits", cap=2.0),
    )
    return run_it(meadow(), *tasks, treatments=[pull, treatment])


def asked(treatment: Treatment) -> xr.Dataset:
    sources = {"x": np.linspace(-30, -5, 20), "y": np.full(20, 5.0), "hosts": np.ones(20)}
    task = Task("remove-source", seasons=["winter"])
    crews = (Crew("staff", (30.0, 0, 0, 0)),)
    return run_it(
        meadow(5, 5, sources=sources), task, crews=crews, treatments=[treatment], years=4, processes=("work",)
    )


def searched(treatment: Treatment, *, nearby: bool = False) -> xr.Dataset:
    """Patches of seed that nobody knows, and fruiting hosts; looked for, or found by the way while pulling."""
    rng = np.random.default_rng(2)
    where = {
        "x": rng.uniform(0, 60, 60),
        "y": rng.uniform(0, 60, 60),
        "state": ["fruiting"] * 60,
        "known": [False] * 60,
    }
    mat = np.zeros((30, 30))
    mat[::5, ::5] = 1.0
    site = meadow(mat=mat, hosts=where | {"kind": ["fence"] * 60, "top_light": [1.0] * 60}, background_seed=3e6)
    pull = load_treatment("pull").replace({"mat_kill": fixed(0.0)}, check_ranges=False)
    look = Task("scout", seasons=["winter"], cap=0.05)
    tasks = (look, Task("pull", seasons=["spring"])) if nearby else (look,)
    vine = still(seed__years_seed_to_patch=1.0, seed__seed_bank_life=0.0)
    return run_it(site, *tasks, treatments=[treatment, pull], vine=vine, years=6, processes=(*QUIET, "seedlings"))


def look_alikes(treatment: Treatment) -> xr.Dataset:
    crews = (Crew("staff", 30.0),)
    return run_it(meadow(20, 20), Task("pull"), crews=crews, treatments=[treatment], years=1)


def scene_of(name: str, role: str) -> tuple[Measure | None, str, Any]:
    """Outcome, sign and scene for a number of a treatment; KeyError: nobody has thought of it."""
    if name == "scout":
        return SCOUT[role]
    if name in ("plant", "remove-source"):
        return OTHER[f"{name}.{role}"]
    return (ON_HOSTS if name in STEMS else ON_GROUND)[role]


ON_GROUND: dict[str, tuple[Any, str, Any]] = {
    "mat_kill": ("mat_area", "-", on_ground),
    "hours_per_area": ("area_treated", "-", many_cells),
    "hours_per_visit": ("hours", "+", on_ground),
    "hauling_share": ("area_treated", "-", many_cells),
    "reroots": ("mat_area", "+", on_ground),
    "native_loss_dormant": ("native_cover", "-", on_ground),
    "native_loss_growing": ("native_cover", "-", lambda treatment: on_ground(treatment, season="autumn")),
    "material_per_area": ("cost", "+", on_ground),
    "cover_years": ("mat_area", "-", on_ground),
    "fit_hours_per_day": ("area_treated", "+", spray_days),
}
ON_HOSTS: dict[str, tuple[Any, str, Any]] = {
    "stem_kill": ("fruiting_hosts", "-", on_hosts),
    "stem_kill_volunteers": ("fruiting_hosts", "-", lambda treatment: on_hosts(treatment, crews=HELPERS)),
    "base_kill": ("climbed_hosts", "-", lambda treatment: on_hosts(treatment, season="spring")),
    "crop_prevented_ripe": ("seeds_produced", "-", lambda treatment: on_hosts(treatment, years=1)),
    "hours_per_host": ("hosts_treated", "-", lambda treatment: on_hosts(treatment, crews=FEW)),
    "ring_radius": ("climbed_hosts", "-", on_hosts),
    "kill_variation": (None, "none", on_hosts),  # a stem is cut or not: only the kill of mat varies from visit to visit
}
OTHER: dict[str, tuple[Any, str, Any]] = {
    "plant.plant_survival": ("native_cover", "+", planted),
    "plant.hours_per_area": ("native_cover", "-", planted),
    "remove-source.consent": ("sources_standing", "-", asked),
    "remove-source.consent_delay": ("sources_standing", "+", asked),
    "remove-source.hours_per_visit": ("hosts_treated", "-", asked),
}
SCOUT: dict[str, tuple[Any, str, Any]] = {
    "cryptic_share": ("known_area", "-", searched),
    "leaf_off_boost": ("known_area", "+", searched),
    "clumping_factor": ("known_area", "+", searched),
    "search_time_constant_mat": ("known_area", "-", searched),
    "search_time_constant_climbing": ("known_fruiting_hosts", "-", searched),
    "search_time_constant_seedling": (None, "none", searched),  # told to people: seedlings are not looked for
    "incidental_finds": ("known_area", "+", lambda treatment: searched(treatment, nearby=True)),
    "misidentified": ("area_treated", "-", look_alikes),
}
# kept out, with the reason
NO_SIGN = {
    "kill_variation": "its mean is given; spread clears more cells and leaves more in others",
    "native_loss_dormant": "of mow and graze, which are not done in the dormant season",
}
DRAWN = sorted(
    (name, role) for name in treatment_names() for role, p in load_treatment(name).parameters.items() if p.drawn
)
KEPT = [
    (name, role)
    for name, role in DRAWN
    if not (role == "kill_variation" and name in GROUND)
    and not (role == "native_loss_dormant" and "winter" not in load_treatment(name).seasons)
]


@pytest.mark.parametrize(("name", "role"), KEPT)
def test_the_response_has_its_sign(name: str, role: str):
    outcome, sign, scene = scene_of(name, role)
    treatment = load_treatment(name)
    low, high = float(treatment[role].low), float(treatment[role].high)
    ends = [scene(treatment.replace({role: fixed(value)}, check_ranges=False)) for value in (low, high)]
    assert_responds(*ends, outcome, sign)


def test_every_number_that_is_drawn_has_its_row():
    left_out = {role for pair in DRAWN if pair not in KEPT for role in pair[1:]}
    assert left_out == set(NO_SIGN)
    roles = {(name in STEMS, role) for name, role in KEPT if name in (*GROUND, *STEMS)}
    assert {role for stems, role in roles if stems} == set(ON_HOSTS)
    assert {role for stems, role in roles if not stems} == set(ON_GROUND)
    assert {f"{name}.{role}" for name, role in KEPT if name in ("plant", "remove-source")} == set(OTHER)
    assert {role for name, role in KEPT if name == "scout"} == set(SCOUT)
