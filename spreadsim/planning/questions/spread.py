"""All the money now, or spread over years."""

import dataclasses
from collections.abc import Sequence

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.goals import Goals
from spreadsim.analysis.wording import percent
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment
from spreadsim.planning.questions.cases import (
    Case,
    Cases,
    Progress,
    check_counts,
    check_question,
    crews_named,
    hours_a_year,
    strategy_named,
)
from spreadsim.planning.questions.judged import Judged, score_title
from spreadsim.planning.questions.paired import (
    Paired,
    areas,
    hosts,
    paired,
)
from spreadsim.planning.questions.spans import changed_crew
from spreadsim.runs.progress import reporter


def now_or_spread(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    over: int | None = None,
    within: Sequence[int] | None = None,
    crews: Sequence[str] = (),
    goals: Goals | None = None,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Compare spending the same hours in few years with spreading them over many.

    The hours planned for the years `over` are worked within the first year, the first two and so on; nobody comes
    afterwards. Funds that pay only crews whose hours are moved may be spent in the same years, whatever their own.

    Parameters
    ----------
    experiment
        What is asked about.
    strategy
        Its name; None: the only one that has tasks.
    over
        Years whose hours are spent; None: 10, or all of a shorter experiment.
    within
        Numbers of years in which they are spent instead, at most `over`; None: 1, 2, 3, 5 and all.
    crews
        Whose hours are moved; those of others stay; none: all.
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
        Table by `within`: mean `score`; `more`, how much more than spread over all years, with `more_low`, `more_high`;
        `better`, the share of worlds in which it is better so; infested `area` (m2) and `fruiting` hosts at the end;
        hours `offered` in all and `worked`.

    Raises
    ------
    InputError
        Arguments that can't be used.
    """
    check_question(confidence, units)
    length = experiment.years - experiment.first_year
    over = min(10, length) if over is None else over
    check_counts(experiment, over=over)
    spans = sorted({one for one in (1, 2, 3, 5) if one < over} if within is None else set(within))
    if wrong := [one for one in spans if not 1 <= one <= over]:
        raise InputError(f"within: found {show(wrong[0])}, allowed 1 to {over}, the years over which hours are spread")
    spans = sorted({*spans, over})
    if len(spans) < 2:
        raise InputError(f"within: found {over} year only, allowed fewer years than those spread over")
    chosen = strategy_named(experiment, strategy)
    names = crews_named(experiment, crews)
    cases = Cases(experiment, replicates, seed, workers, goals)
    runs: dict[int, Case] = {}
    with reporter(progress) as report:
        for done, years in enumerate(spans, start=1):
            runs[years] = cases.run(_within(cases.experiment, names, over, years), chosen)
            report(done, len(spans))
    seed_used = cases.experiment.seed
    pairs = {years: paired(run.score, runs[over].score, confidence, seed_used) for years, run in runs.items()}
    table = _table(runs, pairs, hours_a_year(experiment, names) * over)
    table.attrs = {
        "strategy": chosen.name,
        "over": over,
        "years": length,
        "score": score_title(cases.goals),
        "worlds": cases.worlds,
        "confidence": confidence,
    }
    return Answer("now", *_told(table, pairs, cases, units or experiment.units))


def _within(experiment: Experiment, names: Sequence[str], over: int, years: int) -> Experiment:
    """Give the experiment with the hours of many years in the first few."""
    now = experiment.first_year  # hours count from here
    crews = []
    for crew in experiment.crews:
        if crew.name in names:
            first, last = crew.years or (1, None)
            there = max(0, min(now + over, now + over if last is None else last) - max(first, now + 1) + 1)
            hours = tuple(hours * there / years for hours in crew.hours)
            crew = changed_crew(crew, hours=hours, years=(now + 1, now + years))
        crews.append(crew)
    moved = dataclasses.replace(experiment, crews=tuple(crews))
    everybody = [crew.name for crew in experiment.crews]
    funds = []
    for fund in experiment.funds:
        begin = min((fund.years or (1, None))[0], now + 1)
        alone = set(fund.crews or everybody) <= set(names)
        funds.append(dataclasses.replace(fund, years=(begin, now + years)) if alone else fund)
    return dataclasses.replace(moved, funds=tuple(funds))


def _table(runs: dict[int, Case], pairs: dict[int, Paired], offered: float) -> xr.Dataset:
    columns = {
        "score": [run.score.mean() for run in runs.values()],
        "more": [one.mean for one in pairs.values()],
        "more_low": [one.low for one in pairs.values()],
        "more_high": [one.high for one in pairs.values()],
        "better": [one.better / one.worlds for one in pairs.values()],
        "area": [run.area[:, -1].mean() for run in runs.values()],
        "fruiting": [run.fruiting[:, -1].mean() for run in runs.values()],
        "offered": [offered] * len(runs),
        "worked": [run.hours.sum(axis=1).mean() for run in runs.values()],
    }
    return xr.Dataset({key: ("within", np.array(values)) for key, values in columns.items()}, {"within": list(runs)})


def _told(
    table: xr.Dataset, pairs: dict[int, Paired], cases: Cases, system: str
) -> tuple[str, xr.Dataset, list[str], list[list[str]], tuple[str, ...]]:
    facts = table.attrs
    judged = Judged(cases.goals, table["score"].values, system, cases.experiment.currency)
    over, first = facts["over"], min(pairs)
    best = int(table["within"][int(table["score"].values.argmin())])
    total = number(float(table["offered"][0]))
    where = f"over all {over} years" if best == over else f"within {_years(best)}"
    text = (
        f'The same {total} h leave {judged.best} {judged.title} under "{facts["strategy"]}" if they are spent {where}. '
    )
    text += f"All of them within {_years(first)}, instead of spread over {over}, leave: "
    text += f"{judged.more(pairs[first], facts['confidence'])}."
    if best not in (first, over):
        text += f" Within {_years(best)}: {judged.more(pairs[best], facts['confidence'])}."
    row = table.sel(within=first)
    if float(row["worked"]) < 0.9 * float(table["worked"].sel(within=over)):
        text += f" Within {_years(first)} only {number(float(row['worked']))} h of them find work, spread over {over} "
        text += f"years {number(float(table['worked'].sel(within=over)))} h."
    area, count = areas(table["area"].values, system), hosts(table["fruiting"].values)
    rows = [
        [
            _years(years),
            judged.text(float(table["score"].sel(within=years))),
            "" if years == over else judged.text(one.mean, sign=True),
            "" if years == over else percent(one.better / one.worlds),
            area.text(float(table["area"].sel(within=years))),
            count.text(float(table["fruiting"].sel(within=years))),
            number(float(table["worked"].sel(within=years))),
        ]
        for years, one in pairs.items()
    ]
    head = ["within", judged.heading, "more", "better", f"area, {area.unit}", "fruiting", "h worked"]
    note = (
        f"Score, area and fruiting hosts are those of all {facts['years']} years, of which the last are without work."
    )
    return text, table, head, rows, (note,) if facts["years"] > over else ()


def _years(count: int) -> str:
    return "1 year" if count == 1 else f"{count} years"
