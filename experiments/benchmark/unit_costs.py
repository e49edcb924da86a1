"""What one arrival, one cell surveyed, one host and season, one crop and one candidate seed cost, ns.

Each comes from runs that differ in nothing else: a mat that stands still (a front of a millionth of a metre a year) for 30
years and for one; the same mat moving; hosts that are looked at and never climbed; fruiting hosts without and with seeds that
may settle. Parameters are at their defaults, with no action, one thread, inside the engine. Runs that are taken from one
another take turns, and of each the least of several passes counts.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from replicates import PROCESSES, Replicates, bare_experiment
from sites import draw_site

import spreadsim

STILL = {"mat.front_speed": 1e-6}
UNCLIMBED = {"climb.climb_rate": 1e-9}
SEEDS = {"seed.patches_founded": 3.0}
NO_SEEDS = {"seed.patches_founded": 1e-9}


def runs_of(
    site: Any, years: int, number: int, processes: Sequence[str], values: Mapping[str, float], maps: bool = False
) -> Replicates:
    """Replicates without action under changed numbers of the vine."""
    vine = spreadsim.load_vine("wintercreeper").replace(dict(values), check_ranges=False)
    made = Replicates(
        bare_experiment(site, vine, years, fixed=True), number, processes, range(years + 1) if maps else ()
    )
    for i in range(number):
        made.run(i)
    return made


def least(passes: int, *each: Replicates) -> list[float]:
    """Mean seconds a replicate of each, the least of several passes taken in turn."""
    times = np.array(
        [[sum(one.seconds(i) for i in range(one.number)) / one.number for one in each] for _ in range(passes)]
    )
    return [float(value) for value in times.min(axis=0)]


def of_mat(hectares: int, share: float, years: int, passes: int, number: int = 3) -> dict[str, float]:
    """Costs of a mapped cell, a cell surveyed in a year, and an arrival, ns; and arrivals a replicate."""
    site = draw_site(hectares, share=share, hosts_per_hectare=0, outside=False)
    short, still, moving = (
        runs_of(site, 1, number, ("mat",), STILL),
        runs_of(site, years, number, ("mat",), STILL),
        runs_of(site, years, number, ("mat",), {}),
    )
    counted = runs_of(site, years, number, ("mat",), {}, maps=True).occupied()[0] / number
    mapped = float(counted[0])
    first, whole, spread = least(passes, short, still, moving)
    survey = (whole - first) / ((years - 1) * mapped)
    arrivals = float(counted[-1]) - mapped
    begun = first - survey * mapped * 2
    arrival = (spread - begun - survey * float(counted.sum())) / arrivals
    return {"mapped": 1e9 * begun / mapped, "survey": 1e9 * survey, "arrival": 1e9 * arrival, "arrivals": arrivals}


def of_hosts(hectares: int, share: float, years: int, passes: int, number: int = 3) -> dict[str, float]:
    """Cost of a bare host in mat, a season, ns; and host-seasons a replicate."""
    site = draw_site(hectares, share=share, outside=False)
    changed = STILL | UNCLIMBED
    without, seen = (runs_of(site, years, number, names, changed) for names in (("mat",), ("mat", "climbing")))
    base, more = least(passes, without, seen)
    in_mat = int((site.mat.ravel()[site.hosts.cell] > 0).sum())
    return {"host": 1e9 * (more - base) / (4 * years * in_mat), "host-seasons": 4.0 * years * in_mat}


def candidates(runs: Replicates) -> float:
    """Mean number of candidate landings a replicate, by ODD.md 7.3, from the seeds that were shed."""
    from spreadsim.model.compiled import layout

    vine, numbers = runs.vines[0], runs.engine.ground.numbers
    seeds = float(np.nansum(runs.yearly("seeds_produced")[0])) / runs.number
    chain = np.prod([vine[name] for name in ("microsite_share", "germination", "first_winter_survival")])
    chain *= vine["seedling_to_rooted_patch"]
    open_woodland = 1.0 - (1.0 - vine["shade_factor"]) / 2.0
    perched = vine["perch_bias_open"] * numbers[layout.PERCH_OPEN_SUM]
    perched += vine["perch_bias_forest"] * numbers[layout.PERCH_FOREST_SUM]
    mean = (numbers[layout.AWAY_SUM] + perched) / numbers[layout.PLANTABLE_SUM]
    beneath = max(1.0, vine["release_factor"]) / open_woodland
    by_bird = beneath * max(1.0, vine["perch_bias_open"], vine["perch_bias_forest"]) / mean
    taken = vine["share_taken_by_birds"]
    return float(seeds * chain * (taken * by_bird + (1.0 - taken) * beneath))


def of_seeds(hectares: int, share: float, years: int, passes: int, number: int = 3) -> dict[str, float]:
    """Costs of a crop (a fruiting host in a fruit season) and of a candidate landing, ns; and candidates a replicate."""
    site = draw_site(hectares, share=share, outside=False)
    without, barren, fertile = (
        runs_of(site, years, number, names, STILL | values)
        for names, values in ((("mat",), NO_SEEDS), (("mat", "birds"), NO_SEEDS), (("mat", "birds"), SEEDS))
    )
    base, crops, seeds = least(passes, without, barren, fertile)
    fruiting = float(barren.yearly("fruiting_hosts")[0, 0, 1:].sum())  # wintercreeper has one fruit season a year
    fell = candidates(fertile)
    return {
        "crop": 1e9 * (crops - base) / fruiting,
        "candidate": 1e9 * (seeds - crops) / fell,
        "candidates": fell,
    }


def counts(hectares: int, share: float, years: int, number: int = 3) -> tuple[Replicates, dict[str, float]]:
    """All processes without action on a site with hosts and no seed from outside: how often a replicate does what."""
    site = draw_site(hectares, share=share, outside=False)
    runs = runs_of(site, years, number, PROCESSES, {}, maps=True)
    occupied = np.stack([runs.sums.total(0, slot).occupied for slot in range(years + 1)]) / number  # years + 1, cells
    cells = occupied.sum(axis=1)
    return runs_of(site, years, number, PROCESSES, {}), {
        "mapped": float(cells[0]),
        "survey": float(cells.sum()),
        "arrival": float(cells[-1] - cells[0]),
        "host": 4.0 * float(occupied[1:, site.hosts.cell].sum()),
        "crop": float(runs.yearly("fruiting_hosts")[0, :, 1:].sum()) / number,
        "candidate": candidates(runs),
    }
