"""Time a year's update of the demo: 2,000 worlds weighted by an invented survey, with maps.

Run it as `python experiments/benchmark/learn_year.py [--replicates N] [--workers N]`. It compiles first, then reports
seconds on the wall and of processors, and how many worlds count. Seconds are of your machine.
"""

import argparse
import tempfile
import time
from pathlib import Path

import spreadsim

PARK = Path(__file__).parent.parent / "cut-or-clear" / "experiment.toml"
STRATEGY, MAPPED, SURVEYED, HOURS = "stop the seed, then outlying patches", "2024-12-10", "2025-12-10", 8
# invented: climbing and fruiting hosts, and m2 of the map's mats
FOUND = {"street side": (32, 1, 5900), "west ravine": (9, 0, 1340), "east ravine": (6, 0, 580)}


def records() -> str:
    """Write the invented survey: each unit searched for so many hours, everything that was met noted, no new patch."""
    lines = ["eventID,eventDate,locationID,state,occurrenceStatus,organismQuantity,organismQuantityType,hours"]
    for unit, (climbing, fruiting, area) in FOUND.items():
        head = f"{unit},{SURVEYED},{unit}"
        lines.append(f"{head},,present,{area},m2,{HOURS}")
        lines += [f"{head},climbing,present,,,{HOURS}"] * climbing + [f"{head},fruiting,present,,,{HOURS}"] * fruiting
    return "\n".join(lines) + "\n"


def main() -> None:
    """Compile, time, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--replicates", type=int, default=2000)
    parser.add_argument("--workers", type=int)
    said = parser.parse_args()
    experiment = spreadsim.read_experiment(PARK)
    with tempfile.TemporaryDirectory() as folder:
        survey = Path(folder) / "invented.csv"
        survey.write_text(records())
        spreadsim.learn(experiment, survey, strategy=STRATEGY, since=MAPPED, replicates=20)
        wall, processor = time.perf_counter(), time.process_time()
        learned = spreadsim.learn(
            experiment, survey, strategy=STRATEGY, since=MAPPED, replicates=said.replicates, workers=said.workers
        )
    wall, processor = time.perf_counter() - wall, time.process_time() - processor
    about = learned.attrs
    print(f"{said.replicates:,} worlds: {wall:.1f} s, {processor:.1f} s of processors")
    print(f"{about['effective_worlds_in_full']:.0f} count with the survey in full; it is taken at {about['power']:.2g}")


if __name__ == "__main__":
    main()
