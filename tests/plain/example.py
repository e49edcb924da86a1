"""Stand-ins for the frozen inputs, for the reference simulator's own tests; ground and vine are invented."""

import math
from dataclasses import dataclass, field, replace
from types import SimpleNamespace

import numpy as np

SEASONS = ("winter", "spring", "summer", "autumn")

# name: (default, low, high, scale)
VINE = {
    "mat.front_speed": (0.5, 0.15, 1.5, "log"),
    "mat.cover_doubling_time": (1.0, 0.5, 2.0, "log"),
    "mat.max_cover": (0.95, 0.8, 1.0, "linear"),
    "mat.shade_factor": (0.5, 0.3, 0.8, "linear"),
    "mat.rooted_pieces": (10.0, 3.0, 40.0, "log"),
    "mat.density_on_arrival": (0.05, 0.02, 0.15, "log"),
    "mat.founder_area": (0.05, 0.02, 0.2, "log"),
    "mat.growth_share_by_season": ((0.05, 0.45, 0.40, 0.10), None, None, "linear"),
    "climb.climb_rate": (0.15, 0.05, 0.5, "log"),
    "climb.vertical_speed": (0.6, 0.2, 1.2, "linear"),
    "climb.years_to_first_fruit": (6.0, 3.0, 10.0, "linear"),
    "climb.years_to_refruit": (4.0, 2.0, 7.0, "linear"),
    "climb.light_to_fruit": (0.2, 0.1, 0.4, "linear"),
    "climb.share_of_mature_climbers_fruiting": (0.5, 0.2, 0.9, "linear"),
    "climb.max_height": (15.0, 12.0, 21.0, "linear"),
    "climb.wait_shape": (4.0, None, None, "linear"),
    "climb.resprout_time": (1.0, 0.5, 1.5, "linear"),
    "seed.fruits_per_host": (500.0, 50.0, 5000.0, "log"),
    "seed.seeds_per_fruit": (2.0, 1.0, 4.0, "linear"),
    "seed.crop_spread": (1.0, 0.5, 1.5, "linear"),
    "seed.share_taken_by_birds": (0.7, 0.4, 0.9, "linear"),
    "seed.germination": (0.5, 0.2, 0.8, "linear"),
    "seed.seed_bank_life": (1.0, 0.0, 2.0, "linear"),
    "seed.first_winter_survival": (0.2, 0.05, 0.5, "linear"),
    "seed.seedling_to_rooted_patch": (0.05, 0.01, 0.2, "log"),
    "seed.years_seed_to_patch": (3.0, 2.0, 5.0, "linear"),
    "seed.fruit_season": (("autumn",), None, None, "linear"),
    "seed.patches_founded": (0.35, 0.05, 3.0, "log"),
    "seed.microsite_share": (None, None, None, "linear"),
    "birds.kernel": ("2Dt", None, None, "linear"),
    "birds.kernel_p": (1.42, None, None, "linear"),
    "birds.kernel_u": (None, None, None, "linear"),
    "birds.median_distance": (70.0, 51.0, 110.0, "linear"),
    "birds.share_far": (0.001, 0.0, 0.01, "log"),
    "birds.perch_bias_open": (5.0, 1.5, 50.0, "log"),
    "birds.perch_bias_forest": (2.0, 1.0, 5.0, "linear"),
    "impact.native_cover_under_full_mat": (0.5, 0.3, 0.8, "linear"),
    "impact.native_recovery_time": (4.0, 1.0, 10.0, "linear"),
    "impact.native_recovery_ceiling": (0.7, 0.3, 1.0, "linear"),
    "impact.tree_failure_factor": (1.5, 1.0, 3.0, "linear"),
    "impact.tree_failure_base": (0.002, 0.0005, 0.01, "log"),
    "disturbance.release_factor": (1.8, 1.0, 3.0, "linear"),
    "disturbance.release_years": (3.0, 1.0, 6.0, "linear"),
}

KILLS = ("stem_kill", "stem_kill_volunteers", "base_kill", "mat_kill", "seedling_kill", "ring_radius")
HARMS = ("reroots", "native_loss_dormant", "native_loss_growing", "kill_variation")


@dataclass(frozen=True)
class Parameter:
    """A value with its range."""

    value: object
    low: float | None = None
    high: float | None = None
    scale: str = "linear"


class Vine:
    """A vine's parameters by name."""

    def __init__(self, parameters):
        self.parameters = parameters

    def __getitem__(self, name):
        return self.parameters[name]


def vine(**values):
    """Wintercreeper's defaults with some values fixed: mat__front_speed=0.4."""
    parameters = {name: Parameter(*row) for name, row in VINE.items()}
    for name, value in values.items():
        parameters[name.replace("__", ".", 1)] = Parameter(value)
    return Vine(parameters)


def treatment(name, acts_on, numbers, *, seasons=SEASONS, fit=False, sensitive=False, disturbs=False):
    """One treatment; numbers are fixed values or Parameters by role."""
    parameters = {r: v if isinstance(v, Parameter) else Parameter(v) for r, v in numbers.items()}
    return SimpleNamespace(
        name=name,
        acts_on=frozenset(acts_on),
        seasons=seasons,
        needs_fit_weather=fit,
        herbicide=fit,
        not_on_sensitive=sensitive,
        disturbs=disturbs,
        parameters=parameters,
    )


def treatments():
    """All treatments of the tests, by name."""
    kill_variation = Parameter(0.15, 0.05, 0.3)
    rows = [
        treatment(
            "cut",
            ["stems"],
            {
                "stem_kill": Parameter(0.98, 0.95, 1.0),
                "stem_kill_volunteers": Parameter(0.93, 0.8, 0.99),
                "base_kill": Parameter(0.2, 0.0, 0.5),
                "crop_prevented_ripe": Parameter(0.1, 0.0, 0.3),
                "hours_per_host": Parameter(0.3, 0.1, 1.5, "log"),
            },
        ),
        treatment(
            "pull",
            ["mat", "seedlings"],
            {
                "mat_kill": Parameter(0.6, 0.4, 0.85),
                "kill_variation": kill_variation,
                "reroots": Parameter(0.15, 0.02, 0.4),
                "hours_per_area": Parameter(0.2, 0.05, 0.6, "log"),
                "hours_floor": 0.05,
                "hauling_share": Parameter(0.4, 0.3, 0.5),
            },
            disturbs=True,
        ),
        treatment(
            "spray",
            ["mat", "seedlings"],
            {
                "mat_kill": Parameter(0.6, 0.3, 0.9),
                "kill_variation": kill_variation,
                "hours_per_area": 0.0012,
                "hours_floor": 0.3,
                "fit_hours_per_day": Parameter(4.5, 4.0, 5.0),
                "native_loss_dormant": Parameter(0.05, 0.0, 0.3),
                "native_loss_growing": Parameter(0.5, 0.2, 0.9),
            },
            seasons=("winter", "autumn"),
            fit=True,
            sensitive=True,
        ),
        treatment(
            "ring",
            ["stems"],
            {"base_kill": Parameter(0.6, 0.4, 0.85), "ring_radius": 1.5, "hours_per_host": 0.5},
        ),
        treatment(
            "scout",
            ["search"],
            {
                "cryptic_share": Parameter(0.1, 0.0, 0.35),
                "leaf_off_boost": Parameter(2.0, 1.0, 3.0),
                "clumping_factor": Parameter(0.5, 0.3, 1.0),
                "search_time_constant_mat": Parameter(15.0, 8.0, 30.0),
                "search_time_constant_climbing": Parameter(10.0, 5.0, 20.0),
                "incidental_finds": Parameter(0.5, 0.2, 0.8),
            },
        ),
    ]
    return {row.name: row for row in rows}


def without_effect(rows):
    """Give the same treatments with every kill, re-rooting and harm nil."""
    harmless = {}
    for name, row in rows.items():
        parameters = dict(row.parameters)
        for role in KILLS + HARMS:
            if role in parameters:
                parameters[role] = Parameter(0.0)
        harmless[name] = SimpleNamespace(**{**vars(row), "parameters": parameters})
    return harmless


@dataclass(frozen=True)
class Crew:
    """A crew."""

    name: str
    hours: tuple
    may: tuple = ("all",)
    volunteers: bool = False
    pace: float = 1.0
    turnout: float = 1.0
    people: int = 1
    price: float = 0.0
    paid: bool = True
    turnout_spread: float = 0.0
    session_hours: float | None = None
    setup_hours: float = 0.0
    leader: str | None = None
    people_per_leader: float = 9.0
    walking_minutes: float = 0.0
    minimum_charge: float = 0.0
    lead_seasons: int = 0
    years: tuple | None = None


@dataclass(frozen=True)
class FollowUp:
    """A follow-up rule."""

    every: int = 4
    clean: int = 2
    treatment: str | None = None


@dataclass(frozen=True)
class Task:
    """A task."""

    treatment: str
    name: str | None = None
    targets: str = "all"
    order: str | None = None
    units: tuple = ()
    seasons: tuple = ()
    years: tuple | None = None
    share: float = 1.0
    cap: float | None = None
    new_ground: float | None = None
    follow_up: FollowUp | None = None
    not_until: str | None = None
    instead: str | None = None
    crews: tuple = ()
    haul_out: bool = False
    permit_seasons: int = 0


@dataclass(frozen=True)
class Fund:
    """Dated money."""

    name: str
    amount: float
    years: tuple | None = None
    crews: tuple = ()


@dataclass(frozen=True)
class Event:
    """What befalls the ground."""

    kind: str = "storm"
    year: int | None = None
    per_year: float = 0.0
    season: str = "spring"
    x: float | None = None
    y: float | None = None
    radius: float = 5.0
    trees_fall: float = 0.0


def weather(fit_days=(4.0, 6.0, 8.0, 5.0), table=None):
    """Days fit to spray."""
    return SimpleNamespace(fit_days=fit_days, table=table)


@dataclass(frozen=True)
class Strategy:
    """A strategy."""

    name: str = "no action"
    tasks: tuple = ()
    reserve_follow_up: bool = True


@dataclass(frozen=True)
class Hosts:
    """Hosts by column."""

    x: list = field(default_factory=list)
    y: list = field(default_factory=list)
    cell: list = field(default_factory=list)
    state: list = field(default_factory=list)
    kind: list = field(default_factory=list)
    girth: list = field(default_factory=list)
    top_light: list = field(default_factory=list)
    height: list = field(default_factory=list)
    years_climbing: list = field(default_factory=list)
    known: list = field(default_factory=list)


def site(ny, nx, h, mat=None, hosts=(), sources=(), **layers):
    """Open, plantable ground; hosts are mappings with at least x, y."""
    full = {
        "canopy": 0.0,
        "plantable": 1.0,
        "access": 1.0,
        "wetness": 0.0,
        "sensitive": False,
        "unit": 0,
        "boundary_mat": False,
    }
    ground = {name: np.full((ny, nx), value) for name, value in full.items()}
    ground.update({name: layer for name, layer in layers.items() if name in full})
    columns = Hosts()
    usual = {
        "state": 0,
        "kind": "tree",
        "girth": "medium",
        "top_light": 1.0,
        "height": 18.0,
        "years_climbing": math.nan,
        "known": True,
    }
    for host in hosts:
        row = {**usual, **host}
        row["cell"] = (ny - 1 - math.floor(row["y"] / h)) * nx + math.floor(row["x"] / h)
        for name, value in row.items():
            getattr(columns, name).append(value)
    return SimpleNamespace(
        cell_size=h,
        ny=ny,
        nx=nx,
        mat=np.zeros((ny, nx)) if mat is None else mat,
        hosts=columns,
        sources=SimpleNamespace(x=[s[0] for s in sources], y=[s[1] for s in sources], hosts=[s[2] for s in sources]),
        background_seed=layers.get("background_seed", 0.0),
        unit_names=layers.get("unit_names", ()),
        **ground,
    )


def small_park(ny=12, nx=12, h=2.0, **changes):
    """A small invented park: a mat in one corner, a few hosts, a path with a gap, shade and wet ground."""
    rng = np.random.default_rng(5)
    mat = np.zeros((ny, nx))
    mat[2:6, 2:6] = 0.95
    mat[6, 2:6] = 0.4
    plantable = np.ones((ny, nx))
    plantable[:, 8] = 0.0
    plantable[5, 8] = 0.5
    hosts = []
    for i in range(10):
        hosts.append(
            {
                "x": float(rng.uniform(0.5, nx * h - 0.5)),
                "y": float(rng.uniform(0.5, ny * h - 0.5)),
                "state": (2, 1, 1, 0)[i % 4],
                "kind": ("tree", "tree", "fence")[i % 3],
                "girth": ("small", "medium", "large")[i % 3],
                "height": (18.0, 18.0, 1.5)[i % 3],
                "top_light": (0.9, 0.5)[i % 2],
                "years_climbing": (math.nan, 3.0)[i % 2],
                "known": i % 5 != 0,
            }
        )
    layers = {
        "plantable": plantable,
        "canopy": rng.uniform(0.0, 0.9, (ny, nx)),
        "wetness": rng.uniform(0.0, 1.0, (ny, nx)),
        "access": rng.uniform(1.0, 2.0, (ny, nx)),
        "sensitive": rng.uniform(size=(ny, nx)) < 0.1,
        "unit": np.where(np.arange(nx)[None, :] < nx // 2, 1, 2) * np.ones((ny, 1), dtype=int),
        "unit_names": ("west", "east"),
        "background_seed": 20_000.0,
    }
    layers.update(changes)
    return site(ny, nx, h, mat=mat, hosts=hosts, sources=[(-5.0, 10.0, 2.0)], **layers)


def mat_site(**layers):
    """Two patches, of 3 cells in the north west and 2 in the south east, in two units."""
    start = np.zeros((4, 4))
    start[0, 0:3] = 0.95
    start[3, 2:4] = 0.95
    unit = np.ones((4, 4), dtype=int)
    unit[2:] = 2
    return site(4, 4, 2.0, mat=start, unit=unit, unit_names=("north", "south"), **layers)


def busy_strategy(**changes):
    """A strategy that uses everything."""
    strategy = Strategy(
        name="everything",
        tasks=(
            Task("cut", order="most fruit per hour", follow_up=FollowUp(every=4, clean=2), share=0.4),
            Task("ring", share=0.3),
            Task("scout", cap=0.4),
            Task(
                "spray",
                instead="pull",
                units=("east", "west"),
                order="by unit",
                new_ground=40.0,
                follow_up=FollowUp(every=2, clean=2, treatment="pull"),
            ),
            Task("pull", order="outlying patches first", haul_out=True, seasons=("spring", "summer")),
        ),
    )
    return replace(strategy, **changes)


def crews():
    """A staff crew and volunteers."""
    return (
        Crew(
            "volunteers",
            (0.0, 3.0, 3.0, 2.0),
            ("cut", "pull", "ring"),
            volunteers=True,
            pace=0.7,
            turnout=0.8,
        ),
        Crew("staff", (2.0, 2.0, 2.0, 2.0), people=2),
    )
