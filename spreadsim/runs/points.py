"""Finished design points of a sweep, in memory or in a folder, so that an interrupted sweep can go on."""

import dataclasses
import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, embed
from spreadsim.model.cache import source_hash

Values = Mapping[str, Any]
_SAID = {
    "experiment": "its experiment, site, seed or program version",
    "design": "its factors or their values",
    "replicates": "its replicates",
    "outcomes": "its choice of outcomes",
}


class Points(Protocol):
    """What keeps the values of finished points, by name."""

    def has(self, point: int) -> bool:
        """Tell whether a point is finished."""

    def save(self, point: int, values: Values) -> None:
        """Keep a point."""

    def load(self, point: int) -> Values:
        """Give a finished point, arrays read when asked for."""

    def remove(self) -> None:
        """Forget all points."""


class PointsInMemory:
    """Points of a sweep without a folder."""

    def __init__(self) -> None:
        self._values: dict[int, Values] = {}

    def has(self, point: int) -> bool:
        """Tell whether a point is finished."""
        return point in self._values

    def save(self, point: int, values: Values) -> None:
        """Keep a point."""
        self._values[point] = values

    def load(self, point: int) -> Values:
        """Give a finished point."""
        return self._values[point]

    def remove(self) -> None:
        """Forget all points."""
        self._values.clear()


class PointsInFolder:
    """One file per finished point.

    Parameters
    ----------
    folder
        Made when needed.
    stamps
        What decides the numbers, see `stamp`; points of another sweep are refused.
    resume
        Use what is there; otherwise the folder is emptied.

    Raises
    ------
    InputError
        If points are there to resume that were made by another sweep; it says what differs.
    """

    def __init__(self, folder: Path, stamps: Mapping[str, str], resume: bool) -> None:
        self.folder = folder
        self._stamp = folder / "sweep.json"
        if resume and self._stamp.exists():
            check_stamps(f"{folder}: found points", json.loads(self._stamp.read_text()), stamps)
        else:
            self.remove()
        folder.mkdir(parents=True, exist_ok=True)
        self._write(self._stamp, lambda file: file.write(json.dumps(dict(stamps)).encode()))

    def has(self, point: int) -> bool:
        """Tell whether a point is finished."""
        return self._path(point).exists()

    def save(self, point: int, values: Values) -> None:
        """Write a point under a temporary name, then rename it."""
        self._write(self._path(point), lambda file: np.savez_compressed(file, **values))

    def load(self, point: int) -> Values:
        """Open a finished point; an array is read when it is asked for."""
        opened: Values = np.load(self._path(point), allow_pickle=False)
        return opened

    def remove(self) -> None:
        """Delete all points."""
        if self.folder.is_dir():
            for path in [*self.folder.glob("point-*.npz"), *self.folder.glob("*.partial"), self._stamp]:
                path.unlink(missing_ok=True)
            if not any(self.folder.iterdir()):
                self.folder.rmdir()

    def _path(self, point: int) -> Path:
        return self.folder / f"point-{point:06d}.npz"

    def _write(self, path: Path, fill: Any) -> None:
        partial = path.with_suffix(".partial")
        with partial.open("wb") as file:
            fill(file)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)


def check_stamps(found: str, old: Mapping[str, str], new: Mapping[str, str]) -> None:
    """Refuse what another run made, saying what differs."""
    differ = [_SAID[key] for key in new if old.get(key) != new[key]]
    if differ:
        raise InputError(
            f"{found} of another run ({' and '.join(differ)} differ), allowed those of this one; run without "
            "--resume to start afresh, or name another folder"
        )


def stamp(value: object) -> str:
    """Hash of plain data."""
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()


def stamp_of(experiment: Experiment) -> str:
    """Hash of all that decides the numbers: experiment with seed, site, kernels; not how many replicates."""
    plain = dataclasses.replace(experiment, replicates=1, units="metric", goals={})
    digest = hashlib.sha256(source_hash().encode())
    for name, (_, values, _) in sorted(embed(plain)[1].items()):
        digest.update(name.encode())
        digest.update(
            repr(values.tolist()).encode() if values.dtype == object else np.ascontiguousarray(values).tobytes()
        )
    return digest.hexdigest()
