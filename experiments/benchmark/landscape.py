"""Cost of a replicate against the landscape: the same vine in 25, 100 and 400 ha. Work follows the vine, not the map.

The sites are invented (`sites.py`): the middle 4 ha, with all of the mat, the climbed hosts, the units, the work and the
gardens that seed comes from, are the same in all; around them lies more of the same wood, with as many hosts to the
hectare. All processes, no action and one strategy; storms are left out, since the same number meets less vine on more ground. Replicates are timed inside the engine (reading and packing the site are not counted), without maps; the sizes
take turns, replicate by replicate, so that a drift of the machine meets all. The figure is the median, over replicates,
of the ratio of a size's time to that of the next smaller one in the same replicate (of each the least of several passes).
Birds carry some seed out of the small site, where it is lost, that lands in the large one, so the large ones have a
little more vine; the infested area at the end is told beside it.
"""

from collections.abc import Sequence

import numpy as np
from plans import experiment
from replicates import Replicates
from report import Row, finish, parser, tell
from sites import draw_site

CHOSEN = ("no action", "both together")


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--hectares", type=int, nargs="+", default=[25, 100, 400])
    taken.add_argument("--infested", type=float, default=5000.0, help="mat at the start, m2")
    taken.add_argument("--middle", type=int, default=4, help="hectares that hold all of it")
    taken.add_argument("--years", type=int, default=30)
    taken.add_argument("--replicates", type=int, default=40)
    taken.add_argument("--passes", type=int, default=5)
    asked = taken.parse_args(arguments)
    sizes = sorted(asked.hectares)
    runs = []
    for hectares in sizes:
        site = draw_site(hectares, infested=asked.infested, middle=asked.middle, patches=12)
        runs.append(Replicates(experiment(site, years=asked.years, chosen=CHOSEN, storms=0.0), asked.replicates))
    for each in runs:
        each.run(0)
    times = np.full((asked.passes, asked.replicates, len(sizes)), np.inf)
    for turn in range(asked.passes):
        for i in range(asked.replicates):
            for place, each in enumerate(runs):
                times[turn, i, place] = each.seconds(i)
    least = times.min(axis=0)
    real = sizes == [25, 100, 400] and asked.years == 30
    rows = []
    for place, hectares in enumerate(sizes):
        at = f"landscape, {hectares} ha"
        rows.append(Row(f"{at}: median time of a replicate (two strategies)", 1000 * np.median(least[:, place]), "ms"))
        area = runs[place].yearly("infested_area")[..., -1].mean()
        rows.append(Row(f"{at}: infested area at the end", area, "m2"))
        if place:
            ratio = float(np.median(least[:, place] / least[:, place - 1]))
            before = runs[place - 1].yearly("infested_area")[..., -1].mean()
            rows.append(
                Row(f"{at} / {sizes[place - 1]} ha: time a replicate", ratio, "times", most=1.1 if real else None)
            )
            rows.append(Row(f"{at} / {sizes[place - 1]} ha: infested area at the end", area / before, "times"))
    tell(rows)
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
