"""How many hours a year hold the line."""

from collections.abc import Sequence

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.intervals import share_interval
from spreadsim.analysis.wording import percent
from spreadsim.errors import InputError, show
from spreadsim.inputs import Experiment
from spreadsim.planning.questions.cases import (
    Case,
    Cases,
    Progress,
    check_question,
    crews_named,
    hours_a_year,
    strategy_named,
)
from spreadsim.planning.questions.crossing import Crossing, crossing, factors
from spreadsim.planning.questions.spans import scaled
from spreadsim.runs.progress import reporter

Worlds = NDArray[np.bool_]
_LEAST = 0.1  # of the hours planned: what is tried above none


def hours_to_hold(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    crews: Sequence[str] = (),
    share: float = 0.8,
    most: float = 8.0,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    progress: bool | Progress = False,
) -> Answer:
    """Find the fewest hours a year with which a strategy holds the line.

    It holds in a world where at the end neither infested area nor fruiting hosts are above those of the start. Hours of
    all seasons are multiplied by one factor, on a scale of tenths; the smallest that holds in enough worlds is found by
    halving, its interval by Wilson's interval of the share at each factor.

    Parameters
    ----------
    experiment
        What is asked about.
    strategy
        Its name; None: the only one that has tasks.
    crews
        Whose hours are multiplied, those of others being as planned; none: all.
    share
        Share of worlds in which it must hold.
    most
        Largest factor tried, above 1.
    replicates, seed, workers
        Worlds of each number of hours, their seed (None: the experiment's), threads.
    confidence
        Of the intervals.
    progress
        True: a bar on standard error. Or a function that is told how many cases of how many are done.

    Returns
    -------
    Answer
        Table by `factor` tried: `hours` planned a year, `worked` on average, `share` of worlds that hold, with `low`
        and `high`; `area_held` and `hosts_held`, the shares in which area and fruiting hosts do, taken alone.
        Attributes `hours`, `hours_low`, `hours_high` of the answer (NaN: not in reach), and `holds`.

    Raises
    ------
    InputError
        Arguments that can't be used, no strategy by that name, or no hours to multiply.
    """
    check_question(confidence, None, share=share)
    if not 1.0 < most <= 1000.0:
        raise InputError(f"most: found {show(most)}, allowed above 1, to 1000 times the hours planned")
    chosen = strategy_named(experiment, strategy)
    names = crews_named(experiment, crews)
    cases = Cases(experiment, replicates, seed, workers)
    tried = factors(_LEAST, most)
    found: dict[int, Case] = {}
    with reporter(progress) as report:

        def holds(at: int) -> int:
            if at not in found:
                found[at] = cases.run(scaled(cases.experiment, names, tried[at]), chosen)
                report(len(found), max(18, len(found)))
            return int(_held(found[at]).sum())

        where = crossing(
            len(tried),
            lambda at: holds(at) >= share * cases.worlds,
            lambda at: share_interval(holds(at), cases.worlds, confidence)[1] >= share,
            lambda at: share_interval(holds(at), cases.worlds, confidence)[0] >= share,
        )
    table = _table(experiment, names, tried, found, confidence)
    planned = hours_a_year(experiment, names)
    ends = [np.nan if at is None else planned * tried[at] for at in where]
    table.attrs = {
        "strategy": chosen.name,
        "crews": list(names),
        "wanted": share,
        "planned": planned,
        "everybody": int(len(names) == len(experiment.crews)),
        "worlds": cases.worlds,
        "confidence": confidence,
        "years": experiment.years,
        "hours": ends[0],
        "hours_low": ends[1],
        "hours_high": ends[2],
        "holds": int(where.at is not None),
    }
    return Answer("hold", _sentence(table, where, crews), table, *_printed(table))


def _area_held(case: Case) -> Worlds:
    return np.asarray(case.area[:, -1] <= case.area[:, 0])


def _hosts_held(case: Case) -> Worlds:
    return np.asarray(case.fruiting[:, -1] <= case.fruiting[:, 0])


def _held(case: Case) -> Worlds:
    """Whether in each world neither area nor fruiting hosts are above the start at the end."""
    return _area_held(case) & _hosts_held(case)


def _table(
    experiment: Experiment, names: Sequence[str], tried: Sequence[float], found: dict[int, Case], confidence: float
) -> xr.Dataset:
    places = sorted(found)
    factor = [tried[at] for at in places]
    held = [_held(found[at]) for at in places]
    ends = [share_interval(int(one.sum()), one.size, confidence) for one in held]
    rows = {
        "hours": [one * hours_a_year(experiment, names) for one in factor],
        "worked": [float(found[at].hours.mean()) for at in places],
        "share": [float(one.mean()) for one in held],
        "area_held": [float(_area_held(found[at]).mean()) for at in places],
        "hosts_held": [float(_hosts_held(found[at]).mean()) for at in places],
        "low": [low for low, _ in ends],
        "high": [high for _, high in ends],
    }
    return xr.Dataset({name: ("factor", values) for name, values in rows.items()}, {"factor": factor})


def _sentence(table: xr.Dataset, where: Crossing, crews: Sequence[str]) -> str:
    facts = table.attrs
    strategy, years = facts["strategy"], facts["years"]
    whose = f" of {' and '.join(facts['crews'])}, the others' as planned," if crews else ""
    line = f"neither infested area nor fruiting hosts are above the start at the end of year {years}"
    if where.at == 0:
        share = percent(float(table["share"][0]))
        return f"No hours{whose} are needed to hold the line: without them {line} in {share} of worlds."
    if where.at is None:
        last = table.isel(factor=-1)
        told = f"{percent(float(last['share']))} of worlds ({percent(float(last['low']))} to "
        told += f"{percent(float(last['high']))})"
        text = f'No hours{whose} in reach hold the line with "{strategy}": even with {number(float(last["hours"]))} h '
        text += f"a year, {float(last['factor']):g} times those planned, {line} in {told} only, where "
        text += f"{percent(facts['wanted'])} are wanted."
        text += f" Taken alone, infested area is held in {percent(float(last['area_held']))} of worlds, fruiting hosts "
        return f"{text}in {percent(float(last['hosts_held']))}.{_unworked(table, -1)}"
    low, high = facts["hours_low"], facts["hours_high"]
    if high == high:
        span = f"{number(low)} to {number(high)}" if low < high else "to a tenth"
    else:
        span = f"{number(low)} or more: {facts['worlds']:,} worlds are too few for an upper end"
    place = int(np.flatnonzero(np.isclose(table["hours"], facts["hours"]))[0])
    text = f'To hold the line, "{strategy}" needs about {number(facts["hours"])} h a year{whose} ({span}; interval at '
    text += f"{percent(facts['confidence'])}): with so many {line} in {percent(float(table['share'][place]))} of "
    text += (
        f"worlds, where {percent(facts['wanted'])} are wanted. That is {float(table['factor'][place]):.2g} times the "
    )
    text += f"{number(facts['planned'])} h planned."
    beyond = table["share"].values[place:]
    if (table["high"].values[place:] < facts["wanted"]).any():
        text += f" More hours are not always better here: with some more it holds in {percent(beyond.min())} only."
    return text + _unworked(table, place)


def _unworked(table: xr.Dataset, place: int) -> str:
    """Say so where most of the hours are not worked, so that not they are the limit."""
    row = table.isel(factor=place)
    if table.attrs["everybody"] and float(row["worked"]) < 0.9 * float(row["hours"]):
        text = (
            f" Of these hours {number(float(row['worked']))} a year are worked on average: turnout, seasons, weather, "
        )
        return f"{text}money, the strategy's own caps, or nothing left to do, leave the rest."
    return ""


def _printed(table: xr.Dataset) -> tuple[list[str], list[list[str]]]:
    head = ["times planned", "h a year", "worked", "worlds that hold", "interval", "area held", "fruiting hosts held"]
    rows = [
        [
            f"{float(row['factor']):.2g}",
            number(float(row["hours"])),
            number(float(row["worked"])),
            percent(float(row["share"])),
            f"{percent(float(row['low']))} to {percent(float(row['high']))}",
            percent(float(row["area_held"])),
            percent(float(row["hosts_held"])),
        ]
        for row in (table.isel(factor=at) for at in range(table.sizes["factor"]))
    ]
    return head, rows
