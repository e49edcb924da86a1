"""Finished blocks of a comparison on disk, so that an interrupted run can go on."""

import hashlib
import json
import os
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs import Experiment
from spreadsim.model.cache import source_hash
from spreadsim.runs.engine import BY_STRATEGY, Block, Engine

_SITE_LAYERS = ("mat", "canopy", "plantable", "unit", "access", "wetness", "sensitive", "boundary_mat")


def fingerprint(experiment: Experiment, seed: int) -> str:
    """Hash of all that decides the numbers: experiment, site, seed, kernels; not the number of replicates."""
    plain = {key: value for key, value in experiment.to_dict().items() if key not in ("replicates", "seed", "units")}
    digest = hashlib.sha256(json.dumps(plain, sort_keys=True).encode())
    digest.update(f"{seed} {source_hash()}".encode())
    site = experiment.site
    plainly = (site.cell_size, site.unit_names, site.background_seed, site.hosts.kind, site.hosts.girth)
    digest.update(repr(plainly).encode())
    for name in _SITE_LAYERS:
        digest.update(np.ascontiguousarray(getattr(site, name)).tobytes())
    for table, names in (
        (site.hosts, ("x", "y", "state", "top_light", "height", "years_climbing", "known")),
        (site.sources, ("x", "y", "hosts")),
    ):
        for name in names:
            digest.update(np.ascontiguousarray(getattr(table, name)).tobytes())
    return digest.hexdigest()


class Parts:
    """A folder with one file per finished block.

    Parameters
    ----------
    folder
        Made when needed.
    stamp
        See `fingerprint`; blocks of another comparison are refused.
    resume
        Use what is there; otherwise the folder is emptied.

    Raises
    ------
    InputError
        If blocks are there to resume that were made by another comparison.
    """

    def __init__(self, folder: Path, stamp: str, resume: bool) -> None:
        self.folder = folder
        self.stamp = folder / "comparison.txt"
        if resume and self.stamp.exists():
            if self.stamp.read_text().strip() != stamp:
                raise InputError(
                    f"{folder}: found blocks of another comparison (its experiment, site, seed or program version "
                    "differs), allowed blocks of this one; run without --resume to start afresh"
                )
        else:
            self.remove()
        folder.mkdir(parents=True, exist_ok=True)
        self.stamp.write_text(stamp)

    def remove(self) -> None:
        """Delete the blocks."""
        if self.folder.is_dir():
            for path in [*self.folder.glob("block-*.npz"), *self.folder.glob("*.partial"), self.stamp]:
                path.unlink(missing_ok=True)
            if not any(self.folder.iterdir()):
                self.folder.rmdir()

    def _path(self, replicates: Any) -> Path:
        return self.folder / f"block-{replicates[0]}-{len(replicates)}.npz"

    def save(self, block: Block) -> None:
        """Write a block under a temporary name, then rename it."""
        arrays: dict[str, Any] = {"replicates": block.replicates, "yearly": block.yearly}
        for name in BY_STRATEGY:
            for s, values in enumerate(getattr(block, name)):
                arrays[f"{name}-{s}"] = values
        for name, values in block.parameters.items():
            arrays[f"parameter-{name}"] = values
        # maps are mostly empty: keep where mat is
        where = np.flatnonzero(block.occupied)
        arrays |= {
            "where": where,
            "occupied": block.occupied.ravel()[where],
            "cover_sum": block.cover_sum.ravel()[where],
        }
        path = self._path(block.replicates)
        partial = path.with_suffix(".partial")
        with partial.open("wb") as file:
            np.savez(file, **arrays)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)

    def load(self, engine: Engine, replicates: Any) -> Block | None:
        """Read a finished block, or None if it is not there."""
        path = self._path(replicates)
        if not path.exists():
            return None
        with np.load(path, allow_pickle=False) as file:
            if not np.array_equal(file["replicates"], replicates):
                return None
            parameters = {key[10:]: file[key] for key in file.files if key.startswith("parameter-")}
            block = engine.empty_block(replicates, parameters)
            block.yearly[:] = file["yearly"]
            for name in BY_STRATEGY:
                for s, values in enumerate(getattr(block, name)):
                    values[:] = file[f"{name}-{s}"]
            block.occupied.ravel()[file["where"]] = file["occupied"]
            block.cover_sum.ravel()[file["where"]] = file["cover_sum"]
        return block
