"""Where the time of a run goes: by process, and by arrival, host and season, and seed, against what the machine can do.

By process: replicates of the flagship's site with the processes added one after another, and with each left out (with all
that follows from that: without birds there are fewer patches), for no action and for one strategy. By unit: see
`unit_costs.py`. Against the machine: bare loops over the same records and draws, see `probe.py`; LIMIT.md says what they
stand for. One thread, inside the engine.
"""

from collections.abc import Sequence

import probe
import unit_costs
from plans import experiment
from replicates import PROCESSES, Replicates
from report import Row, finish, parser, tell
from sites import draw_site

from spreadsim.model.compiled import layout

ORDER = ("mat", "climbing", "birds", "seedlings", "trees", "natives", "events", "work")
WORKED = "both together"


def by_process(hectares: int, years: int, number: int, passes: int) -> list[Row]:
    """Milliseconds a replicate with processes added, and left out."""
    site = draw_site(hectares, share=0.02)
    sets: list[tuple[str, tuple[str, ...], bool]] = [
        (f"with {name} added", ORDER[: place + 1], False) for place, name in enumerate(ORDER)
    ]
    sets.append(("all, maps summed", PROCESSES, True))
    sets += [(f"all but {out}", tuple(name for name in PROCESSES if name != out), False) for out in ORDER]
    rows = []
    for chosen, what in (("no action", "no action"), (WORKED, f"no action and {WORKED}")):
        asked = experiment(site, years=years, chosen=("no action", chosen))
        runs = [Replicates(asked, number, names, range(years + 1) if maps else ()) for _, names, maps in sets]
        for each in runs:
            each.run(0)
        for (name, _, _), took in zip(sets, unit_costs.least(passes, *runs), strict=True):
            rows.append(Row(f"{what}, {name}", 1000 * took, "ms a replicate"))
    return rows


NAMES = {
    "mapped": "a mapped cell at the start",
    "survey": "a cell surveyed and recorded in a year",
    "arrival": "an arrival",
    "host": "a host in mat and season",
    "crop": "a crop (fruiting host and fruit season)",
    "candidate": "a candidate seed",
}


def by_unit(hectares: int, years: int, passes: int) -> list[Row]:
    """Nanoseconds a unit, against the floors; and the bill of a replicate without action, against its time."""
    costs = unit_costs.of_mat(hectares, 0.02, years, passes)
    costs |= unit_costs.of_hosts(hectares, 0.3, years, passes)
    costs |= unit_costs.of_seeds(hectares, 0.3, years, passes)
    rows, columns = draw_site(hectares, share=0.02, hosts_per_hectare=0).mat.shape
    neighbours = probe.gather_ns(rows, columns, rows * columns // 5)
    floors = {
        "mapped": neighbours,
        "survey": probe.survey_ns(rows * columns // 10),
        "arrival": 2.0 * neighbours,  # it looks at its neighbours, and then tells them
        "host": probe.risk_ns(2000),
        "crop": 4.0 * probe.draw_ns(),
        "candidate": probe.land_ns(),
    }
    runs, often = unit_costs.counts(hectares, 0.02, years)
    took = 1e9 * unit_costs.least(passes, runs)[0]
    found = []
    for name, meaning in NAMES.items():
        found += [
            Row(meaning, costs[name], "ns"),
            Row(f"{meaning}: floor", floors[name], "ns"),
            Row(f"{meaning} / its floor", costs[name] / floors[name], "times"),
        ]
    at = "bill of a replicate without action"
    found += [
        Row(f"{at}: {meaning}, {often[name]:,.0f} times", often[name] * costs[name] / 1e6, "ms")
        for name, meaning in NAMES.items()
    ]
    bill, floor = (sum(often[name] * each[name] for name in NAMES) for each in (costs, floors))
    found += [
        Row(f"{at}: in all", bill / 1e6, "ms"),
        Row(f"{at}: floor", floor / 1e6, "ms"),
        Row("a replicate without action, measured", took / 1e6, "ms"),
        Row("a replicate without action, measured / bill", took / bill, "times"),
        Row("a replicate without action, measured / floor", took / floor, "times"),
    ]
    return found


def machine(hectares: int) -> list[Row]:
    """What the machine gives, and what the records weigh."""
    cells = round(hectares * 1e4 / 4)
    record = layout.CELL.itemsize + layout.GROUND.itemsize + layout.STAND.itemsize + layout.CARE.itemsize
    return [
        Row("a keyed pair of uniforms", probe.draw_ns(), "ns"),
        Row("a word from anywhere in 1 MiB", probe.latency_ns(2**20), "ns"),
        Row("a word from anywhere in all cells' records", probe.latency_ns(cells * record), "ns"),
        Row("copying 256 kiB", probe.bandwidth(2**18), "GB/s"),
        Row("copying 64 MiB", probe.bandwidth(2**26), "GB/s"),
        Row("records of a cell (state and ground)", record, "B"),
        Row("records of all cells", cells * record / 2**20, "MiB"),
        Row("what the front looks at of 16 neighbours: kind, expected arrival, canopy", 16 * 17, "B"),
        Row("record of a host (state and place)", layout.HOST_STATE.itemsize + layout.HOST.itemsize, "B"),
        Row("record of a seedling", layout.SEEDLING.itemsize, "B"),
    ]


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--hectares", type=int, default=40)
    taken.add_argument("--years", type=int, default=30)
    taken.add_argument("--replicates", type=int, default=20)
    taken.add_argument("--passes", type=int, default=5)
    asked = taken.parse_args(arguments)
    rows = machine(asked.hectares)
    rows += by_unit(asked.hectares, asked.years, asked.passes)
    rows += by_process(asked.hectares, asked.years, asked.replicates, asked.passes)
    tell(rows)
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
