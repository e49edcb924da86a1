"""Comparisons of more and more replicates, in parts that are kept and can be gone on from."""

import contextlib
import json
import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import by_year
from spreadsim.inputs import Experiment
from spreadsim.runs.compare import compare
from spreadsim.runs.joining import MOST_TOGETHER, fold_maps
from spreadsim.runs.points import check_stamps, stamp_of
from spreadsim.store import open_outcomes


def _further(report: Callable[[int], Any], start: int, done: int, _: int) -> None:
    report(start + done)


class GrowingParts:
    """Comparisons of the replicates run so far, some hundred in each, in memory or one folder each.

    Parameters
    ----------
    experiment
        What is compared.
    folder
        Where they go; None: they stay in memory.
    resume
        Use what is there; otherwise the folder is emptied.

    Raises
    ------
    InputError
        If there are replicates of another experiment to resume.

    Attributes
    ----------
    done : list of xarray.Dataset
        What is run, in order. In memory, maps of all parts but the first are summed in `folded`, so that they take no
        more room for more parts.
    folded : dict
        See `joining.fold_maps`.
    """

    def __init__(self, experiment: Experiment, folder: Path | None, resume: bool) -> None:
        self.experiment, self.folder, self.resume = experiment, folder, resume
        self.done: list[xr.Dataset] = []
        self.folded: dict[str, Any] = {}
        if folder is None:
            return
        stamps = {"experiment": stamp_of(experiment)}
        known = folder / "looks.json"
        if resume and known.exists():
            check_stamps(f"{folder}: found replicates", json.loads(known.read_text()), stamps)
        else:
            self.remove()
        folder.mkdir(parents=True, exist_ok=True)
        known.write_text(json.dumps(stamps))

    @property
    def count(self) -> int:
        """How many replicates are done."""
        return sum(int(part.sizes["replicate"]) for part in self.done)

    def run_to(
        self,
        target: int,
        report: Callable[[int], Any],
        stack: contextlib.ExitStack,
        workers: int | None,
        cluster: str | None,
    ) -> None:
        """Run on to so many replicates, or read what is finished."""
        elsewhere: dict[str, Any] = {} if cluster is None else {"cluster": cluster}
        while self.count < target:
            start, stop = self.count, min(target, self.count + MOST_TOGETHER)
            place = None if self.folder is None else self.folder / f"{start}-{stop - 1}"
            if place is not None and (place / "outcomes.nc").exists():
                part = open_outcomes(place / "outcomes.nc")
            else:
                part = compare(
                    self.experiment,
                    replicates=range(start, stop),
                    workers=workers,
                    folder=place,
                    resume=place is not None and self.resume,
                    progress=partial(_further, report, start),
                    **elsewhere,
                )
            stack.callback(part.close)
            in_memory = self.folder is None and self.done
            self.done.append(fold_maps(part, self.folded) if in_memory else part)
            report(stop)

    def values(self, outcome: str, year: int) -> Any:
        """Give an outcome of a year, (replicate, strategy)."""
        columns = [by_year(part, outcome).sel(year=year).transpose("replicate", "strategy") for part in self.done]
        return np.concatenate([column.to_numpy() for column in columns])

    def remove(self) -> None:
        """Delete what is on disk."""
        if self.folder is not None and self.folder.is_dir():
            shutil.rmtree(self.folder)
