"""The small files of a store of finished replicates: what is compared, and what of it is finished."""

import contextlib
import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from spreadsim.runs.job import Range

COMPARISON = "comparison.json"


def read_stamp(folder: Path) -> dict[str, Any] | None:
    """Give the stamp of the comparison that a store holds; None if no store is there."""
    try:
        stamp: dict[str, Any] = json.loads((folder / COMPARISON).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    return stamp


def joined(ranges: Iterable[Range]) -> list[Range]:
    """Ranges in order, neighbours as one."""
    whole: list[Range] = []
    for start, stop in sorted(ranges):
        if whole and whole[-1][1] == start:
            whole[-1] = (whole[-1][0], stop)
        else:
            whole.append((start, stop))
    return whole


def write_json(path: Path, value: Any) -> None:
    """Write a file that is whole or not there; written twice at once, either is whole."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8") as file:
            json.dump(value, file)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
