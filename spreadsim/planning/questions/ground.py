"""How much ground can be taken on and kept clear with the hours that there are."""

import dataclasses
from collections.abc import Sequence

import numpy as np
import xarray as xr

from spreadsim.analysis.answer import Answer
from spreadsim.analysis.decision_words import number
from spreadsim.analysis.intervals import share_interval
from spreadsim.analysis.wording import percent, surety
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment
from spreadsim.planning.questions.cases import Progress, check_counts, check_question, hours_a_year, strategy_named
from spreadsim.planning.questions.in_units import in_units, unit_areas, unit_cover, units_in_order
from spreadsim.planning.questions.paired import areas as area_scale
from spreadsim.runs.progress import reporter
from spreadsim.runs.simulate import replicate_numbers


def ground_kept(
    experiment: Experiment,
    strategy: str | None = None,
    *,
    order: Sequence[str] = (),
    under: float = 0.01,
    lasting: int = 3,
    share: float = 0.8,
    replicates: int = 100,
    seed: int | None = None,
    workers: int | None = None,
    confidence: float = 0.9,
    units: str | None = None,
    progress: bool | Progress = False,
) -> Answer:
    """Tell how many units can be taken on and kept clear with the crews as they are.

    The strategy is held to the first unit, to the first two, and so on. A unit is kept in a world if the mat covers
    less than a threshold of its ground at the end of each of the last years.

    Parameters
    ----------
    experiment
        What is asked about; its site has units.
    strategy
        Its name; None: the only one that has tasks.
    order
        Units in the order in which they are taken on; none: the strategy's, else the site's.
    under
        Cover of a unit's ground below which it counts as clear, above 0 and below 1.
    lasting
        In so many last years.
    share
        Share of worlds in which all units taken on must be kept.
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
        Table by `taken`, how many units are taken on: `unit`, the last of them; `area` of all of them (m2); `kept`, the
        share of worlds in which all are kept, with `low`, `high`; `last_kept`, that of the last alone; `untouched`, the
        share of worlds in which the last is clear with no action. Attribute `most`: how many can be kept.

    Raises
    ------
    InputError
        Arguments that can't be used, or a site without units.
    """
    check_question(confidence, units, share=share, under=under)
    check_counts(experiment, lasting=lasting)
    chosen = strategy_named(experiment, strategy)
    names = units_in_order(experiment, chosen, order)
    if len(set(names)) < len(names):
        raise InputError("order: found a unit twice, allowed each once")
    experiment = experiment if seed is None else dataclasses.replace(experiment, seed=seed)
    numbers = replicate_numbers(replicates)
    years = list(range(experiment.years - lasting + 1, experiment.years + 1))
    place = [experiment.site.unit_names.index(name) + 1 for name in names]
    areas = unit_areas(experiment)[place]
    clear = []
    with reporter(progress) as report:
        for count in range(len(names) + 1):
            held = in_units(experiment, chosen, names[:count])
            cover = unit_cover(experiment, held, numbers, years, workers)
            clear.append(np.asarray((cover[:, :, place] < under).all(axis=1)))
            report(count + 1, len(names) + 1)
    table = _table(names, areas, clear, confidence)
    enough = np.flatnonzero(table["kept"].values >= share)
    table.attrs = {
        "strategy": chosen.name,
        "under": under,
        "lasting": lasting,
        "wanted": share,
        "years": experiment.years - experiment.first_year,
        "hours": hours_a_year(experiment, [crew.name for crew in experiment.crews]),
        "worlds": len(numbers),
        "confidence": confidence,
        "most": int(enough.max()) + 1 if enough.size else 0,
    }
    return Answer("ground", *_told(table, units or experiment.units))


def _table(names: Sequence[str], areas: np.ndarray, clear: Sequence[np.ndarray], confidence: float) -> xr.Dataset:
    worlds = len(clear[0])
    kept = [clear[count][:, :count].all(axis=1) for count in range(1, len(names) + 1)]
    ends = [share_interval(int(one.sum()), worlds, confidence) for one in kept]
    columns = {
        "unit": np.array(names, object),
        "area": areas.cumsum(),
        "kept": np.array([one.mean() for one in kept]),
        "low": np.array([low for low, _ in ends]),
        "high": np.array([high for _, high in ends]),
        "last_kept": np.array([clear[count][:, count - 1].mean() for count in range(1, len(names) + 1)]),
        "untouched": np.array([clear[0][:, at].mean() for at in range(len(names))]),
    }
    coords = {"taken": np.arange(1, len(names) + 1)}
    return xr.Dataset({key: ("taken", values) for key, values in columns.items()}, coords)


def _told(table: xr.Dataset, system: str) -> tuple[str, xr.Dataset, list[str], list[list[str]], tuple[str, ...]]:
    facts = table.attrs
    scale = area_scale(table["area"].values, system)
    most, units = facts["most"], table.sizes["taken"]
    hours = f"With the {number(facts['hours'])} h a year of its crews"
    clear = f"clear (mat on less than {100 * facts['under']:.3g} % of a unit's ground in each of the last "
    clear += f"{facts['lasting']} of {facts['years']} years)"
    if not most:
        text = f'{hours} "{facts["strategy"]}" keeps not even the first unit, {_quoted(table, 1)}, {clear}: '
        text += f"it does in {_kept(table, 1)} of worlds, where {percent(facts['wanted'])} are wanted."
    else:
        wins = round(float(table["kept"][most - 1]) * facts["worlds"])
        ground = scale.with_unit(scale.text(float(table["area"][most - 1])))
        whole = scale.with_unit(scale.text(float(table["area"][-1])))
        text = f'{hours} "{facts["strategy"]}" can take on and keep {ground} of {whole}: {_quoted(table, most)} stay '
        text += f"{clear}, in {_kept(table, most)} of worlds ({surety(wins, facts['worlds'])})."
    if 0 < most < units:
        text += f' With "{table["unit"].values[most]}" as well it is {_kept(table, most + 1)}.'
    rows = [
        [
            ("" if count == 1 else "and ") + str(table["unit"].values[count - 1]),
            scale.text(float(table["area"][count - 1])),
            percent(float(table["kept"][count - 1])),
            f"{percent(float(table['low'][count - 1]))} to {percent(float(table['high'][count - 1]))}",
            percent(float(table["last_kept"][count - 1])),
            percent(float(table["untouched"][count - 1])),
        ]
        for count in range(1, units + 1)
    ]
    head = ["taken on", scale.unit, "all kept", "interval", "this one kept", "with no action"]
    return text, table, head, rows, ("Ground only: hosts in a unit that is clear may still be climbed.",)


def _kept(table: xr.Dataset, count: int) -> str:
    row = table.isel(taken=count - 1)
    return f"{percent(float(row['kept']))} ({percent(float(row['low']))} to {percent(float(row['high']))})"


def _quoted(table: xr.Dataset, count: int) -> str:
    names = [f'"{name}"' for name in table["unit"].values[:count]]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
