"""The flagship: 6 strategies x 1,000 replicates x 30 years on 40 ha at 2 m with 12,000 hosts, all processes, maps summed.

The site is invented (`sites.py`), with 2 % of its ground infested at the start; `plans.py` has the strategies, crews,
money, weather and events. What is timed is `spreadsim.compare` into a folder, outcomes and maps written, in a process
of its own, compiled beforehand; compiling is told apart. "Running" ends with the last replicate, "in all" with the
finished file. One thread and all threads are measured in turn, and the median of the ratios counts; memory is the most
that a process held, at N and at 10 N replicates. To have figures that travel, the time of a run is also told in runs of the
numpy lattice (`lattice.py`) over the same ground in the same half minute.
"""

import json
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from typing import Any

from children import peak_mib, run
from lattice import Lattice
from plans import experiment
from replicates import Replicates, bare_experiment
from report import Row, finish, parser, tell
from sites import CELL, FULL_MAT, draw_site

import spreadsim
from spreadsim.runs.pool import cores

SECONDS, STRETCH = 30.0, 12.0
RUNS = 6000  # of the target


def one(replicates: int, workers: int, hectares: int, years: int) -> dict[str, float]:
    """Time and memory of one comparison in this process."""
    site = draw_site(hectares, share=0.02)
    asked = experiment(site, years=years)
    before = peak_mib()
    last = [0.0]

    def note(done: int, total: int) -> None:
        last[0] = time.perf_counter()

    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        outcomes = spreadsim.compare(asked, replicates=replicates, workers=workers, folder=folder, progress=note)
        end = time.perf_counter()
        strategies = outcomes.sizes["strategy"]
        outcomes.close()
    return {
        "running": last[0] - start,
        "in all": end - start,
        "peak": peak_mib(),
        "before": before,
        "runs": replicates * strategies,
    }


def lattice_seconds(hectares: int, years: int, times: int) -> float:
    """Time of one replicate of the numpy lattice over the same ground."""
    site = draw_site(hectares, share=0.02)
    vine = spreadsim.load_vine("wintercreeper")
    shares = tuple(float(part) for part in vine["mat.growth_share_by_season"].value)
    lattice = Lattice(site.canopy, site.plantable, site.mat / FULL_MAT, CELL, shares)
    lattice.prepare(Replicates(bare_experiment(site, vine, years, fixed=True), 1, processes=("mat",)).vines[0])
    return min(lattice.timed(years)[1] for _ in range(times))


def compiling(child: Callable[..., dict[str, Any]]) -> Row:
    """Compile into a new cache, and take off what the same comparison takes when that is done."""
    took = []
    with tempfile.TemporaryDirectory() as cache:
        for _ in range(2):
            start = time.perf_counter()
            child(1, 1, SPREADSIM_CACHE=cache)
            took.append(time.perf_counter() - start)
    return Row("flagship: compiling all kernels (a cold cache less a warm one)", took[0] - took[1], "s")


def memory(asked: Any, at: str, child: Callable[..., dict[str, Any]]) -> list[Row]:
    """Most memory at N and at 10 N replicates, of as many years as are asked for or fewer, so that 10 N take minutes."""
    years = asked.memory_years or asked.years
    at = at if years == asked.years else f"{at} (memory: {years} years)"
    few, many = (child(n * asked.memory, cores(), years) for n in (1, 10))
    ratio = many["peak"] / few["peak"]
    return [
        Row(f"{at}: most memory, {10 * asked.memory:,} / {asked.memory:,} replicates", ratio, "times", most=1.1),
        Row(f"{at}: most memory, {asked.memory:,} replicates", few["peak"], "MiB", most=600.0),
        Row(f"{at}: most memory, {10 * asked.memory:,} replicates", many["peak"], "MiB", most=600.0),
        Row(f"{at}: memory with the site read, before running", few["before"], "MiB"),
    ]


def measure(asked: Any) -> list[Row]:
    """All children, one after another."""

    def child(replicates: int, workers: int, years: int = asked.years, **settings: str) -> dict[str, Any]:
        ground = ("--hectares", asked.hectares, "--years", years)
        return run("flagship.py", "--child", replicates, "--workers", workers, *ground, **settings)

    every = cores()
    rows = [compiling(child)] if asked.compile else []
    child(1, 1)  # compiles, if nothing did yet
    pairs = [(child(asked.replicates, every), child(asked.replicates, 1)) for _ in range(asked.repeats)]
    whole = min((many for many, _ in pairs), key=lambda found: found["in all"])
    lattice = lattice_seconds(asked.hectares, asked.years, asked.repeats + 2)

    def ratio(what: str) -> float:
        return statistics.median(few[what] / few["runs"] / (many[what] / many["runs"]) for many, few in pairs)

    real = (asked.hectares, asked.years) == (40, 30)
    at = f"flagship, {asked.hectares} ha, {asked.years} years, {whole['runs']:,} runs"
    a_run = whole["running"] / whole["runs"]
    expected = whole["in all"] + a_run * max(0, RUNS - whole["runs"])
    rows += [
        Row(f"{at}: running, {every} threads", whole["running"], "s"),
        Row(f"{at}: in all, {every} threads", whole["in all"], "s"),
        Row(
            f"{at}: in all for {RUNS:,} runs{'' if whole['runs'] == RUNS else ' (reckoned)'}",
            expected,
            "s",
            most=SECONDS if real else None,
        ),
        Row(f"{at}: the same against the stretch target", expected / STRETCH, "times", most=1.0 if real else None),
        Row(f"{at}: a run, {every} threads", 1000 * a_run, "ms"),
        Row(f"{at}: a run x threads / a replicate of the numpy lattice", a_run * every / lattice, "times"),
        Row(f"{at}: 1 thread / {every} threads, running", ratio("running"), "times", least=1.9 if every == 2 else None),
        Row(f"{at}: 1 thread / {every} threads, in all", ratio("in all"), "times"),
    ]
    if asked.memory:
        rows += memory(asked, at, child)
    return rows


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--replicates", type=int, default=1000)
    taken.add_argument("--repeats", type=int, default=1, help="of all threads and one thread in turn")
    taken.add_argument(
        "--compile", action="store_true", help="also compile into a new cache and tell how long it takes"
    )
    taken.add_argument("--memory", type=int, default=1000, help="N of the comparison of memory at N and 10 N; 0: none")
    taken.add_argument("--memory-years", type=int, help="years of it, fewer to see 10,000 replicates in minutes")
    taken.add_argument("--hectares", type=int, default=40)
    taken.add_argument("--years", type=int, default=30)
    taken.add_argument("--child", type=int, help="run one comparison of so many replicates here and print JSON")
    taken.add_argument("--workers", type=int, default=1, help="threads of --child")
    asked = taken.parse_args(arguments)
    if asked.child:
        print(json.dumps(one(asked.child, asked.workers, asked.hectares, asked.years)))
        return
    rows = measure(asked)
    tell(rows)
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
