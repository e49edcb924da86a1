"""Nothing depends on which way the map is turned, or on units where no rule is about units."""

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spreadsim.inputs import Crew, FollowUp, Site, Strategy, Task, load_vine
from spreadsim.inputs.hosts import STATES

from .helpers import MAT_AND_HOSTS, WORK, assert_no_bias, assert_same, run, untreated
from .strategies import VINES, Case, cases, few

LAYERS = ("mat", "canopy", "plantable", "access", "wetness", "sensitive")
# name: what happens to a layer (its last two axes), and to a point on a site of that width and height
TURNS: dict[str, tuple[Callable[[Any], Any], Callable[[Any, Any, float, float], tuple[Any, Any]]]] = {
    "mirrored east-west": (lambda a: a[..., :, ::-1], lambda x, y, width, height: (width - x, y)),
    "mirrored north-south": (lambda a: a[..., ::-1, :], lambda x, y, width, height: (x, height - y)),
    "turned a quarter": (lambda a: np.rot90(a, axes=(-2, -1)), lambda x, y, width, height: (height - y, x)),
    "turned round": (lambda a: a[..., ::-1, ::-1], lambda x, y, width, height: (width - x, height - y)),
}


def turned(site: Site, how: str) -> Site:
    """The same ground on a map that is mirrored or turned."""
    layer, point = TURNS[how]
    hosts, sources = site.hosts, site.sources
    x, y = point(hosts.x, hosts.y, site.width, site.height)
    outside = point(sources.x, sources.y, site.width, site.height)
    rest = {name: getattr(hosts, name) for name in ("girth", "kind", "top_light", "height", "years_climbing", "known")}
    return Site.from_arrays(
        site.cell_size,
        **{name: layer(getattr(site, name)) for name in LAYERS},
        units=layer(site.unit),
        unit_names=site.unit_names,
        hosts={"x": x, "y": y, "state": [STATES[k] for k in hosts.state], **rest},
        sources={"x": outside[0], "y": outside[1], "hosts": sources.hosts},
        background_seed=site.background_seed,
    )


@few(50)
@given(cases(), st.sampled_from(sorted(TURNS)))
def test_without_seedlings_and_work_a_turned_site_gives_the_turned_map_exactly(case: Case, how: str):
    quiet = ("mat", "climbing", "birds", "trees", "natives")
    straight = untreated(case, processes=quiet)
    other = untreated(case.with_(site=turned(case.site, how)), processes=quiet)
    assert (TURNS[how][0](straight["mat_cover"].values) == other["mat_cover"].values).all()
    for name in MAT_AND_HOSTS:
        # the share that leaves is a sum over directions in another order: a seed more or less in a rare case
        one = 1.0 if name == "seeds_exported" else 0.0
        np.testing.assert_allclose(straight[name], other[name], rtol=1e-12, atol=one, err_msg=name)


def lopsided(vine: str) -> Case:
    """A site without any symmetry, with work in orders in which no two cells are equal.

    Ties are broken by the number of a cell, which goes by the map; and crews find things on their way in blocks of
    10 m, of which this site holds a whole number each way.
    """
    rng = np.random.default_rng(3)
    rows, columns = np.indices((40, 30))
    mat = np.where(np.hypot(rows - 8, columns - 6) < 6, 0.9, 0.0)
    mat[np.hypot(rows - 32, columns - 22) < 4] = 0.5
    plantable = np.where(columns == 15, 0.0, 1.0)
    plantable[20:24] = 1.0
    x, y = rng.uniform(0, 60, 120), rng.uniform(0, 80, 120)
    row, column = 39 - (y // 2).astype(int), (x // 2).astype(int)
    state = np.where(mat[row, column] > 0, "fruiting", "bare")
    site = Site.from_arrays(
        2.0,
        mat=mat * (plantable > 0),
        canopy=columns / 30.0,
        plantable=plantable,
        access=rng.uniform(1.0, 2.0, rows.shape),
        hosts={"x": x, "y": y, "state": state, "top_light": rng.uniform(0.3, 1.0, 120)},
        sources={"x": [-20.0], "y": [70.0], "hosts": [3.0]},
        background_seed=4000.0,
    )
    tasks = [
        Task("cut", share=0.4, order="fruiting first", years=[4], follow_up=FollowUp()),
        Task("scout", share=0.1),
        Task("pull", order="nearest access first"),
    ]
    profile = load_vine(vine).replace({"seed.patches_founded": 2.0, "birds.median_distance": 51.0})
    return Case(site, profile, Strategy("both", tasks=tasks), (Crew("crew", 6.0),), 10, 21)


@pytest.mark.parametrize("vine", VINES)
@pytest.mark.parametrize("how", sorted(TURNS))
def test_a_turned_site_gives_the_same_distribution(how: str, vine: str):
    """Paired by replicate, 4.9 standard errors each: 80 comparisons, a false alarm of about 1e-4 in all."""
    case = lopsided(vine)
    other = case.with_(site=turned(case.site, how))
    for f in (run, untreated):
        straight, turn = (f(c, replicates=300, maps="none") for c in (case, other))
        for name in ("infested_area", "mat_area", "native_cover", "climbed_hosts"):
            first, second = (np.sqrt(data[name].values[:, -1]) for data in (straight, turn))
            assert_no_bias(first - second, f"{how}: {name}")
        first, second = (np.sqrt(data["new_patches"].sum("year").values) for data in (straight, turn))
        assert_no_bias(first - second, f"{how}: new patches")


@few(50)
@given(cases(unit_rules=False), st.integers(0, 99))
def test_units_without_a_rule_about_units_change_nothing(case: Case, seed: int):
    whole = np.ones_like(case.site.unit)
    parts = np.random.default_rng(seed).integers(1, 3, whole.shape).astype(whole.dtype)
    sites = [
        dataclasses.replace(case.site, unit=unit, unit_names=names)
        for unit, names in ((whole, ("a",)), (parts, ("a", "b")), (np.zeros_like(whole), ()))
    ]
    one, two, none = (run(case.with_(site=site)) for site in sites)
    for other in (two, none):
        assert_same(one, other)
        for name in WORK:  # hours of scouting go by the area of all units, which is summed in another order
            np.testing.assert_allclose(one[name], other[name], rtol=1e-9, atol=1e-12, err_msg=name)


@pytest.mark.parametrize("vine", VINES)
def test_units_matter_where_a_rule_is_about_them(vine: str):
    case = lopsided(vine)
    parts = np.ones_like(case.site.unit)
    parts[:20] = 2
    site = dataclasses.replace(case.site, unit=parts, unit_names=("south", "north"))
    orders = [
        Strategy("by unit", tasks=[Task("pull", order="by unit", units=u)])
        for u in (["south", "north"], ["north", "south"])
    ]
    first, second = (run(case.with_(site=site), strategy)["mat_cover"].values for strategy in orders)
    assert (first != second).any()
