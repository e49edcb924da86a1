"""A small invented experiment that uses every treatment, and comparisons of datasets bit for bit."""

from collections.abc import Iterable
from functools import cache
from typing import Any

import numpy as np
import xarray as xr

from spreadsim import Crew, Experiment, FollowUp, Site, Strategy, Task, Weather, load_vine

YEARS = 6


def site() -> Site:
    """Half a hectare with two mats, a barrier, three units and hosts of all states."""
    rng = np.random.default_rng(7)
    mat = np.zeros((34, 36))
    mat[4:11, 5:13] = 0.9
    mat[24:29, 20:27] = 0.6
    plantable = np.ones_like(mat)
    plantable[:15, 18] = 0.0
    units = np.where(np.arange(36) < 18, 1, 2) * np.ones(mat.shape, int)
    units[20:, :10] = 3
    x, y = rng.uniform(0, 72, 90), rng.uniform(0, 68, 90)
    inside = mat[33 - (y // 2).astype(int), (x // 2).astype(int)] > 0
    hosts = {
        "x": x,
        "y": y,
        "state": np.where(inside, np.resize(["fruiting", "climbing"], 90), "bare"),
        "kind": np.resize(["tree", "tree", "sapling", "fence"], 90),
        "top_light": rng.uniform(0.2, 1, 90),
        "known": rng.random(90) < 0.8,
    }
    return Site.from_arrays(
        2.0,
        mat=mat,
        canopy=rng.uniform(0, 1, mat.shape),
        plantable=plantable,
        units=units,
        wetness=rng.uniform(0, 1, mat.shape),
        access=rng.uniform(1, 2, mat.shape),
        sensitive=rng.random(mat.shape) < 0.1,
        hosts=hosts,
        sources={"x": [-10.0], "y": [30.0], "hosts": [2.0]},
        background_seed=3000.0,
    )


def strategies() -> tuple[Strategy, ...]:
    """Three strategies of different lengths."""
    cut = Task("cut", share=0.5, years=[3], follow_up=FollowUp(2, 2, "cut-and-treat"))
    pull = Task("pull", order="outlying patches first", new_ground=80.0, follow_up=FollowUp(2, 2, "spot-spray"))
    spray = Task("foliar-spray", order="by unit", units=["unit 3", "unit 1"], instead="pull")
    return (
        Strategy("stems first", tasks=[cut, Task("clear-ring", share=0.2, years=[2]), Task("scout", cap=0.2), pull]),
        Strategy("mats only", tasks=[pull], reserve_follow_up=False),
        Strategy("spray", tasks=[spray, cut]),
    )


@cache
def experiment() -> Experiment:
    """Both crews, short and lively: many patches are founded within the years."""
    vine = load_vine("wintercreeper").replace(
        {
            "seed.patches_founded": {"value": 2.0, "low": 0.5, "high": 6.0},
            "seed.fruits_per_host": {"value": 4000.0, "low": 1000.0, "high": 20000.0},
            "seed.years_seed_to_patch": {"value": 1.0, "low": 0.5, "high": 2.0},
            "birds.median_distance": {"value": 20.0, "low": 10.0, "high": 40.0},
            "climb.climb_rate": {"value": 0.4, "low": 0.1, "high": 1.0},
            "climb.years_to_first_fruit": {"value": 3.0, "low": 1.0, "high": 5.0},
        },
        check_ranges=False,
    )
    crews = (
        Crew("friends", {"spring": 12, "summer": 12}, volunteers=True, pace=0.7, turnout=0.8, price=30.0, paid=False),
        Crew("staff", 12, people=2, price=35.0),
    )
    return Experiment(
        "small",
        site(),
        vine,
        crews,
        strategies(),
        years=YEARS,
        replicates=12,
        seed=5,
        weather=Weather((2.0, 4.0, 5.0, 3.0)),
    )


def assert_same_bits(first: xr.Dataset, second: xr.Dataset, names: Iterable[Any] | None = None) -> None:
    """The same variables (or those named), dimensions, coordinates and bits, missing values included."""
    if names is None:
        assert set(first.variables) == set(second.variables)
        names = first.variables
    for name in names:
        a, b = first[name], second[name]
        assert a.dims == b.dims, name
        assert a.dtype == b.dtype, name
        assert np.array_equal(a.values, b.values, equal_nan=a.dtype.kind == "f"), f"{name} differs"


def outcomes(data: xr.Dataset) -> list[str]:
    """Variables with numbers by replicate."""
    return [str(name) for name, values in data.data_vars.items() if "replicate" in values.dims]
