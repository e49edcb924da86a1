"""Measurements in processes of their own, so that each has its own peak of memory and a fresh interpreter."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent


def peak_mib() -> float:
    """Most memory that this process has held, MiB.

    On Linux from /proc: what getrusage tells there includes the parent's, from before the program was loaded.
    """
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) / 1024
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024**2 if sys.platform == "darwin" else 1024)


def run(script: str, *arguments: object, **environment: str) -> dict[str, Any]:
    """Run one of these scripts with arguments and settings, and give what it printed as its last line, JSON.

    Raises
    ------
    RuntimeError
        If it failed, with the end of what it said.
    """
    command = [sys.executable, str(HERE / script), *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, **environment})
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} gave {done.returncode}: {done.stderr[-2000:]}")
    result: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return result


def seconds_to_words(command: Sequence[str], environment: Mapping[str, str] | None = None) -> tuple[float, float]:
    """Time of a command from its start to its first words and to its end, s; RuntimeError if it fails."""
    start = time.perf_counter()
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env={**os.environ, **(environment or {})}
    ) as going:
        assert going.stdout is not None
        going.stdout.readline()
        words = time.perf_counter() - start
        going.stdout.read()
    if going.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} gave {going.returncode}")
    return words, time.perf_counter() - start


def seconds(command: Sequence[str], environment: Mapping[str, str] | None = None) -> float:
    """Time of a command from its start to its end, s; RuntimeError if it fails."""
    start = time.perf_counter()
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={**os.environ, **(environment or {})}
    )
    took = time.perf_counter() - start
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} gave {done.returncode}: {done.stderr[-2000:]}")
    return took
