"""What a skipped year costs."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.intervals import mean_interval
from spreadsim.inputs import Experiment, Strategy
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
from spreadsim.planning.questions.crossing import crossing
from spreadsim.planning.questions.paired import Paired, areas, hosts, more_words, paired
from spreadsim.planning.questions.spans import Span, has_luck, with_spans
from spreadsim.runs.progress import reporter

# extra hours tried, as many times those of the year that is missed
_EXTRA = (0.0, *(0.05 * 1.25**k for k in range(24)))


class _Skip(NamedTuple):
    year: int
    area: Paired
    fruiting: Paired
    extra: tuple[float, float, float]  # hours to get back, and the ends of their interval; NaN: not in reach


def skipped_year(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    years: Sequence[int] | None = None,
    crews: Sequence[str] = (),
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Tell what it costs if crews stay away for one year.

    Parameters
    ----------
    experiment
        What is asked about.
    strategy
        Its name; None: the only one that has tasks.
    years
        Years that are missed, each in a case of its own; None: the first, the second and the one in the middle.
    crews
        Who stays away; none: all.
    replicates, seed, workers
        Worlds of each case, their seed (None: the experiment's), threads.
    confidence
        Of the intervals.
    units
        To show, "metric" or "us"; None: the experiment's.
    progress
        True: a bar on standard error. Or a function that is told how many years of how many are done.

    Returns
    -------
    Answer
        Table by `year` missed, at the end of the last year: `area` (m2) and `fruiting` more than without the gap, each
        with `_low` and `_high`; `extra`, the hours that the same crews must do more in all later years together,
        evenly, until on average neither is more than without the gap, with the ends of its interval; NaN: not in reach
        (8 times the hours missed), or no later year.

    Raises
    ------
    InputError
        Arguments that can't be used.
    """
    check_question(confidence, units)
    chosen = strategy_named(experiment, strategy)
    names = crews_named(experiment, crews)
    now, last = experiment.first_year + 1, experiment.years
    missed = sorted({now, min(now + 1, last), max(now, (now + last) // 2)} if years is None else set(years))
    for year in missed:
        check_years(experiment, year=year)
    cases = Cases(experiment, replicates, seed, workers)
    skips = []
    with reporter(progress) as report:
        for done, year in enumerate(missed, start=1):
            skips.append(_skip(cases, chosen, names, year, confidence))
            report(done, len(missed))
    table = _table(skips)
    table.attrs = {
        "strategy": chosen.name,
        "missed": hours_a_year(experiment, names),
        "years": last,
        "worlds": cases.worlds,
        "confidence": confidence,
    }
    return Answer("skipped", *_told(table, skips, units or experiment.units))


def _skip(cases: Cases, strategy: Strategy, names: Sequence[str], year: int, confidence: float) -> _Skip:
    """Compare missing a year with not missing it, and look for the hours that make up for it."""
    last, seed = cases.experiment.years, cases.experiment.seed
    base = _run(cases, strategy, names, year, 1.0, 1.0) if has_luck(cases.experiment) else None
    base = base or cases.run(cases.experiment, strategy)
    gap = _run(cases, strategy, names, year, 0.0, 1.0)
    area = paired(gap.area[:, -1], base.area[:, -1], confidence, seed)
    fruiting = paired(gap.fruiting[:, -1], base.fruiting[:, -1], confidence, seed)
    if year == last:
        return _Skip(year, area, fruiting, (np.nan, np.nan, np.nan))

    def more(at: int) -> tuple[float, float, float]:
        """Mean and interval of what is still more, of area and hosts the one that is further off."""
        case = _run(cases, strategy, names, year, 0.0, 1.0 + _EXTRA[at] / (last - year))
        both = np.column_stack([case.area[:, -1] - base.area[:, -1], case.fruiting[:, -1] - base.fruiting[:, -1]])
        low, high = mean_interval(both, confidence, seed)
        return float(both.mean(axis=0).max()), float(low.max()), float(high.max())

    where = crossing(len(_EXTRA), lambda at: more(at)[0] <= 0, lambda at: more(at)[1] <= 0, lambda at: more(at)[2] <= 0)
    hours = hours_a_year(cases.experiment, names)
    ends = [np.nan if at is None else hours * _EXTRA[at] for at in where]
    return _Skip(year, area, fruiting, (ends[0], ends[1], ends[2]))


def _run(cases: Cases, strategy: Strategy, names: Sequence[str], year: int, here: float, later: float) -> Case:
    """Run with so many times the hours in a year and in all after it."""
    last = cases.experiment.years
    spans = [Span(1, year - 1, 1.0), Span(year, year, here), Span(year + 1, last, later)]
    experiment = with_spans(cases.experiment, [span for span in spans if span.first <= span.last], names)
    return cases.run(experiment, next(one for one in experiment.strategies if one.name == strategy.name))


def _table(skips: Sequence[_Skip]) -> xr.Dataset:
    columns: dict[str, list[float]] = {}
    for skip in skips:
        for name, one in (("area", skip.area), ("fruiting", skip.fruiting)):
            for key, value in ((name, one.mean), (f"{name}_low", one.low), (f"{name}_high", one.high)):
                columns.setdefault(key, []).append(value)
        for key, value in zip(("extra", "extra_low", "extra_high"), skip.extra, strict=True):
            columns.setdefault(key, []).append(value)
    return xr.Dataset({key: ("year", values) for key, values in columns.items()}, {"year": [one.year for one in skips]})


def _told(
    table: xr.Dataset, skips: Sequence[_Skip], system: str
) -> tuple[str, xr.Dataset, list[str], list[list[str]], tuple[str, ...]]:
    facts = table.attrs
    area = areas([one.area.mean for one in skips] + [one.area.high for one in skips], system)
    fruiting = hosts([one.fruiting.mean for one in skips] + [one.fruiting.high for one in skips])
    dearest = max(skips, key=lambda one: one.area.mean)
    confidence = facts["confidence"]
    text = f'Missing year {dearest.year} costs "{facts["strategy"]}"'
    text += " the most of those asked about" if len(skips) > 1 else ""
    text += f": at the end of year {facts['years']} infested area is {more_words(dearest.area, area, confidence)}, and "
    text += f"fruiting hosts are {more_words(dearest.fruiting, fruiting, confidence, less='fewer')}. "
    text += _back(dearest, facts)
    rows = [
        [
            str(one.year),
            area.text(one.area.mean, sign=True),
            area.span(one.area.low, one.area.high, sign=True),
            fruiting.text(one.fruiting.mean, sign=True),
            fruiting.span(one.fruiting.low, one.fruiting.high, sign=True),
            *_hours(one.extra),
        ]
        for one in skips
    ]
    head = ["year missed", f"area, {area.unit}", "interval", "fruiting", "interval", "h to get back", "interval"]
    note = "Hours to get back: what the same crews must do more in all later years together, until on average neither "
    note += "area nor fruiting hosts are above what they are without the gap."
    return text, table, head, rows, (note,)


def _back(skip: _Skip, facts: dict[str, object]) -> str:
    middle, low, high = skip.extra
    missed = f"{number(float(facts['missed']))} h missed"  # type: ignore[arg-type]
    if skip.year == facts["years"]:
        return "No later year is left to get back in."
    if middle != middle and low == 0:
        text = (
            f"On average even 8 times the {missed}, spread over the later years, don't bring that back; but it may be "
        )
        return f"{text}that nothing has to be made up for. More worlds would tell."
    if middle != middle:
        return f"Even 8 times the {missed}, spread over the later years, don't bring it back."
    if middle == 0:
        if high == 0:
            return "Nothing has to be made up for."
        end = f"up to {number(high)} h" if high == high else "many hours"
        return f"On average nothing has to be made up for, but {end} may be needed, for {missed}."
    ends = f"{number(low)} to {number(high)}" if high == high else f"{number(low)} or more"
    return f"To get back takes about {number(middle)} h more in the later years together ({ends}), for {missed}."


def _hours(extra: tuple[float, float, float]) -> list[str]:
    middle, low, high = (number(value) for value in extra)
    return [middle, f"{low} to {high}" if extra[2] == extra[2] else (f"{low} or more" if extra[1] == extra[1] else "-")]
