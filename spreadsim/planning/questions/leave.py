"""Which unit to leave for now."""

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import NEVER, Answer, entry_words
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.goals import Goals
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, Strategy
from spreadsim.planning.questions.cases import (
    Case,
    Cases,
    Progress,
    check_counts,
    check_question,
    strategy_named,
)
from spreadsim.planning.questions.in_units import in_units, unit_areas, units_in_order
from spreadsim.planning.questions.judged import Judged, score_title
from spreadsim.planning.questions.paired import Paired, areas, paired, ratio
from spreadsim.planning.questions.spans import with_tasks
from spreadsim.runs.progress import reporter

_SPARE = 0.8  # hours are to spare where the units before take less than this of what all take together


def unit_to_leave(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    wait: int = 5,
    goals: Goals | None = None,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Tell which unit to leave for now, and in which year to enter each.

    Each unit is left alone for some years while the others are worked: the unit of which that costs least is the one to
    leave. Units are entered from the one that is dearest to leave, each in the first year in which those before it take
    less than four fifths of the hours that all units together take then. And each is worked alone by all crews: what
    that avoids against no action for an hour worked.

    Parameters
    ----------
    experiment
        What is asked about; its site has two units or more.
    strategy
        Its name; None: the only one that has tasks.
    wait
        For how many years a unit is left in the last of these cases.
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
        Table by `unit`, in the order of entry: `area` (m2); `per_hour`, what an hour there avoids of the score, with
        `per_hour_low`, `per_hour_high`; `worked`, hours a year when it is worked alone; `entry`, its year (0: not in
        the years of the experiment); `waiting`, what leaving it for so many years adds to the score, with its interval.

    Raises
    ------
    InputError
        Arguments that can't be used, or fewer than two units.
    """
    check_question(confidence, units)
    check_counts(experiment, wait=wait)
    chosen = strategy_named(experiment, strategy)
    names = units_in_order(experiment, chosen)
    if len(names) < 2:
        raise InputError(f"site: found {len(names)} unit, allowed two or more")
    cases = Cases(experiment, replicates, seed, workers, goals)
    total = 3 * len(names) + 1
    with reporter(progress) as report:

        def run(strategy: Strategy) -> Case:
            found = cases.run(cases.experiment, strategy)
            report(min(cases.ran, total), total)
            return found

        until = experiment.first_year + wait
        together = run(_later(experiment, chosen, names, "", until))
        late = {name: run(_later(experiment, chosen, names, name, until)) for name in names}
        ranked = sorted(names, key=lambda name: -late[name].score.mean())  # of equal ones the strategy's order holds
        nested = [run(in_units(experiment, chosen, ranked[: k + 1])) for k in range(len(ranked))]
        alone = {name: run(in_units(experiment, chosen, [name])) for name in ranked}
        nothing = cases.nothing(cases.experiment)
    seed_used = cases.experiment.seed
    yields = {name: _yield(nothing, one, confidence, seed_used) for name, one in alone.items()}
    pairs = {name: paired(late[name].score, together.score, confidence, seed_used) for name in ranked}
    apart = paired(late[ranked[-1]].score, late[ranked[-2]].score, confidence, seed_used)
    by_name = dict(zip(experiment.site.unit_names, unit_areas(experiment)[1:], strict=True))
    columns: dict[str, Any] = {
        "area": [by_name[name] for name in ranked],
        "per_hour": [yields[name][0] for name in ranked],
        "per_hour_low": [yields[name][1] for name in ranked],
        "per_hour_high": [yields[name][2] for name in ranked],
        "worked": [alone[name].hours.mean() for name in ranked],
        "entry": _entries(nested, experiment.first_year),
        "waiting": [pairs[name].mean for name in ranked],
        "waiting_low": [pairs[name].low for name in ranked],
        "waiting_high": [pairs[name].high for name in ranked],
    }
    table = xr.Dataset({key: ("unit", values) for key, values in columns.items()}, {"unit": ranked})
    table.attrs = {
        "title": experiment.title,
        "strategy": chosen.name,
        "score": score_title(cases.goals),
        "wait": wait,
        "years": experiment.years,
        "worlds": cases.worlds,
        "confidence": confidence,
    }
    scales = _scales(cases, table, units or experiment.units)
    return Answer(
        "leave", _sentence(table, pairs, apart, scales[0]), table, *_printed(table, *scales, units or experiment.units)
    )


def _yield(nothing: Case, case: Case, confidence: float, seed: int) -> tuple[float, float, float]:
    return ratio(nothing.score - case.score, case.hours.sum(axis=1), confidence, seed)


def _later(experiment: Experiment, strategy: Strategy, names: Sequence[str], left: str, until: int) -> Strategy:
    """Give the strategy with every task in two: to the end of a year without a unit, and afterwards with all."""
    tasks = []
    for task in in_units(experiment, strategy, names).tasks:
        first, last = task.years or (1, None)
        kept = tuple(name for name in task.units if name != left)
        if first <= until and (kept or not task.units):
            end = until if last is None else min(until, last)
            tasks.append(dataclasses.replace(task, years=(first, end), units=kept))
        if max(first, until + 1) <= (experiment.years if last is None else min(last, experiment.years)):
            tasks.append(dataclasses.replace(task, years=(max(first, until + 1), last)))
    return with_tasks(strategy, tasks)


def _entries(nested: Sequence[Case], start: int) -> list[int]:
    """Give the first year in which there are hours to spare for each unit, from those that come before it."""
    whole = nested[-1].hours.mean(axis=0)
    years, first = [start + 1], 0
    for case in nested[:-1]:
        spare = np.flatnonzero(case.hours.mean(axis=0)[first:] <= _SPARE * whole[first:])
        if years[-1] == NEVER or not spare.size:
            years.append(NEVER)
            continue
        first += int(spare[0])
        years.append(start + first + 1)
    return years


def _scales(cases: Cases, table: xr.Dataset, system: str) -> tuple[Judged, Judged]:
    """Give how the score is told, and how the score for an hour."""
    return (
        Judged(cases.goals, table["waiting"].values, system, cases.experiment.currency),
        Judged(cases.goals, table["per_hour"].values, system, cases.experiment.currency),
    )


def _sentence(table: xr.Dataset, pairs: Mapping[str, Paired], apart: Paired, judged: Judged) -> str:
    facts = table.attrs
    names = [str(name) for name in table["unit"].values]
    least, next_one = names[-1], names[-2]
    confidence = facts["confidence"]
    sure = "" if apart.told else f', or "{next_one}": these worlds cannot tell which'
    text = f'Leave "{least}" for now{sure}. '
    text += f'Left for {facts["wait"]} years, with the others worked by "{facts["strategy"]}", '
    text += f"there is, of {facts['score']}, {judged.more(pairs[least], confidence)}. "
    than = f' than if "{next_one}" is left instead'
    text += f"That is {judged.more(apart, confidence, than)}."
    if len(names) > 2 and not pairs[names[0]].same:
        text += f' Dearest to leave is "{names[0]}": {judged.amount(pairs[names[0]])}.'
    entries = [f'"{name}" {entry_words(int(year))}' for name, year in zip(names, table["entry"].values, strict=True)]
    return f"{text} Enter {', '.join(entries)}."


def _printed(
    table: xr.Dataset, judged: Judged, hourly: Judged, system: str
) -> tuple[list[str], list[list[str]], tuple[str, ...]]:
    ground = areas(table["area"].values, system)
    rows = []
    for at, name in enumerate(table["unit"].values):
        row = table.isel(unit=at)
        ends = (float(row[f"per_hour_{end}"]) * hourly.scale.factor for end in ("low", "high"))
        year = int(row["entry"])
        rows.append(
            [
                str(name),
                str(year) if year != NEVER else "not yet",
                ground.text(float(row["area"])),
                number(float(row["worked"])),
                number(float(row["per_hour"]) * hourly.scale.factor),
                " to ".join(number(end) for end in ends),
                judged.text(float(row["waiting"]), sign=True),
            ]
        )
    wait, verb = table.attrs["wait"], judged.avoided
    head = ["unit", "enter", ground.unit, "h a year", f"{verb}/h", "interval", f"left {wait} y"]
    note = f"{verb.capitalize()}/h: {table.attrs['score']} {verb} for an hour worked, the unit worked alone, in "
    note += f"{hourly.scale.unit or 'points'}; h a year: worked then. Left {wait} y: what leaving the unit so long "
    note += f"changes, in {judged.scale.unit or 'points'}."
    own = (
        "Units are ranked by what leaving each costs. The strategy itself, its work list and the brief go in the order "
    )
    own += "of its tasks; to follow this one instead, give tasks `units` and `years`."
    return head, rows, (note, own)
