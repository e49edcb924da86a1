"""One parameter of the vine at a time, from the low to the high end of its range: the sign that theory gives."""

from typing import Any

import numpy as np
import pytest
import xarray as xr

from spreadsim.inputs import Event, Site, Task, load_treatment, load_vine, vine_names

from .signs import REPLICATES, Measure, assert_responds
from .small import go, meadow, steady
from .strategies import NIL, VINES, with_values

STORM = Event("storm", year=2, x=30.0, y=30.0, radius=50.0)
NO_BIRDS = ("events", "work", "mat", "climbing", "birds", "trees", "natives")  # seed is borne, nothing comes of it


def wood(canopy: float = 0.5, top_light: float = 0.9, height: float = 15.0, **layers: Any) -> Site:
    """A wood of 60 m x 60 m with a mat of 21 m x 21 m and 60 trees, a third each bare, climbing and fruiting."""
    rng = np.random.default_rng(3)
    mat = np.zeros((20, 20))
    mat[7:14, 7:14] = 1.0
    within, any_where = rng.uniform(19, 41, (40, 2)), rng.uniform(0, 60, (20, 2))
    x, y = np.concatenate([within, any_where]).T
    hosts = {
        "x": x,
        "y": y,
        "state": ["climbing"] * 20 + ["fruiting"] * 20 + ["bare"] * 20,
        "kind": ["tree"] * 60,
        "top_light": [top_light] * 60,
        "height": [height] * 60,
    }
    return meadow(mat=mat, canopy=np.full((20, 20), canopy), hosts=layers.pop("hosts", hosts), cell_size=3.0, **layers)


def untreated(vine: Any, **options: Any) -> xr.Dataset:
    """The wood with nobody at work, disturbed in year 2."""
    site = options.pop("site", None) or wood()
    return go(site, vine=vine, **({"years": 12, "replicates": REPLICATES, "events": [STORM]} | options))


def without_mat(vine: Any) -> xr.Dataset:
    """Seed from all round on ground without mat."""
    return untreated(vine, site=meadow(20, 20, cover=0.0, background_seed=3e6), years=6, events=[])


def perches(canopy: float) -> Any:
    """Patches of seed from all round, on open ground or in the shade, with trees to sit on."""

    def scene(vine: Any) -> xr.Dataset:
        where = {"x": np.arange(2.5, 100, 5.0), "y": np.full(20, 50.0), "kind": ["tree"] * 20}
        shade = np.full((20, 20), canopy)
        site = meadow(20, 20, cover=0.0, cell_size=5.0, hosts=where, canopy=shade, background_seed=5e5)
        vine = with_values(vine, mat__front_speed=NIL)
        return go(
            site, vine=vine, years=6, replicates=REPLICATES, maps="replicate", processes=("mat", "birds", "seedlings")
        )

    return scene


def worked(treatment: str, **values: float) -> Any:
    """The wood after one pass in the first winter."""

    def scene(vine: Any) -> xr.Dataset:
        own = steady(treatment, **values) if treatment == "pull" else with_values(load_treatment(treatment), **values)
        task = Task(treatment, years=(1, 1), seasons=["winter"])
        return go(wood(), task, vine=vine, treatments=[own], years=9, replicates=REPLICATES, processes=NO_BIRDS)

    return scene


def shaded(vine: Any) -> xr.Dataset:
    return untreated(vine, site=wood(canopy=0.95), years=20)


def tall(vine: Any) -> xr.Dataset:
    """Trees on which light enough to fruit begins between the two ends of max_height, and is climbed to fast."""
    low, high = float(vine["climb.max_height"].low), float(vine["climb.max_height"].high)
    height = (low + high) / 2 / 0.75  # light_to_fruit is met at 3/4 of it
    site = wood(canopy=0.9, top_light=0.3666666666, height=height)
    fast = with_values(vine, climb__light_to_fruit=0.3, climb__vertical_speed=5.0, climb__years_to_first_fruit=3.0)
    return untreated(fast, site=site, years=15)


def one_host(vine: Any) -> xr.Dataset:
    """One fruiting fence, for its crops."""
    hosts = {"x": [30.0], "y": [30.0], "state": ["fruiting"], "kind": ["fence"], "top_light": [1.0]}
    return untreated(vine, site=wood(hosts=hosts), years=12, processes=("birds",))


def spread_of_crops(data: xr.Dataset) -> Any:
    return np.log(data["seeds_produced"].values[:, 1:]).std(axis=1)


def at_perches(data: xr.Dataset) -> Any:
    """Share of the patches that lie in cells with a tree or beside them."""
    there = data["mat_cover"].values[:, -1] > 0
    return there[:, 9:11].sum(axis=(1, 2)) / np.maximum(there.sum(axis=(1, 2)), 1)


SAME_CHAIN = "founding is given; microsite_share is solved from the links and makes up for it"
# parameter: (outcome, sign, scene), or ("none", reason)
TABLE: dict[str, tuple[Any, ...]] = {
    "mat.front_speed": ("infested_area", "+", untreated),
    "mat.cover_doubling_time": ("mat_area", "-", untreated),
    "mat.max_cover": ("mat_area", "+", untreated),
    "mat.shade_factor": ("infested_area", "+", untreated),
    "mat.rooted_pieces": ("infested_area", "+", worked("pull", mat_kill=0.97)),
    "mat.density_on_arrival": ("mat_area", "+", untreated),
    "mat.founder_area": ("infested_area", "+", without_mat),
    "climb.climb_rate": ("climbed_hosts", "+", untreated),
    "climb.vertical_speed": ("fruiting_hosts", "+", shaded),
    "climb.years_to_first_fruit": ("fruiting_hosts", "-", untreated),
    "climb.years_to_refruit": ("fruiting_hosts", "-", worked("cut", base_kill=0.0)),
    "climb.light_to_fruit": ("fruiting_hosts", "-", shaded),
    "climb.share_of_mature_climbers_fruiting": ("fruiting_hosts", "+", untreated),
    "climb.max_height": ("fruiting_hosts", "+", tall),
    "climb.resprout_time": ("climbed_hosts", "-", worked("cut", base_kill=0.0)),
    "seed.fruits_per_host": ("seeds_produced", "+", untreated),
    "seed.seeds_per_fruit": ("seeds_produced", "+", untreated),
    "seed.share_taken_by_birds": ("seeds_exported", "+", untreated),
    "seed.germination": ("none", SAME_CHAIN),
    "seed.first_winter_survival": ("none", SAME_CHAIN),
    "seed.seedling_to_rooted_patch": ("none", SAME_CHAIN),
    "seed.patches_founded": ("new_patches", "+", untreated),
    "seed.seed_bank_life": ("new_patches", "-", without_mat),
    "seed.years_seed_to_patch": ("new_patches", "-", without_mat),
    "seed.crop_spread": (spread_of_crops, "+", one_host),
    "birds.median_distance": ("seeds_exported", "+", untreated),
    "birds.share_far": ("seeds_exported", "+", untreated),
    "birds.perch_bias_open": (at_perches, "+", perches(0.0)),
    "birds.perch_bias_forest": (at_perches, "+", perches(1.0)),
    "birds.gut_retention_minutes": ("none", "told to people: distances are given by the kernel"),
    "impact.native_cover_under_full_mat": ("native_cover", "+", untreated),
    "impact.native_recovery_time": ("native_cover", "-", worked("pull", mat_kill=1.0)),
    "impact.native_recovery_ceiling": ("native_cover", "+", worked("pull", mat_kill=1.0)),
    "impact.tree_failure_base": ("fallen_hosts", "+", untreated),
    "impact.tree_failure_factor": ("fallen_hosts", "+", untreated),
    "impact.tree_seedlings_under_full_mat": ("none", "told to people: no process has tree seedlings"),
    "disturbance.release_factor": ("mat_area", "+", untreated),
    "disturbance.release_years": ("mat_area", "+", untreated),
}


def drawn_names() -> set[str]:
    """Every parameter of a shipped vine that has a range."""
    return {n for v in vine_names() for n, p in load_vine(v).parameters.items() if p.drawn}


def test_the_table_has_every_drawn_parameter_of_the_vines_and_no_other():
    assert set(TABLE) == drawn_names()


@pytest.mark.parametrize("vine", VINES)
@pytest.mark.parametrize("name", TABLE)
def test_the_response_has_its_sign(name: str, vine: str):
    profile = load_vine(vine)
    parameter = profile[name]
    low, high = float(parameter.low), float(parameter.high)
    outcome: Measure = TABLE[name][0]
    sign, scene = (outcome, untreated) if outcome == "none" else TABLE[name][1:]
    if parameter.scale == "log":
        low = max(low, high / 1e6)
    if name == "seed.fruits_per_host":
        low *= 2  # at the very end the links just don't reach the founding rate
    ends = [
        scene(profile.replace({name: {"value": v, "low": low, "high": high}}, check_ranges=False)) for v in (low, high)
    ]
    if outcome == "none" and TABLE[name][1] == SAME_CHAIN:
        # equal but for the last bits of the product, so a rare candidate may be kept or not
        patches = [data["new_patches"].sum().item() for data in ends]
        assert patches[0] > 0 and abs(patches[1] - patches[0]) <= 2
        return
    assert_responds(*ends, outcome, sign)
