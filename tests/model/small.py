"""Small invented sites and plain crews for tests of behaviour, and a run of them without maps."""

from typing import Any

import numpy as np
import xarray as xr

from spreadsim import simulate
from spreadsim.inputs import Crew, Site, Strategy, Task, Treatment, Vine, load_treatment, load_vine

from .strategies import NIL, with_values

SIDE = 2.0  # m, of a cell
PER_CELL = 0.4  # h, of `steady`
ALL_DAY = 92.0  # days fit to spray in a season: no limit
LOTS = 1e5  # h
ALL_HANDS = (Crew("staff", LOTS),)
NO_LOOK_ALIKES = with_values(load_treatment("scout"), misidentified=0.0)  # no time lost on new ground


def meadow(rows: int = 10, columns: int = 10, cover: float = 1.0, **layers: Any) -> Site:
    """Open ground in full light; mat all over, or as a layer of it."""
    mat = layers.pop("mat", np.full((rows, columns), cover))
    return Site.from_arrays(layers.pop("cell_size", SIDE), mat=mat, **layers)


def steady(name: str = "pull", **values: float) -> Treatment:
    """A treatment of mat that takes 0.1 h/m2 whatever the cover: 0.4 h for a whole cell of 2 m."""
    same = {"hours_per_area": 0.1, "hours_floor": 1.0, "kill_variation": 0.0} | values
    return with_values(load_treatment(name), **same)


def still(name: str = "wintercreeper", **values: float) -> Vine:
    """A vine whose mat stays where it is."""
    return with_values(load_vine(name), **({"mat__front_speed": NIL} | values))


def go(
    site: Site,
    *tasks: Task,
    crews: Any = ALL_HANDS,
    years: int = 1,
    replicates: Any = 3,
    vine: Vine | None = None,
    seed: int = 11,
    fixed: bool = True,
    reserve: bool = True,
    maps: str = "none",
    treatments: Any = (),
    **more: Any,
) -> xr.Dataset:
    """Simulate tasks on a site, parameters at their defaults unless `fixed` is off; no time is lost on look-alikes."""
    if all(treatment.name != "scout" for treatment in treatments):
        treatments = [*treatments, NO_LOOK_ALIKES]
    strategy = Strategy("work" if tasks else "no action", tasks=tasks, reserve_follow_up=reserve)
    return simulate(
        site,
        vine or load_vine("wintercreeper"),
        strategy,
        crews=crews if tasks else (),
        years=years,
        replicates=replicates,
        seed=seed,
        fixed_parameters=fixed,
        maps=maps,
        treatments=treatments,
        **more,
    )


def by_season(data: xr.Dataset, name: str) -> Any:
    """Values of an outcome of work, summed over tasks, without year 0: (replicates, years, 4)."""
    values = data[name].sum("task") if "task" in data[name].dims else data[name]
    return values.values[:, 1:]


def at_end(data: xr.Dataset, name: str) -> Any:
    """Values of a yearly outcome in the last year, by replicate."""
    return data[name].values[:, -1].astype("f8")
