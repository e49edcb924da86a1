"""Mat and hosts, against mesa, a general-purpose agent framework from PyPI (extra `bench`); one thread each.

The same small invented site, the same years and the same drawn numbers of the vine. Ours runs the processes mat and
climbing, timed inside the engine as in `mat_alone`; theirs is `agent_model.py`, without building the model. The figure
is the ratio of their times per replicate.
"""

from collections.abc import Sequence

from agent_model import Wood
from clock import now
from replicates import Replicates, bare_experiment
from report import Row, finish, parser, tell
from sites import CELL, draw_site

import spreadsim


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--hectares", type=int, default=4)
    taken.add_argument("--share", type=float, default=0.02, help="of the ground infested at the start")
    taken.add_argument("--years", type=int, default=30)
    taken.add_argument("--replicates", type=int, default=200, help="of ours in a pass")
    taken.add_argument("--agent-replicates", type=int, default=2, help="of theirs, the first ones of the same")
    taken.add_argument("--passes", type=int, default=5, help="of ours; the best counts")
    asked = taken.parse_args(arguments)
    site = draw_site(asked.hectares, share=asked.share, patches=3)
    vine = spreadsim.load_vine("wintercreeper")
    shares = tuple(float(part) for part in vine["mat.growth_share_by_season"].value)
    number = max(asked.replicates, asked.agent_replicates)
    ours = Replicates(bare_experiment(site, vine, asked.years), number, processes=("mat", "climbing"))
    best = ours.best(asked.passes)
    times, first, last, climbed = [], 0.0, 0.0, 0.0
    for i in range(asked.agent_replicates):
        wood = Wood(site, ours.vines[i], shares, seed=i)
        start = now()
        record = wood.run_years(asked.years)
        times.append(now() - start)
        first += record[0][0] * CELL**2
        last += record[-1][0] * CELL**2
        climbed += record[-1][1]
    some = slice(0, asked.agent_replicates)
    area = ours.yearly("infested_area")[0, some].mean(axis=0)
    our_climbed = ours.yearly("climbed_hosts")[0, some, -1].mean()
    at = f"mat and hosts, {asked.hectares} ha, {len(site.hosts):,} hosts, {asked.years} years"
    cell_years = site.mat.size * asked.years
    rows = [
        Row(f"{at}: agents / ours, time a replicate", min(times) / best, "times", least=1000.0),
        Row(f"{at}: ours", 1e9 * best / cell_years, "ns a cell and year"),
        Row(f"{at}: agents", 1e9 * min(times) / cell_years, "ns a cell and year"),
        Row(f"{at}: infested area at the end / at the start, ours", area[-1] / area[0], "times"),
        Row(f"{at}: infested area at the end / at the start, agents", last / first, "times"),
        Row(f"{at}: climbed hosts at the end, ours", our_climbed, "hosts"),
        Row(f"{at}: climbed hosts at the end, agents", climbed / asked.agent_replicates, "hosts"),
    ]
    tell(rows)
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
