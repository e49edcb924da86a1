"""What is left of a grant some years after it has ended."""

from collections.abc import Sequence

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.intervals import mean_interval
from spreadsim.analysis.wording import Scale, percent, surety
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment
from spreadsim.planning.questions.cases import (
    Case,
    Cases,
    Floats,
    Progress,
    check_question,
    check_years,
    crews_named,
    strategy_named,
)
from spreadsim.planning.questions.paired import headed, ratio
from spreadsim.planning.questions.spans import ended
from spreadsim.runs.progress import reporter

_TITLES = {
    "infested_area": "infested area",
    "fruiting_hosts": "fruiting hosts",
    "seeds_exported": "seed leaving the site",
}
_KINDS = {"infested_area": "area", "fruiting_hosts": "hosts", "seeds_exported": "seeds"}


def left_of_grant(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    lasts: int = 3,
    year: int = 8,
    crews: Sequence[str] = (),
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Tell how much of what a grant gains is left some years after it has ended.

    Three cases in the same worlds: the crews come for the years of the grant and then no more; they go on; nobody comes
    at all. A gain is what no action has more.

    Parameters
    ----------
    experiment
        What is asked about.
    strategy
        Its name; None: the only one that has tasks.
    lasts
        Last year of the grant.
    year
        At whose end the gain is looked at; not before the grant ends.
    crews
        Those that the grant pays; none: all, and then funds end with it too.
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
        Table by `measure` and `year` from 1 on: `ended` and `going_on`, the mean gains over no action (infested area in
        m2, fruiting hosts, seed that left the site so far), each with `_low`, `_high`; `share` of the first in the
        second with its interval, missing where going on gains nothing beyond chance.

    Raises
    ------
    InputError
        Arguments that can't be used.
    """
    check_question(confidence, units)
    check_years(experiment, lasts=lasts, year=year)
    if year < lasts:
        raise InputError(f"year: found {show(year)}, allowed {lasts} or later: the grant lasts until then")
    chosen = strategy_named(experiment, strategy)
    names = crews_named(experiment, crews)
    cases = Cases(experiment, replicates, seed, workers)
    over = cases.experiment if lasts == experiment.years else ended(cases.experiment, names, lasts)
    with reporter(progress) as report:
        runs = []
        for done, case in enumerate(((over, chosen), (cases.experiment, chosen)), start=1):
            runs.append(cases.run(*case))
            report(done, 3)
        nothing = cases.nothing(cases.experiment)
        report(3, 3)
    first = experiment.first_year
    worse = int((runs[0].area[:, year - first] > runs[0].area[:, lasts - first]).sum())
    table = _table((nothing, runs[0], runs[1]), first, confidence, cases.experiment.seed)
    table.attrs = {
        "strategy": chosen.name,
        "lasts": lasts,
        "year": year,
        "worlds": cases.worlds,
        "confidence": confidence,
        "regrown": worse,
    }
    return Answer(
        "grant", _sentence(table, units or experiment.units), table, *_printed(table, units or experiment.units)
    )


def _table(cases: tuple[Case, Case, Case], start: int, confidence: float, seed: int) -> xr.Dataset:
    """From no action, the grant that ended, and going on; `start` is the year at whose end they begin."""
    columns: dict[str, list[list[float]]] = {}
    for name in _TITLES:
        none, first, second = (_so_far(case, name) for case in cases)
        for key, gain in (("ended", none - first), ("going_on", none - second)):
            low, high = mean_interval(gain, confidence, seed)
            for column, values in ((key, gain.mean(axis=0)), (f"{key}_low", low), (f"{key}_high", high)):
                columns.setdefault(column, []).append(list(values))
        shares = [ratio((none - first)[:, at], (none - second)[:, at], confidence, seed) for at in range(none.shape[1])]
        for column, values in zip(("share", "share_low", "share_high"), zip(*shares, strict=True), strict=True):
            columns.setdefault(column, []).append(list(values))
    coords = {"measure": list(_TITLES), "year": start + np.arange(1, cases[0].hours.shape[1] + 1)}
    return xr.Dataset({key: (("measure", "year"), rows) for key, rows in columns.items()}, coords)


def _so_far(case: Case, name: str) -> Floats:
    """State at the end of each year that is run, or the flow added up so far."""
    values = case.by_year(name)[:, 1:]
    return values.cumsum(axis=1) if name == "seeds_exported" else values


def _scale(table: xr.Dataset, name: str, system: str) -> Scale:
    rows = table.sel(measure=name, year=[table.attrs["lasts"], table.attrs["year"]])
    values = [*rows["ended"].values, *rows["going_on"].values]
    return Scale(values, _KINDS[name], system, levels=values if name == "infested_area" else ())


def _sentence(table: xr.Dataset, system: str) -> str:
    facts = table.attrs
    lasts, year = facts["lasts"], facts["year"]
    told = []
    for name, title in _TITLES.items():
        row = table.sel(measure=name, year=year)
        scale = _scale(table, name, system)
        gain = scale.with_unit(scale.text(float(row["ended"])))
        if np.isnan(float(row["share"])):
            told.append(f"of {title} going on gains nothing that {facts['worlds']:,} worlds can tell from chance")
            continue
        interval = f"{percent(float(row['share_low']))} to {percent(float(row['share_high']))}"
        told.append(f"{percent(float(row['share']))} ({interval}) for {title}, {gain} less than with no action")
    end = f'If "{facts["strategy"]}" ends after year {lasts}, what is left in year {year} of the gain that going on '
    end += f"has then is: {'; '.join(told)}."
    if year == lasts:
        return end
    word = surety(facts["regrown"], facts["worlds"])
    share = percent(facts["regrown"] / facts["worlds"])
    return f"{end} That infested area grows from year {lasts} to year {year} is {word}: it does in {share} of worlds."


def _printed(table: xr.Dataset, system: str) -> tuple[list[str], list[list[str]]]:
    rows = []
    for name, title in _TITLES.items():
        scale = _scale(table, name, system)
        for year in dict.fromkeys((table.attrs["lasts"], table.attrs["year"])):
            row = table.sel(measure=name, year=year)
            share = percent(float(row["share"]))
            between = f"{percent(float(row['share_low']))} to {percent(float(row['share_high']))}"
            gains = [scale.text(float(row[key])) for key in ("ended", "going_on")]
            named = headed(title, scale)
            rows.append([named, str(year), *gains, share, between if row["share"] == row["share"] else "-"])
    return ["less than with no action", "year", "ended", "going on", "left", "interval"], rows
