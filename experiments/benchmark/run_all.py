"""Run all benchmarks and write their figures as one page: the targets first, then everything that was measured.

    python experiments/benchmark/run_all.py --quick --out results.md     a few minutes
    python experiments/benchmark/run_all.py --full --out results.md      the whole size
    python experiments/benchmark/run_all.py --smoke --out results.md     only to see that all of it runs

Each script runs in a process of its own. A script that fails is named on the page, and the exit status is then 1.
"""

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from report import Row, read, table

HERE = Path(__file__).parent
SCRIPTS = ("start", "flagship", "mat_alone", "agents", "landscape", "by_process")
SETTINGS: Mapping[str, Mapping[str, str]] = {
    "quick": {
        "start": "--times 1",
        "flagship": "--replicates 50 --memory 25",
        "mat_alone": "--replicates 50 --lattice-replicates 5 --passes 3",
        "agents": "--replicates 50 --agent-replicates 1 --passes 3",
        "landscape": "--replicates 20 --passes 3",
        "by_process": "--replicates 4 --passes 3",
    },
    "full": {
        "start": "--times 3",
        "flagship": "--compile --replicates 1000 --repeats 3 --memory 1000",
        "mat_alone": "",
        "agents": "",
        "landscape": "",
        "by_process": "",
    },
    "smoke": {
        "start": "--times 0 --helps 1",
        "flagship": "--replicates 1 --memory 1 --hectares 1 --years 2",
        "mat_alone": "--shares 0.05 --hectares 2 --years 10 --replicates 8 --lattice-replicates 8 --passes 1",
        "agents": "--hectares 1 --years 5 --replicates 4 --agent-replicates 4 --passes 1",
        "landscape": "--hectares 1 4 --middle 1 --infested 400 --years 3 --replicates 2 --passes 1",
        "by_process": "--hectares 1 --years 4 --replicates 1 --passes 1",
    },
}


def run(name: str, settings: Sequence[str]) -> tuple[list[Row], str]:
    """Run one script; its rows, and what went wrong, if anything did."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rows.json"
        command = [sys.executable, str(HERE / f"{name}.py"), *settings, "--json", str(path)]
        done = subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False)
        if done.returncode != 0 or not path.exists():
            return [], f"`{name}.py {' '.join(settings)}` gave {done.returncode}: {done.stderr.strip()[-1500:]}"
        return read(path), ""


def processor() -> str:
    """Name of the processor, where the system tells."""
    path = Path("/proc/cpuinfo")
    names = [line for line in path.read_text().splitlines() if line.startswith("model name")] if path.exists() else []
    return names[0].split(":", 1)[1].strip() if names else platform.processor() or "unknown"


def installed(name: str) -> str:
    """Version of a package."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def about(preset: str, load: tuple[float, float]) -> str:
    """Where and with what the figures were made."""
    packages = ", ".join(f"{name} {installed(name)}" for name in ("numpy", "numba", "xarray", "mesa"))
    lines = [
        f"Made by `run_all.py --{preset}` on {time.strftime('%Y-%m-%d')}: {processor()}, {os.cpu_count()} cores, "
        f"{platform.system()}, Python {platform.python_version()}, {packages}.",
        f"Load of the machine (mean of a minute) before and after: {load[0]:.1f}, {load[1]:.1f}. Seconds are of this "
        "machine on that day; ratios are each of two measurements within this run.",
    ]
    return "\n".join(lines) + "\n"


def page(preset: str, results: Mapping[str, list[Row]], faults: Sequence[str], load: tuple[float, float]) -> str:
    """The page as text."""
    parts = ["# Results of the benchmarks\n", about(preset, load)]
    if preset != "full":
        parts.append("Smaller than the targets' size: a check, not a claim.\n")
    if faults:
        parts.append(
            "## What failed\n\n" + "\n\n".join(f"    {fault}".replace("\n", "\n    ") for fault in faults) + "\n"
        )
    parts.append("## Targets\n\n" + table([row for rows in results.values() for row in rows if row.target]))
    parts += [f"## {name}.py\n\n{table(rows)}" for name, rows in results.items() if rows]
    return "\n".join(parts)


def minute_load() -> float:
    """Mean number of running processes of the last minute; 0 where the system does not tell."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0


def main(arguments: Sequence[str] | None = None) -> None:
    """Run and write."""
    taken = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    sizes = taken.add_mutually_exclusive_group(required=True)
    for preset in SETTINGS:
        sizes.add_argument(f"--{preset}", dest="preset", action="store_const", const=preset)
    taken.add_argument("--out", type=Path, required=True, help="the page to write, Markdown")
    taken.add_argument("--only", nargs="+", choices=SCRIPTS, default=SCRIPTS, help="run these only")
    asked = taken.parse_args(arguments)
    results: dict[str, list[Row]] = {}
    faults = []
    before = minute_load()
    for name in asked.only:
        print(f"== {name}", flush=True)
        results[name], fault = run(name, SETTINGS[asked.preset][name].split())
        if fault:
            print(fault, file=sys.stderr)
            faults.append(fault)
        # after each script, so that an interruption keeps what is done
        partial = asked.out.with_name(asked.out.name + ".partial")
        partial.write_text(page(asked.preset, results, faults, (before, minute_load())), encoding="utf-8")
        partial.replace(asked.out)
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
