"""A small invented experiment to learn about: two hectares, two units, lively vine, three years."""

from functools import cache

import numpy as np

from spreadsim import Crew, Experiment, Site, Strategy, Task, load_vine

YEARS, CELL, SIDE = 3, 4.0, 40
MAPPED, SURVEYED = "2023-12-05", "2026-12-10"  # twelve seasons apart: winter to winter


@cache
def site() -> Site:
    mat = np.zeros((SIDE, SIDE))
    mat[4:8, 4:9] = 0.9
    mat[27:31, 26:30] = 0.7
    plantable = np.ones_like(mat)
    plantable[:, 19] = 0.0
    units = np.where(np.arange(SIDE) < 19, 1, 2) * np.ones(mat.shape, int)
    rng = np.random.default_rng(8)
    x, y = rng.uniform(0, SIDE * CELL, 110), rng.uniform(0, SIDE * CELL, 110)
    x[:30], y[:30] = rng.uniform(16, 36, 30), rng.uniform(128, 144, 30)
    x[40:60], y[40:60] = rng.uniform(104, 120, 20), rng.uniform(36, 52, 20)
    inside = mat[SIDE - 1 - (y // CELL).astype(int), (x // CELL).astype(int)] > 0
    state = np.where(inside & (rng.random(110) < 0.5), "climbing", "bare")
    state[np.flatnonzero(inside)[:8]] = "fruiting"
    hosts = {"x": x, "y": y, "state": state, "top_light": np.ones(110), "known": rng.random(110) < 0.5}
    return Site.from_arrays(
        CELL, mat=mat, plantable=plantable, units=units, unit_names=["west <b>", "east"], hosts=hosts,
        background_seed=500.0, title="A wood of two units",
    )  # fmt: skip


@cache
def experiment() -> Experiment:
    vine = load_vine("wintercreeper").replace(
        {
            "mat.front_speed": {"value": 0.6, "low": 0.1, "high": 2.0},
            "seed.patches_founded": {"value": 0.6, "low": 0.05, "high": 3.0},
            "seed.fruits_per_host": {"value": 4000.0, "low": 1000.0, "high": 20000.0},
            "seed.years_seed_to_patch": {"value": 1.0, "low": 0.5, "high": 2.0},
            "climb.climb_rate": {"value": 0.3, "low": 0.02, "high": 2.0},
            "birds.median_distance": {"value": 30.0, "low": 15.0, "high": 60.0},
        },
        check_ranges=False,
    )
    crews = (Crew("staff", 4.0, price=30.0),)
    tasks = (Task("scout", share=0.3), Task("pull", share=0.5))
    return Experiment(
        "Learning", site(), vine, crews, (Strategy("no action"), Strategy("a little", tasks=tasks)),
        years=YEARS, replicates=50, seed=4, notice="Invented.",
    )  # fmt: skip
