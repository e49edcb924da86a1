"""Invented outcomes with known answers, made by the schema alone (no engine)."""

from typing import Any

import numpy as np
import xarray as xr

from spreadsim import schema

NAMES = ("no action", "stems first", "mats first", "both, with follow-up")


def outcomes(
    names: tuple[str, ...] = NAMES,
    *,
    replicates: int = 60,
    years: int = 30,
    area: dict[str, float] | None = None,
    seeds: dict[str, float] | None = None,
    noise: float = 0.02,
    shape: tuple[int, int] | None = None,
    cell: float = 4.0,
    attrs: dict[str, Any] | None = None,
) -> xr.Dataset:
    """Make outcomes in which strategies end at `area` (ha) and export `seeds` (a year), world by world.

    Each world has a factor of its own, shared by all strategies, so that differences are paired;
    `noise` is what each strategy adds to it (standard deviation, as a share).
    """
    area = area or dict(zip(NAMES, (3.4, 3.0, 1.2, 0.7), strict=True))
    seeds = seeds or dict(zip(NAMES, (9000.0, 500.0, 6000.0, 400.0), strict=True))
    random = np.random.default_rng(20)
    count = len(names)
    time = np.arange(years + 1) / years
    world = np.exp(0.25 * random.standard_normal(replicates))
    own = np.exp(noise * random.standard_normal((count, replicates)))
    factor = (world * own)[:, :, None]
    end = np.array([area[name] for name in names])[:, None, None] * 1e4
    start = 0.9e4
    infested = start * (end / start * factor) ** time[None, None, :]
    seed = np.array([seeds[name] for name in names])[:, None, None] * factor * np.linspace(0.5, 1.5, years + 1)
    crop = np.where(np.arange(years + 1) > 0, seed, np.nan)
    fruiting = np.rint(20 + seed / 100 * time).astype(int)
    values: dict[str, Any] = {
        "mat_area": 0.8 * infested,
        "infested_area": infested,
        "climbed_hosts": fruiting * 3,
        "fruiting_hosts": fruiting,
        "seeds_produced": crop * 4,
        "seeds_exported": crop,
        "new_patches": np.rint(crop / 1000),
        "native_cover": np.clip(0.8 - infested / 24e4, 0, 1),
    }
    values |= _work(names, replicates, years)
    coords: dict[str, Any] = {
        "strategy": names,
        "replicate": np.arange(replicates),
        "year": np.arange(years + 1),
    }
    coords["task_name"] = [["", ""], *[["cut", "pull"]] * (count - 1)]
    if names[0] != "no action":
        coords["task_name"] = [["cut", "pull"]] * count
    if shape is not None:
        occupancy = _maps(infested.mean(axis=1), shape, cell)
        values |= {"occupancy": occupancy, "mean_cover": 0.7 * occupancy}
        coords["y"] = (np.arange(shape[0])[::-1] + 0.5) * cell
        coords["x"] = (np.arange(shape[1]) + 0.5) * cell
    given = {"title": "Invented woodland", "seed": 7, "currency": "USD", "price_year": 2026, **(attrs or {})}
    parameters = {
        "mat.front_speed": (
            np.exp(random.standard_normal(replicates)),
            {"units": "m/yr", "long_name": "speed of the front", "confidence": "A", "source": "invented"},
        ),
        "cut-and-treat.base_kill": (
            random.random(replicates),
            {"units": "1", "long_name": "share of bases killed", "confidence": "R", "source": "invented"},
        ),
    }
    return schema.build_dataset(values, coords, given, parameters)


def _work(names: tuple[str, ...], replicates: int, years: int) -> dict[str, Any]:
    """Fifty hours a season on the first task and 25 on the second; none, and missing, without action."""
    hours = np.zeros((len(names), replicates, years + 1, 4, 2)) + np.array([50.0, 25.0])
    hours[[name == "no action" for name in names]] = np.nan
    hours[:, :, 0] = np.nan
    return {"hours": hours, "cost": 20 * hours}


def _maps(infested: np.ndarray, shape: tuple[int, int], cell: float) -> np.ndarray:
    """Soft discs that hold the infested area, (strategy, year, y, x)."""
    ny, nx = shape
    y, x = np.mgrid[0:ny, 0:nx] * cell
    centres = np.random.default_rng(3).random((12, 2)) * np.array(shape) * cell
    nearest = np.min([np.hypot(y - a, x - b) for a, b in centres], axis=0)
    radius = np.sqrt(infested / 12 / np.pi)[:, :, None, None]
    return np.clip(1 - (nearest - radius) / 12, 0, 1)
