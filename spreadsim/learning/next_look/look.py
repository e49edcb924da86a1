"""Where to look next: pieces of ground, what finding vine there now avoids, and hours shared out over them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.goals import Goals
from spreadsim.inputs import NO_ACTION, Experiment
from spreadsim.learning.next_look.asked import asked_of
from spreadsim.learning.next_look.ground import SIZE, pieces_of
from spreadsim.learning.next_look.labelled import Found, labelled
from spreadsim.learning.next_look.laws import presence_terms, terms_of, things_of, weights_of
from spreadsim.learning.next_look.paired import Pairs
from spreadsim.learning.next_look.sharing import gain_of_more, gained, visits
from spreadsim.learning.next_look.sure import how_sure
from spreadsim.runs.progress import reporter

REPLICATES = 200
VISIT = 10.0  # minutes; nobody is sent for less
_FIRST = 5  # pieces that are told first


def look_next(
    experiment: Experiment,
    hours: float,
    *,
    learned: str | Path | None = None,
    after: int | None = None,
    strategy: str | None = None,
    done: float = 1.0,
    then: str = NO_ACTION,
    horizon: int = 5,
    season: str = "winter",
    size: float = SIZE,
    visit: float = VISIT,
    goals: Goals | None = None,
    replicates: int = REPLICATES,
    seed: int | None = None,
    workers: int | None = None,
    progress: Any = False,
) -> xr.Dataset:
    """Say where people should look for vine that nobody knows of, by the harm that finding it now avoids.

    Worlds run from the map through the work that was done, or begin from a learned state. In each, what nobody knows of
    is known to the model: the same world is run on with the unknown vine of a piece of ground left, and with it taken
    away, all luck the same. The difference is what finding it avoids; a piece's hours find it by the model's own chance
    (ODD 7.9), and hours go where they avoid most (`sharing`).

    Parameters
    ----------
    experiment
        Site, vine, crews and strategies; one with a start begins from it.
    hours
        Of looking at hand, of all people together, above 0 to 10,000.
    learned
        Folder that ``spreadsim learn`` wrote, with its start.
    after
        Years since the map, where nothing is learned; None: 1.
    strategy
        Name of the one that stands for the work since the map, where nothing is learned.
    done
        Share of the crews' hours that were worked since the map, 0 to 2.
    then
        Name of the strategy that goes on meanwhile; what it would find anyway is then no gain of looking.
    horizon
        Years that harm is counted for, 1 to 50.
    season
        Of the looking; in winter an evergreen vine stands out. The state is that of the winter it begins with.
    size
        Side of a piece of ground, m, 10 to 200 and not less than a cell.
    visit
        Least minutes that anybody is sent for; hours come in whole visits. 1 to 480.
    goals
        What harm is; None: the experiment's, else seed leaving the site, then infested area. Of an order the first that
        finding anything changes decides.
    replicates
        Worlds, 20 or more; of a learned state at most as many as it has.
    seed
        None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    progress
        True: a bar on standard error. Or a function that is told how many runs of how many are done.

    Returns
    -------
    xarray.Dataset
        By piece: ``unit``, ``area``, ``access``, ``hosts``, ``rank`` (1 is worth most an hour; 0: no hours), ``hours``,
        ``chance`` that anything unknown is there, ``chance_found`` if it is, ``harm`` (measure, piece) of what is
        unknown and ``avoided`` of it by the hours, ``score_avoided`` by the goals, ``rate`` an hour, ``first`` and
        ``among_first``, the shares of resampled worlds in which the piece is the first and among the first;
        ``hours_by_presence``; ``looked``, the share that the survey looked at, where something is learned.
        ``piece_of_cell`` (y, x). By point: ``curve_hours``, ``curve_avoided``, ``curve_gain_of_more``. Attributes say
        what was asked and how sure it is.

    Raises
    ------
    InputError
        All that is wrong; a learned state of another site.
    """
    asked = asked_of(
        experiment,
        hours,
        learned=learned,
        after=after,
        strategy=strategy,
        done=done,
        then=then,
        horizon=horizon,
        season=season,
        size=size,
        visit=visit,
        goals=goals,
        replicates=replicates,
        seed=seed,
        workers=workers,
    )
    pieces = pieces_of(experiment.site, asked.size)
    with reporter(progress) as tell:
        pairs = Pairs(asked.world, asked.seed, asked.chosen, pieces, workers)
        unknown = pairs.unknown()
        harms = pairs.harms(unknown, tell)
    things = things_of(unknown, harms, pieces, asked.season == "winter")
    presence = presence_terms(things)
    weighed, terms = {}, presence  # where finding changes nothing that is asked for, the chance of presence decides
    by_measure = np.zeros(things.harm.shape[1])
    for names, numbers in weights_of(asked.goals):
        by_goal = terms_of(things, numbers)
        if by_goal.value.sum() > 0.0:
            weighed, terms, by_measure = dict(names), by_goal, numbers
            break
    given = visits(terms, asked.hours, asked.step)
    judged = np.maximum(given, asked.step)
    rate = gained(terms, judged) / judged
    rate[gain_of_more(terms, np.zeros(terms.pieces)) <= 0.0] = 0.0
    start = asked.world.start
    assert start is not None
    many = min(_FIRST, int((given > 0).sum()))
    sure = how_sure(things, by_measure, given, asked.step, many, start.numbers[asked.chosen], asked.seed)
    by_presence = visits(presence, asked.hours, asked.step)
    return labelled(Found(asked, pieces, things, terms, weighed, given, rate, by_presence, sure))
