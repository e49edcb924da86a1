"""Averages over all replicates for the page's charts, and which replicates are shown."""

from typing import Any

import numpy as np
import xarray as xr

from spreadsim.inputs import units
from spreadsim.inputs.strategy import NO_ACTION
from spreadsim.views.class_page.words import pretty

# an ordinary run first, then a mild and a bad one, then one in between
_PLACES = (0.5, 0.1, 0.9, 0.7, 0.3, 0.0, 1.0)
MOST_LUCKS = len(_PLACES)


def shown_area(system: str) -> tuple[float, str]:
    """What a square metre is in the unit that is shown, and the unit."""
    factor, unit = units.display(1.0, "area", system)
    return factor, pretty(unit)


def averages(outcomes: xr.Dataset, factor: float) -> dict[str, dict[str, list[float]]]:
    """Mean over replicates by strategy, outcome and year, in the units of the page's charts.

    Parameters
    ----------
    outcomes
        What `compare` returned.
    factor
        What a square metre is in the unit that is shown.
    """
    values = {
        "mat_area": outcomes["mat_area"] * factor,
        "climbed": outcomes["climbed_hosts"],
        "fruiting": outcomes["fruiting_hosts"],
        "rooted": outcomes["new_patches"].fillna(0.0).cumsum("year"),
        "hours": outcomes["hours"].sum(["season", "task"]).cumsum("year"),
    }
    means = {name: one.astype("f8").mean("replicate").transpose("strategy", "year") for name, one in values.items()}
    return {
        str(name): {key: [round(float(v), 1) for v in mean.values[s]] for key, mean in means.items()}
        for s, name in enumerate(outcomes["strategy"].values)
    }


def choose_lucks(outcomes: xr.Dataset, number: int) -> list[int]:
    """Choose replicates that differ: by how far the vine comes in them if nothing is done.

    Parameters
    ----------
    outcomes
        What `compare` returned.
    number
        How many, at most `MOST_LUCKS`; fewer if there are no more.

    Returns
    -------
    list of int
        Numbers of replicates, the ordinary one first.
    """
    names = [str(name) for name in outcomes["strategy"].values]
    row = outcomes["infested_area"].isel(strategy=names.index(NO_ACTION) if NO_ACTION in names else 0, year=-1)
    order: Any = outcomes["replicate"].values[np.argsort(row.values, kind="stable")]
    places = [round(place * (order.size - 1)) for place in _PLACES]
    return [int(order[place]) for place in dict.fromkeys(places)][:number]
