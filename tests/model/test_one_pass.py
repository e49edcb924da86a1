"""What is left ten years after one pass of each treatment, nobody coming back.

Mattingly et al. 2016 (J. Torrey Bot. Soc. 143:103-116; from the abstract, as cited in parameters.csv): vine cover is
back within ten years of one treatment without follow-up; a year under a tarp alone has a lasting effect. The
threshold of 0.85 is ours, and so is the shade: canopy 0.8, as in a wood. Found, as a share of the cover that no action
has after ten years (parameters at their defaults; mean over drawn ones):

    canopy   pull        mow         graze       mulch       foliar spray  tarp
    0        1.00; 1.00  1.00; 1.00  1.00; 1.00  1.00; 0.99  1.00; 0.99    0.97; 0.95
    0.5      1.00; 0.99  1.00; 1.00  1.00; 0.99  0.99; 0.98  0.99; 0.98    0.91; 0.88
    0.8      0.99; 0.98  1.00; 0.99  0.99; 0.99  0.98; 0.96  0.98; 0.96    0.83; 0.82
    1        0.98; 0.96  1.00; 0.99  0.99; 0.98  0.96; 0.93  0.96; 0.93    0.75; 0.75

So the tarp leaves the least everywhere, but that it LASTS by this threshold holds in shade only, and not by much: at
canopy 0.8 half of the drawn worlds are back under it, too; in the open and in half shade the model does not show it.
"""

from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import Crew, Task, Weather, load_vine

from .small import ALL_DAY, LOTS, go, meadow

SINGLE = {
    "pull": "winter",
    "mow": "summer",
    "graze": "summer",
    "mulch": "winter",
    "foliar-spray": "winter",
    "tarp": "winter",
}
BACK = 0.85


def share_left(treatment: str, fixed: bool, canopy: float = 0.8) -> Any:
    """Living cover 10 years after one pass over a mat of 14 m x 14 m, by replicate, relative to no action."""
    site = meadow(7, 7, canopy=np.full((7, 7), canopy))
    options: dict[str, Any] = {
        "years": 11,
        "replicates": 200,
        "fixed": fixed,
        "vine": load_vine("wintercreeper"),
        "weather": Weather((ALL_DAY,) * 4),
    }
    task = Task(treatment, years=(1, 1), seasons=[SINGLE[treatment]])
    treated = go(site, task, crews=(Crew("all", LOTS),), **options)
    assert (treated["area_treated"].sum(("season", "task")).values[:, 1] == 196.0).all()
    alone = go(site, **options)["mat_area"].values[:, 11]
    return treated["mat_area"].values[:, 11] / alone


@pytest.mark.parametrize("fixed", [True, False])
@pytest.mark.parametrize("treatment", [name for name in SINGLE if name != "tarp"])
def test_one_pass_is_undone_within_ten_years(treatment: str, fixed: bool):
    assert share_left(treatment, fixed).mean() >= BACK


@pytest.mark.parametrize("fixed", [True, False])
def test_a_year_of_tarp_lasts_in_shade(fixed: bool):
    assert share_left("tarp", fixed).mean() < BACK


@pytest.mark.parametrize("canopy", [0.0, 0.5, 0.8, 1.0])
def test_a_year_of_tarp_leaves_less_than_any_other_single_pass(canopy: float):
    left = {name: share_left(name, True, canopy).mean() for name in SINGLE}
    assert all(left["tarp"] < 0.99 * left[name] for name in SINGLE if name != "tarp"), left
