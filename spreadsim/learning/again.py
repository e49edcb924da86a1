"""Planning again from what was learned: the comparison, what changed in the plan, and whether we are ahead."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from spreadsim.errors import MISSING, InputError, Problem
from spreadsim.inputs import Experiment, Start, read_start
from spreadsim.learning.ahead import ahead
from spreadsim.learning.ahead_words import ahead_sentences
from spreadsim.learning.changed import changed, check_before
from spreadsim.learning.changed_words import changed_sentences, plan_sentences, verdict_of
from spreadsim.learning.folder import LEARNED_FILE, START_FILE
from spreadsim.learning.logged import hosts_of, logged_sentences
from spreadsim.runs.compare import compare


class Learned(NamedTuple):
    """What a folder that `learn` wrote holds."""

    start: Start
    dataset: xr.Dataset


@dataclasses.dataclass(frozen=True)
class Again:
    """What comes of planning again.

    Attributes
    ----------
    experiment : Experiment
        With the start that it begins from.
    outcomes : xarray.Dataset
        The comparison for the years that remain, as `compare` gives it.
    before : xarray.Dataset
        Last year's, from the map.
    strategy : str
        The one that comes out best now.
    changed : xarray.Dataset or None
        See `learning.changed`; None where last year's comparison had no such strategy.
    ahead : xarray.Dataset
        See `learning.ahead`.
    learned : xarray.Dataset
        What it rests on.
    """

    experiment: Experiment
    outcomes: xr.Dataset
    before: xr.Dataset
    strategy: str
    changed: xr.Dataset | None
    ahead: xr.Dataset
    learned: xr.Dataset

    def story(self, system: str = "metric") -> Iterator[str]:
        """Say what changed against last year's plan and why, and whether we are ahead."""
        yield from self.learned.attrs["warnings"].splitlines()
        start = self.experiment.start
        if start is not None and start.weather is not None:
            known = "Of the log, hours by unit and task reach the worlds, and hosts that it names by number."
            yield " ".join((known, *logged_sentences(hosts_of(self.learned))))
        yield from ahead_sentences(self.ahead, system=system)
        yield from plan_sentences(self.before, self.outcomes)
        if self.changed is not None:
            yield from changed_sentences(self.changed, self.learned, system=system)
        if start is not None and self.experiment.funds and start.weather is not None:
            yield "What was paid so far is not in a log: the funds of the experiment have to say what is left."


def read_learned(folder: str | Path, experiment: Experiment) -> Learned:
    """Read what `spreadsim learn` wrote into a folder.

    Raises
    ------
    InputError
        There is no such folder, it holds no start, or one that belongs to another site.
    """
    folder = Path(folder)
    missing = [name for name in (START_FILE, LEARNED_FILE) if not (folder / name).is_file()]
    if missing:
        places = [str(folder / name) for name in missing]
        raise InputError(*(Problem(place, "", f"{MISSING}, allowed what spreadsim learn wrote") for place in places))
    with xr.open_dataset(folder / LEARNED_FILE, engine="h5netcdf") as file:
        dataset = file.load()
    return Learned(read_start(folder / START_FILE, experiment.site), dataset)


def plan_again(
    experiment: Experiment,
    learned: Learned | str | Path,
    *,
    before: xr.Dataset | None = None,
    folder: str | Path | None = None,
    workers: int | None = None,
    progress: Any = False,
) -> Again:
    """Compare the strategies again, from the learned state on, and say what is new.

    Parameters
    ----------
    experiment
        Last year's question, or this year's: strategies, crews and money may be others, the site is the map.
    learned
        The folder that `spreadsim learn` wrote, or what `read_learned` gave.
    before
        Last year's comparison; None: it is run again, in as many worlds as the start has.
    folder
        Where the comparison goes, as of `compare`.
    workers
        Threads; None: one per core. Results do not depend on it.
    progress
        As of `compare`.

    Returns
    -------
    Again
        The comparison, last year's, and what changed.

    Raises
    ------
    InputError
        What was learned belongs to another experiment, or `before` is no comparison of it.
    """
    start, dataset = learned if isinstance(learned, Learned) else read_learned(learned, experiment)
    asked = dataclasses.replace(experiment, start=start, seed=start.seed)
    map_alone = dataclasses.replace(experiment, start=None, seed=start.seed, map_years=(0,))
    if before is not None:
        check_before(experiment, start, before)
    outcomes = compare(asked, replicates=start.worlds, workers=workers, progress=progress, folder=folder)
    if before is None:
        before = compare(map_alone, replicates=start.worlds, workers=workers, progress=progress)
    best = verdict_of(outcomes).best
    known = best in np.asarray(before["strategy"].to_numpy())
    return Again(
        experiment=asked,
        outcomes=outcomes,
        before=before,
        strategy=best,
        changed=changed(asked, start, before, outcomes, best, workers=workers) if known else None,
        ahead=ahead(asked, start, dataset, outcomes, workers=workers),
        learned=dataset,
    )
