"""The mat alone, against the same ground as a lattice vectorised in numpy over all cells; one thread each.

Both sides run the same replicates (the same front speeds, thickening and shade, drawn from the vine's ranges), with no
action, and note the area infested by year; neither draws maps nor builds datasets. Ours is timed inside the engine,
theirs is `lattice.py`. The two are timed in turn, and of each the best of several passes counts. The figure is the
ratio of their times per replicate, at 0.1, 2 and 30 % of the ground infested at the start.

What ours costs follows the length of the front, so the same share in many small patches is dearer than in one. Patches are of
one mean size at every share, that of the flagship's (333 m2): 1, 24 and 360 of them. --patches takes another number of them.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from lattice import Lattice
from replicates import Replicates, bare_experiment
from report import Row, finish, parser, tell
from sites import CELL, FULL_MAT, draw_site

import spreadsim

PATCH = 333.0  # m2, on average
TARGETS = {0.001: 300.0, 0.02: 25.0, 0.3: 4.0}


def both(share: float, asked: Any) -> dict[str, Any]:
    """Seconds a replicate of both sides, and the area that each has infested in the end."""
    years, of_lattice = asked.years, asked.lattice_replicates
    patches = asked.patches or max(1, round(share * asked.hectares * 1e4 / PATCH))
    site = draw_site(asked.hectares, share=share, hosts_per_hectare=0, patches=patches)
    vine = spreadsim.load_vine("wintercreeper")
    ours = Replicates(bare_experiment(site, vine, years), max(asked.replicates, of_lattice), processes=("mat",))
    shares = tuple(float(part) for part in vine["mat.growth_share_by_season"].value)
    lattice = Lattice(site.canopy, site.plantable, site.mat / FULL_MAT, CELL, shares)
    times: dict[str, list[float]] = {"ours": [], "lattice": []}
    areas = np.zeros((of_lattice, years + 1))
    for _ in range(asked.passes):
        times["ours"].append(ours.best(1))
        took = 0.0
        for i in range(of_lattice):
            lattice.prepare(ours.vines[i])
            counts, seconds = lattice.timed(years)
            areas[i] = counts * CELL**2
            took += seconds
        times["lattice"].append(took / of_lattice)
    infested = ours.yearly("infested_area")[0]
    return {
        "patches": patches,
        "ours": min(times["ours"]),
        "lattice": min(times["lattice"]),
        "growth of ours": infested[:of_lattice, -1].mean() / infested[:of_lattice, 0].mean(),
        "growth of lattice": areas[:, -1].mean() / areas[:, 0].mean(),
    }


def rows_of(share: float, found: dict[str, Any], hectares: int, years: int) -> list[Row]:
    """What was found at one share."""
    at = f"mat alone, {100 * share:g} % infested at the start (patches drawn: {found['patches']}, {hectares} ha, {years} years)"
    flagship = hectares == 40 and years == 30
    return [
        Row(
            f"{at}: numpy lattice / ours, time a replicate",
            found["lattice"] / found["ours"],
            "times",
            least=TARGETS.get(share) if flagship else None,
        ),
        Row(f"{at}: ours", 1000 * found["ours"], "ms a replicate"),
        Row(f"{at}: numpy lattice", 1000 * found["lattice"], "ms a replicate"),
        Row(f"{at}: infested area at the end / at the start, ours", found["growth of ours"], "times"),
        Row(f"{at}: infested area at the end / at the start, lattice", found["growth of lattice"], "times"),
    ]


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--shares", type=float, nargs="+", default=list(TARGETS), help="infested at the start, 0 to 1")
    taken.add_argument("--patches", type=int, help="number of patches, in place of one for each 333 m2")
    taken.add_argument("--hectares", type=int, default=40)
    taken.add_argument("--years", type=int, default=30)
    taken.add_argument("--replicates", type=int, default=200, help="of ours in a pass")
    taken.add_argument(
        "--lattice-replicates", type=int, default=10, help="of the lattice in a pass; its cost varies less"
    )
    taken.add_argument("--passes", type=int, default=5)
    asked = taken.parse_args(arguments)
    rows: list[Row] = []
    for share in asked.shares:
        found = both(share, asked)
        new = rows_of(share, found, asked.hectares, asked.years)
        tell(new)
        rows += new
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
