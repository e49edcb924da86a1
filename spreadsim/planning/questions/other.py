"""Removing the other invader first: what clearing its shrubs does to the vine, sooner or later."""

import dataclasses
from collections.abc import Sequence

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.goals import Goals
from spreadsim.errors import InputError, show
from spreadsim.inputs import Event, Experiment
from spreadsim.planning.questions.cases import (
    Case,
    Cases,
    Progress,
    check_question,
    check_years,
    crews_named,
    hours_a_year,
    strategy_named,
)
from spreadsim.planning.questions.judged import Judged, score_title
from spreadsim.planning.questions.paired import areas, hosts, paired
from spreadsim.planning.questions.spans import Span, with_spans
from spreadsim.runs.progress import reporter

KIND = "shrub removal"
UNSAID = (
    "The model knows the other invader only as ground that is disturbed when it is removed, where the vine thickens "
    "and takes seed faster for some years, and as hours that its removal takes. It does not know what the other "
    "invader does to natives, whether it shades the vine or comes back: that it is removed sooner is worth nothing in "
    "these numbers."
)


def other_invader_first(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    places: Sequence[tuple[float, float, float]] = (),
    sooner: int | None = None,
    later: int | None = None,
    hours: float = 0.0,
    goals: Goals | None = None,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Compare removing another invader's shrubs before the work on the vine with removing them some years later.

    Parameters
    ----------
    experiment
        What is asked about. Its planned events of the kind "shrub removal" say where the other invader stands, unless
        `places` do.
    strategy
        Its name; None: the only one that has tasks.
    places
        Circles that are cleared: x, y (m from the south-west corner) and radius (m).
    sooner, later
        Years of removal in the two cases; None: the first that is run, and five years later.
    hours
        That the removal takes from the crews' hours in its year, shared out evenly; at most a year's.
    goals
        What is judged by; None: as little seed leaving the site as possible.
    replicates, seed, workers
        Worlds of each case, their seed (None: the experiment's), threads.
    confidence
        Of the intervals.
    units
        To show, "metric" or "us"; None: the experiment's.
    progress
        True: a bar on standard error. Or a function that is told how many cases of how many are done.

    Returns
    -------
    Answer
        Table by `case` ("sooner", "later", "not at all"): mean `score`, infested `area` (m2) and `fruiting` hosts at
        the end. What the model leaves out is in `notes`.

    Raises
    ------
    InputError
        Arguments that can't be used, or no place: without one the model cannot answer.
    """
    check_question(confidence, units)
    sooner = experiment.first_year + 1 if sooner is None else sooner
    later = sooner + 5 if later is None else later
    check_years(experiment, sooner=sooner, later=later)
    if sooner >= later:
        raise InputError(f"later: found {show(later)}, allowed a year after {sooner}, the sooner one")
    chosen = strategy_named(experiment, strategy)
    names = crews_named(experiment, ())
    planned = hours_a_year(experiment, names)
    if not 0 <= hours <= planned:
        raise InputError(f"hours: found {show(hours)}, allowed 0 to {planned:g}, the hours of a year")
    here = [Event(KIND, year=1, x=x, y=y, radius=radius) for x, y, radius in places]
    here = here or [event for event in experiment.events if _is_to_come(experiment, event)]
    if not here:
        raise InputError(
            "places: found none, allowed circles x, y, radius in metres, or planned [[events]] of kind "
            f'"{KIND}" in the experiment: where the other invader stands is not known, so the model cannot answer'
        )
    cases = Cases(experiment, replicates, seed, workers, goals)
    runs: dict[str, Case] = {}
    with reporter(progress) as report:
        for done, (case, year) in enumerate({"sooner": sooner, "later": later, "not at all": None}.items(), start=1):
            spans = _spans(experiment.years, (sooner, later), year, 1.0 - hours / planned)
            changed = with_spans(_moved(cases.experiment, here, year), spans, names)
            runs[case] = cases.run(changed, next(one for one in changed.strategies if one.name == chosen.name))
            report(done, 3)
    table = xr.Dataset(
        {
            "score": ("case", [run.score.mean() for run in runs.values()]),
            "area": ("case", [run.area[:, -1].mean() for run in runs.values()]),
            "fruiting": ("case", [run.fruiting[:, -1].mean() for run in runs.values()]),
        },
        {"case": list(runs)},
        {
            "strategy": chosen.name,
            "sooner": sooner,
            "later": later,
            "hours": hours,
            "score": score_title(cases.goals),
            "worlds": cases.worlds,
            "confidence": confidence,
        },
    )
    return Answer("other", *_told(table, runs, cases, units or experiment.units), notes=(UNSAID,))


def _moved(experiment: Experiment, here: Sequence[Event], year: int | None) -> Experiment:
    """Give the experiment with the removals in one year, or without them; other events stay."""
    others = tuple(event for event in experiment.events if not _is_to_come(experiment, event))
    moved = () if year is None else tuple(dataclasses.replace(event, year=year) for event in here)
    return dataclasses.replace(experiment, events=(*others, *moved))


def _is_to_come(experiment: Experiment, event: Event) -> bool:
    """Whether it is a removal that is planned, and not one of before the runs begin."""
    return event.kind == KIND and event.planned and (event.year or 0) > experiment.first_year


def _spans(years: int, bounds: tuple[int, int], taken: int | None, factor: float) -> list[Span]:
    """Give spans that are the same in all cases but for the hours of the year that the removal takes some from."""
    sooner, later = bounds
    edges = [(1, sooner - 1), (sooner, sooner), (sooner + 1, later - 1), (later, later), (later + 1, years)]
    return [Span(first, last, factor if first == last == taken else 1.0) for first, last in edges if first <= last]


def _told(
    table: xr.Dataset, runs: dict[str, Case], cases: Cases, system: str
) -> tuple[str, xr.Dataset, list[str], list[list[str]]]:
    facts = table.attrs
    judged = Judged(cases.goals, table["score"].values, system, cases.experiment.currency)
    pair = paired(runs["sooner"].score, runs["later"].score, facts["confidence"], cases.experiment.seed)
    takes = f", which takes {number(facts['hours'])} h of the crews," if facts["hours"] else ""
    text = (
        f'For the vine alone, under "{facts["strategy"]}": removing the other invader in year {facts["sooner"]}{takes} '
    )
    text += f"instead of in year {facts['later']} leaves, measured by {facts['score']}, "
    text += f"{judged.more(pair, facts['confidence'])}."
    if pair.same or not pair.told:
        text += " So the vine does not decide it: do first what the other invader calls for."
    area = areas(table["area"].values, system)
    count = hosts(np.asarray(table["fruiting"].values))
    rows = [
        [
            f"in year {facts[case]}" if case in facts else case,
            judged.text(float(row["score"])),
            area.text(float(row["area"])),
            count.text(float(row["fruiting"])),
        ]
        for case, row in ((case, table.sel(case=case)) for case in runs)
    ]
    return text, table, ["other invader removed", judged.heading, f"area, {area.unit}", "fruiting"], rows
