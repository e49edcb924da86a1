"""Time the README's main job: 200 replicates of every strategy of the park over 30 years.

Run it as `python experiments/benchmark/main_job.py [--replicates N]`. It compiles first, then reports seconds and
milliseconds a run on one thread and on all, their ratio, and the most memory held. Ratios are of one run of this
script; seconds are of your machine.
"""

import argparse
import sys
import time
from pathlib import Path

import spreadsim
from spreadsim.runs.pool import cores

PARK = Path(__file__).parent.parent / "cut-or-clear" / "experiment.toml"


def most_memory() -> str:
    """Most memory this process has held, where the system tells."""
    try:
        import resource
    except ImportError:
        return "not told by this system"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return f"{peak / (1024**2 if sys.platform == 'darwin' else 1024):.0f} MiB"


def seconds(experiment: spreadsim.Experiment, replicates: int, workers: int) -> float:
    """Time of one comparison."""
    start = time.perf_counter()
    spreadsim.compare(experiment, replicates=replicates, workers=workers)
    return time.perf_counter() - start


def main() -> None:
    """Compile, time, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--replicates", type=int, default=200)
    replicates = parser.parse_args().replicates
    experiment = spreadsim.read_experiment(PARK)
    compiling = seconds(experiment, 1, 1)
    runs = replicates * len(experiment.strategies)
    one = seconds(experiment, max(1, replicates // 4), 1) * replicates / max(1, replicates // 4)
    every = seconds(experiment, replicates, cores())
    print(f"{replicates} replicates x {len(experiment.strategies)} strategies x {experiment.years} years")
    print(f"first run, compiling if needed: {compiling:.1f} s")
    print(f"one thread (from a quarter of the replicates): {one:.1f} s, {1000 * one / runs:.1f} ms a run")
    print(f"{cores()} threads: {every:.1f} s, {1000 * every / runs:.1f} ms a run; ratio {one / every:.2f}")
    print(f"most memory: {most_memory()}")


if __name__ == "__main__":
    main()
