"""Lasting patches founded per fruiting host and year on free open woodland, when parameters are drawn.

One fruiting host in the middle of 1 km x 1 km of half canopy without perches, 20 crops, 600 replicates; all parameters
drawn but the time from seed to patch, so that every crop is counted. Quantiles 5, 25, 50, 75, 95 %:
wintercreeper 0.05, 0.15, 0.30, 0.65, 1.70 (of the rate drawn: 0.09, 0.19, 0.35, 0.62, 1.56; its range 0.05 to 3);
English ivy 0.05, 0.20, 0.35, 0.75, 1.75 (0.09, 0.22, 0.41, 0.71, 1.66; 0.05 to 3).
A replicate's rate adds to the drawn one the luck of 20 crops and of small numbers, and loses what leaves the site.
"""

from functools import cache
from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import load_vine
from spreadsim.model.parameters import quantile

from .helpers import ERRORS
from .small import go, meadow
from .strategies import VINES, with_values

CROPS, LAG, REPLICATES = 20, 2, 600


@cache
def founded(vine: str) -> tuple[Any, Any, Any]:
    """Patches per host and year, those that the seed kept on the site should found, and the drawn rate."""
    # a fence of 1.5 m is no perch and can't fall
    host = {"x": [500.0], "y": [500.0], "state": ["fruiting"], "kind": ["fence"], "height": [1.5], "top_light": [1.0]}
    site = meadow(200, 200, cover=0.0, cell_size=5.0, canopy=np.full((200, 200), 0.5), hosts=host)
    prompt = with_values(load_vine(vine), seed__seed_bank_life=0.0, seed__years_seed_to_patch=float(LAG))
    options: dict[str, Any] = {"replicates": REPLICATES, "fixed": False, "processes": ("birds", "seedlings")}
    data = go(site, years=CROPS + LAG, vine=prompt, **options)
    seeds, exported = (data[name].values[:, 1 : CROPS + 1].sum(axis=1) for name in ("seeds_produced", "seeds_exported"))
    rate = data["seed.patches_founded"].values
    staying = 1.0 - exported / (seeds * data["seed.share_taken_by_birds"].values)
    crop = seeds / (CROPS * data["seed.fruits_per_host"].values * data["seed.seeds_per_fruit"].values)
    return data["new_patches"].values[:, 1:].sum(axis=1) / CROPS, rate * staying * crop, rate


@pytest.mark.parametrize("vine", VINES)
def test_as_many_patches_are_founded_as_drawn(vine: str):
    patches, expected, rate = founded(vine)
    # the seed that stays founds them at the drawn rate: no bias beyond 4.9 standard errors
    difference = patches - expected
    assert abs(difference.mean()) <= ERRORS * difference.std(ddof=1) / np.sqrt(REPLICATES)
    parameter = load_vine(vine)["seed.patches_founded"]
    assert parameter.low <= rate.min() and rate.max() <= parameter.high


@pytest.mark.parametrize("vine", VINES)
def test_median_and_spread_are_those_of_the_drawn_rate(vine: str):
    patches, _, rate = founded(vine)
    parameter = load_vine(vine)["seed.patches_founded"]
    # quantiles of the draws: 4.9 standard errors of a rank
    for q in (0.05, 0.5, 0.95):
        below = (rate <= quantile(parameter, q)).mean()
        assert abs(below - q) <= ERRORS * np.sqrt(q * (1 - q) / REPLICATES)
    # of what is founded: crops vary, so the median lies somewhat lower and the spread is no less
    assert 0.75 <= np.median(patches) / quantile(parameter, 0.5) <= 1.15
    low, high = np.quantile(patches, [0.05, 0.95])
    assert high - low >= 0.9 * (quantile(parameter, 0.95) - quantile(parameter, 0.05))
    assert high <= 1.5 * quantile(parameter, 0.95)
