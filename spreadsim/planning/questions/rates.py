"""Contractor or volunteers: the same money for the one or the other crew, and where the answer turns."""

from collections.abc import Mapping

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.goals import Goals
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment
from spreadsim.planning.questions.buying import check_able, instead_of, rate_of
from spreadsim.planning.questions.cases import Case, Cases, Progress, check_question, crews_named, strategy_named
from spreadsim.planning.questions.crossing import crossing, factors
from spreadsim.planning.questions.judged import Judged, score_title
from spreadsim.planning.questions.paired import (
    Paired,
    areas,
    hosts,
    paired,
)
from spreadsim.runs.progress import reporter

_RANGE = 16.0  # how many times dearer and cheaper the second crew's hours are tried


def contractor_or_volunteers(
    experiment: Experiment,
    first: str,
    second: str,
    strategy: str | None = None,
    *,
    money: float | None = None,
    rates: Mapping[str, float] | None = None,
    goals: Goals | None = None,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Compare what two crews make of the same money a year, each alone, and find where the answer turns.

    The money buys hours that come: planned hours are more by the turnout, in each crew's own seasons. All other crews
    stay; whoever leads a crew comes for as many hours as that takes.

    Parameters
    ----------
    experiment
        What is asked about.
    first, second
        Names of the two crews, such as a contractor and volunteers.
    strategy
        Its name; None: the only one that has tasks. What a crew may not do is not done.
    money
        A year; None: what the first crew's hours cost as planned.
    rates
        Money for an hour by crew; not given: a paid crew's price, and its share of a paid leader's. What an hour of
        unpaid people costs (leading, tools, food) must be given unless a paid crew leads them.
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
        Table by `crew`: `rate`, `hours` that come a year, `worked`, mean `score`, infested `area` (m2) and `fruiting`
        hosts at the end. Attributes `turns`, `turns_low`, `turns_high`: the second crew's rate below which it does
        better (NaN: not within a sixteenth to 16 times its rate); `better`: "first", "second" or "neither".

    Raises
    ------
    InputError
        Arguments that can't be used, or an hour that costs nothing.
    """
    check_question(confidence, units)
    chosen = strategy_named(experiment, strategy)
    if first == second:
        raise InputError(f"crews: found {show(first)} twice, allowed two different ones")
    for name in (first, second):
        crews_named(experiment, (name,))
    by_name = {crew.name: crew for crew in experiment.crews}
    prices = {name: rate_of(experiment, by_name[name], rates or {}) for name in (first, second)}
    if unknown := [name for name in rates or {} if name not in prices]:
        raise InputError(f"rate: found {show(unknown[0])}, allowed {first} and {second}")
    one = by_name[first]
    sum_a_year = sum(one.hours) * one.turnout * prices[first] if money is None else money
    if not 0 < sum_a_year < np.inf:
        raise InputError(f"money: found {show(sum_a_year)}, allowed above 0")
    cases = Cases(experiment, replicates, seed, workers, goals)
    bought = {name: sum_a_year / prices[name] for name in (first, second)}
    check_able(experiment, chosen, by_name, (first, second))
    tried = factors(1 / _RANGE, _RANGE)[1:]
    with reporter(progress) as report:

        def run(name: str, hours: float) -> Case:
            other = second if name == first else first
            found = cases.run(instead_of(cases.experiment, name, other, hours), chosen)
            report(cases.ran, max(16, cases.ran))
            return found

        runs = {name: run(name, hours) for name, hours in bought.items()}
        base, seed_used = runs[first].score, cases.experiment.seed

        def less(at: int) -> Paired:
            return paired(run(second, bought[second] * tried[at]).score, base, confidence, seed_used)

        where = crossing(
            len(tried), lambda at: less(at).mean <= 0, lambda at: less(at).low <= 0, lambda at: less(at).high <= 0
        )
    pair = paired(runs[second].score, base, confidence, seed_used)
    table = _table(runs, prices, bought)
    turns = [np.nan if at is None or at == 0 else prices[second] / tried[at] for at in where]
    table.attrs = {
        "strategy": chosen.name,
        "money": sum_a_year,
        "currency": experiment.currency,
        "score": score_title(cases.goals),
        "turns": turns[0],
        "turns_low": turns[2],  # the more hours, the lower the rate
        "turns_high": turns[1],
        "always": int(where.at == 0),
        "better": "neither" if not pair.told else "first" if pair.mean > 0 else "second",
        "worlds": cases.worlds,
        "confidence": confidence,
        "years": experiment.years,
    }
    return Answer("crews", *_told(table, pair, cases, units or experiment.units))


def _table(runs: Mapping[str, Case], prices: Mapping[str, float], bought: Mapping[str, float]) -> xr.Dataset:
    columns = {
        "rate": list(prices.values()),
        "hours": list(bought.values()),
        "worked": [run.hours.mean() for run in runs.values()],
        "score": [run.score.mean() for run in runs.values()],
        "area": [run.area[:, -1].mean() for run in runs.values()],
        "fruiting": [run.fruiting[:, -1].mean() for run in runs.values()],
    }
    return xr.Dataset({key: ("crew", np.array(values)) for key, values in columns.items()}, {"crew": list(runs)})


def _told(
    table: xr.Dataset, pair: Paired, cases: Cases, system: str
) -> tuple[str, xr.Dataset, list[str], list[list[str]]]:
    facts = table.attrs
    first, second = (str(name) for name in table["crew"].values)
    currency = facts["currency"]
    judged = Judged(cases.goals, table["score"].values, system, currency)
    told = [f"{number(float(table['hours'].sel(crew=name)))} h of {name}" for name in (first, second)]
    text = f'{number(facts["money"])} {currency} a year buy {told[0]} or {told[1]}. Under "{facts["strategy"]}", '
    text += f"measured by {facts['score']}, {second} leave "
    text += f"{judged.more(pair, facts['confidence'], f' than {first}')}."
    text += f" {_turn(facts, first, second)}"
    area, count = areas(table["area"].values, system), hosts(table["fruiting"].values)
    rows = [
        [
            name,
            number(float(row["rate"])),
            number(float(row["hours"])),
            number(float(row["worked"])),
            judged.text(float(row["score"])),
            area.text(float(row["area"])),
            count.text(float(row["fruiting"])),
        ]
        for name, row in ((name, table.sel(crew=name)) for name in (first, second))
    ]
    head = [
        "alone",
        f"{currency}/h",
        "h a year",
        "worked",
        judged.heading,
        f"area, {area.unit}",
        "fruiting",
    ]
    return text, table, head, rows


def _turn(facts: Mapping[str, object], first: str, second: str) -> str:
    turns, low, high = (float(facts[name]) for name in ("turns", "turns_low", "turns_high"))  # type: ignore[arg-type]
    currency = facts["currency"]
    if facts["always"]:
        return f"They do at least as well even at {_RANGE:g} times their rate: the answer does not turn there."
    if turns != turns:
        return (
            f"At no rate down to a {_RANGE:g}th of theirs do they do as well: not money, but what they may do decides."
        )
    ends = f"{number(low)} to {number(high)}" if low == low and high == high else "one end beyond what was tried"
    return (
        f"The answer turns where an hour of {second} costs about {number(turns)} {currency} ({ends}): below it "
        f"{second} do better, above it {first}."
    )
