"""Finished replicates of a comparison on disk, in a Zarr store shaped first and filled by region.

Arrays `rows` (replicates, width) and `replicate` (replicates) have one chunk per block. Maps are sums over many blocks,
kept as groups under `sums`. What counts as finished is what a marker says: a small file, written last and renamed, that
names a group of sums and the places of the replicates that went into it. So nothing half written is ever taken, by one
process or by many.
"""

import json
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import zarr

from spreadsim.errors import InputError
from spreadsim.runs.job import Range
from spreadsim.runs.marks import COMPARISON, joined, read_stamp, write_json
from spreadsim.runs.stamp import difference
from spreadsim.runs.sums import Sums

_SUMS = ("occupied", "cover")


class Parts:
    """An open store.

    Parameters
    ----------
    folder
        An existing store, as `begin` makes it.

    Attributes
    ----------
    block
        Replicates in a chunk: regions that are written at once by several never share one.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._group = zarr.open_group(folder, mode="r+", use_consolidated=False)
        arrays: tuple[Any, Any] = (self._group["rows"], self._group["replicate"])
        self._rows, self._numbers = arrays
        self.block = int(self._rows.chunks[0])

    @classmethod
    def begin(cls, folder: Path, stamp: dict[str, Any], numbers: Sequence[int], width: int, block: int) -> "Parts":
        """Make an empty store in the place of any other; it counts once its comparison is written, which comes last."""
        remove(folder)
        group = zarr.open_group(folder, mode="w", use_consolidated=False)
        shape, chunks = (len(numbers), width), (block, width)
        group.create_array("rows", shape=shape, chunks=chunks, dtype="f8", fill_value=np.nan)
        group.create_array("replicate", shape=shape[:1], chunks=chunks[:1], dtype="i8", fill_value=-1)
        group.create_group("sums")
        write_json(folder / COMPARISON, stamp)
        return cls(folder)

    @classmethod
    def resume(cls, folder: Path, stamp: dict[str, Any], numbers: Sequence[int]) -> "Parts | None":
        """Open what an interrupted run left, made longer where more replicates are wanted; None if there is nothing.

        Raises
        ------
        InputError
            It was left by another comparison, or has finished replicates that are not wanted.
        """
        there = read_stamp(folder)
        if there is None:
            return None
        if differs := difference(there, stamp):
            raise InputError(
                f"{folder}: found finished replicates of another comparison ({differs}), allowed those of this one; "
                "run without --resume to start afresh"
            )
        parts = cls(folder)
        for start, stop in parts.finished():
            if parts._numbers[start:stop].tolist() != list(numbers[start:stop]):
                raise InputError(
                    f"{folder}: found finished replicates that are not among the {len(numbers)} wanted, allowed the "
                    "same or more of them; run without --resume to start afresh"
                )
        parts._numbers.resize((len(numbers),))
        parts._rows.resize((len(numbers), parts._rows.shape[1]))
        return parts

    def pending(self) -> list[Range]:
        """Give what is not finished, in order, block by block."""
        done = np.zeros(self._numbers.shape[0], bool)
        for start, stop in self.finished():
            done[start:stop] = True
        waiting: list[Range] = []
        for first in range(0, done.size, self.block):
            left = np.flatnonzero(~done[first : first + self.block]) + first
            if left.size:  # what is finished of a block is its beginning: a run that was shorter ended there
                waiting.append((int(left[0]), int(left[-1]) + 1))
        return waiting

    def finished(self) -> list[Range]:
        """Give the places of all finished replicates."""
        return sorted(part for _, ranges in self._taken() for part in ranges)

    def save(self, start: int, block: Any) -> None:
        """Write the rows of a block from a place on."""
        stop = start + len(block.replicates)
        if start % self.block and not any(first < start <= last for first, last in self.finished()):
            raise ValueError(f"rows {start} to {stop} begin within a chunk of {self.block} that others may write")
        self._rows[start:stop] = block.table
        self._numbers[start:stop] = block.replicates

    def read(self, start: int, stop: int) -> tuple[Any, Any]:
        """Numbers of some replicates, and their rows."""
        return self._numbers[start:stop], self._rows[start:stop]

    def commit(self, name: str, ranges: Iterable[Range], maps: Iterable[tuple[int, int, Sums]], shape: Any) -> None:
        """Count replicates as finished whose rows are saved: write their map sums, then the marker.

        Parameters
        ----------
        name
            Of the sums; the same replicates under the same name are the same bits, whoever writes them.
        ranges
            Places of the replicates in the sums.
        maps
            Strategy, slot and sums of every map.
        shape
            (strategies, slots, cells).
        """
        group = self._group.require_group(f"sums/{name}")
        arrays: list[Any] = []
        for key, kind in zip(_SUMS, ("i4", "i8"), strict=True):
            there: Any = group.get(key)
            options = {"shape": shape, "chunks": (1, 1, shape[2]), "dtype": kind, "fill_value": 0}
            arrays.append(group.create_array(key, **options) if there is None else there)
        for strategy, slot, sums in maps:
            for array, values in zip(arrays, sums, strict=True):
                array[strategy, slot] = values
        write_json(self._marker(name), joined(ranges))

    def unused_name(self) -> str:
        """Give a name for new sums, by which no finished replicates are counted."""
        used = {name for name, _ in self._taken()}
        return next(name for name in ("here-0", "here-1") if name not in used)

    def keep_only(self, name: str) -> None:
        """Remove all sums but these, which hold the others."""
        for marker in self.folder.glob("finished-*.json"):
            if marker != self._marker(name):
                marker.unlink(missing_ok=True)
        for folder in (self.folder / "sums").iterdir():
            if folder.is_dir() and folder.name != name:
                shutil.rmtree(folder, ignore_errors=True)

    def totals(self) -> "SumsOnDisk":
        """Map sums over all that is finished by now."""
        return SumsOnDisk([self._group[f"sums/{name}"] for name, _ in self._taken()])

    def _marker(self, name: str) -> Path:
        return self.folder / f"finished-{name}.json"

    def _taken(self) -> list[tuple[str, list[Range]]]:
        """Sums that count, the largest first: where two have a replicate in common, only the first counts."""
        found = []
        for marker in self.folder.glob("finished-*.json"):
            ranges = [(int(start), int(stop)) for start, stop in json.loads(marker.read_text())]
            found.append((sum(start - stop for start, stop in ranges), marker.stem.removeprefix("finished-"), ranges))
        taken: list[tuple[str, list[Range]]] = []
        covered: list[Range] = []
        for _, name, ranges in sorted(found):
            if not any(a < d and c < b for a, b in ranges for c, d in covered):
                taken.append((name, ranges))
                covered += ranges
        return taken


class SumsOnDisk:
    """Map sums of several groups, read when asked for."""

    def __init__(self, groups: Sequence[Any]) -> None:
        self._arrays = [tuple(group[key] for key in _SUMS) for group in groups]

    def total(self, strategy: int, slot: int) -> Sums:
        """Sums of one map (cells)."""
        occupied, cover = (sum(array[strategy, slot] for array in arrays) for arrays in zip(*self._arrays, strict=True))
        return Sums(occupied, cover)


def remove(folder: Path) -> None:
    """Remove a store; once its comparison is gone, what is left of it counts for nothing."""
    (folder / COMPARISON).unlink(missing_ok=True)
    if folder.exists():
        shutil.rmtree(folder)
