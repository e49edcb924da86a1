"""Sensitivity by designed samples: the worlds are run again at points chosen for it.

What given data cannot tell apart from chance, a design can: each parameter is moved by itself, all else and luck alike.
Saltelli's design and estimators of first-order and total indices (Saltelli et al. 2010, Comput. Phys. Commun. 181:259;
Sobol 2001, Math. Comput. Simul. 55:271) by SALib.
"""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.analysis.needs import require
from spreadsim.analysis.scoring import scores
from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs import Experiment, Parameter, listed
from spreadsim.inputs.places import find_place
from spreadsim.model.parameters import LINKS, SOLVED, quantile
from spreadsim.planning.axes import strategies_of
from spreadsim.planning.race import needed
from spreadsim.runs.sweep import sweep
from spreadsim.schema import FIRST_YEAR, VARIABLES, build_dataset

_RESAMPLES = 100
_ONE_ERROR = 0.6826894921370859  # SALib's half-width at this confidence is one standard error
METHOD = (
    "Saltelli's design, first-order index (Saltelli et al. 2010) and total index (Jansen 1999) by SALib, each with its "
    "standard error by bootstrap; of means over the same worlds at every point, so that luck has no share in them"
)
Progress = Callable[[int, int], Any]


def designed_sensitivity(
    experiment: Experiment,
    parameters: Sequence[str],
    *,
    goals: Goals | None = None,
    strategies: Sequence[str] = (),
    samples: int = 64,
    replicates: int = 4,
    seed: int | None = None,
    workers: int | None = None,
    progress: bool | Progress = False,
) -> xr.Dataset:
    """Say how much scores, and differences of scores, hang on some parameters, by runs designed for it.

    Parameters
    ----------
    experiment
        What is asked about.
    parameters
        "process.name" of drawn parameters, two or more; each is drawn as the profile says (triangular, on the log scale
        where it says so), by a Sobol sequence. All others are drawn world by world, the same at every point.
    goals
        Weights, or an order of which the first counts; None: as little seed leaving the site as possible.
    strategies
        Names of those wanted, two or more; none: all.
    samples
        A power of two; samples x (parameters + 2) points are run.
    replicates
        Worlds at each point, the same at all; the score is their mean.
    seed
        Of worlds and design; None: the experiment's.
    workers
        Threads; None: one per core. Results do not depend on it.
    progress
        True: a bar on standard error. Or a function that is told how many replicates of how many are done.

    Returns
    -------
    xarray.Dataset
        By (target, parameter): `first`, the share of the variance that goes with the parameter alone, `total`, with all
        that it has together with others, and their standard errors `first_error`, `total_error`. Targets are the
        strategies and, after them, each pair as "one minus another". Attribute `method`.

    Raises
    ------
    InputError
        A parameter that is not drawn, or is drawn together with others so that they fit; samples that are no power of
        two; scipy or SALib not installed.
    """
    require("scipy")
    require("SALib")
    goals = goals or DEFAULT
    numbers = _parameters(experiment, parameters, samples, replicates)
    from SALib.analyze import sobol as analysis
    from SALib.sample import sobol as design

    seed = experiment.seed if seed is None else seed
    problem = {"num_vars": len(numbers), "names": list(numbers), "bounds": [[0.0, 1.0]] * len(numbers)}
    fractions = design.sample(problem, samples, calc_second_order=False, seed=seed)
    points = [
        {name: quantile(numbers[name], float(u)) for name, u in zip(numbers, row, strict=True)} for row in fractions
    ]
    chosen = dataclasses.replace(experiment, strategies=strategies_of(experiment, strategies))
    data = sweep(
        chosen,
        listed(points),
        replicates=replicates,
        seed=seed,
        workers=workers,
        progress=progress,
        outcomes=needed(goals),
    )
    targets = _targets(_score(data, goals))
    found = {
        name: analysis.analyze(
            problem, values, calc_second_order=False, num_resamples=_RESAMPLES, conf_level=_ONE_ERROR, seed=seed
        )
        for name, values in targets.items()
        if np.ptp(values) > 0
    }
    return _table(found, list(targets), list(numbers), len(points), replicates)


def _parameters(experiment: Experiment, names: Sequence[str], samples: int, replicates: int) -> dict[str, Parameter]:
    """The parameters by name, checked."""
    faults: list[str] = []
    found: dict[str, Parameter] = {}
    for name in dict.fromkeys(names):
        try:
            parameter = find_place(experiment, name).parameter
        except InputError as error:
            faults += error.problems
            continue
        if parameter is None or not parameter.drawn or name in SOLVED:
            faults.append(f"parameters: found {show(name)}, allowed parameters that are drawn from a range")
        elif name in LINKS:
            faults.append(
                f"parameters: found {show(name)}, allowed others: it is drawn together with {one_of(LINKS)}, so that "
                "they fit; take seed.patches_founded instead"
            )
        else:
            found[name] = parameter
    if len(found) < 2 and not faults:
        faults.append(f"parameters: found {len(found)}, allowed two or more")
    if samples < 2 or samples & (samples - 1):
        faults.append(f"samples: found {samples}, allowed a power of two, such as 64")
    if replicates < 1:
        faults.append(f"replicates: found {replicates}, allowed 1 or more")
    if faults:
        raise InputError(*faults)
    return found


def _score(data: xr.Dataset, goals: Goals) -> xr.DataArray:
    """Mean score over the worlds of each point, (strategy, design)."""
    points, worlds = data.sizes["design"], data.sizes["replicate"]
    flat: dict[str, Any] = {}
    for name in [str(one) for one in data.data_vars if str(one) in VARIABLES]:
        array = data[name].transpose("strategy", "design", "replicate", ...).to_numpy()
        flat[name] = array.reshape(array.shape[0], points * worlds, *array.shape[3:])
    coords = {"strategy": data["strategy"].values, "replicate": np.arange(points * worlds), "year": data["year"].values}
    attrs = {name: data.attrs[name] for name in ("seed", "currency", FIRST_YEAR) if name in data.attrs}
    score = scores(build_dataset(flat, coords, attrs), goals)["score"].transpose("strategy", "replicate")
    means = score.to_numpy().reshape(-1, points, worlds).mean(axis=2)
    return xr.DataArray(means, {"strategy": score["strategy"].values}, ["strategy", "design"])


def _targets(score: xr.DataArray) -> dict[str, NDArray[np.float64]]:
    names = [str(name) for name in score["strategy"].values]
    values = {name: np.asarray(score.sel(strategy=name).to_numpy(), dtype=float) for name in names}
    pairs = [(one, other) for at, one in enumerate(names) for other in names[:at]]
    return values | {f"{one} minus {other}": values[one] - values[other] for one, other in pairs}


def _table(found: dict[str, Any], targets: list[str], names: list[str], points: int, worlds: int) -> xr.Dataset:
    keys = {"first": "S1", "first_error": "S1_conf", "total": "ST", "total_error": "ST_conf"}
    zeros = np.zeros(len(names))
    columns = {
        name: (
            ("target", "parameter"),
            np.array([np.asarray(found[one][key], float) if one in found else zeros for one in targets]),
        )
        for name, key in keys.items()
    }
    attrs = {"method": METHOD, "points": points, "worlds": worlds}
    return xr.Dataset(columns, {"target": targets, "parameter": names}, attrs)
