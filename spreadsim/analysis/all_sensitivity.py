"""Sensitivity of every outcome of every strategy, and of every difference, to every drawn parameter."""

from collections.abc import Callable, Iterable
from itertools import combinations
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.knowing import parameter_names
from spreadsim.analysis.outcomes import base_seed, check_strategy, check_year, measured, measures_of, strategy_names
from spreadsim.analysis.sensitivity import METHODS, sensitivity
from spreadsim.errors import InputError, one_of, show


def sensitivities(
    dataset: xr.Dataset,
    *,
    outcomes: Iterable[str] | None = None,
    strategies: Iterable[str] | None = None,
    year: int = -1,
    method: str = "variance",
    progress: Callable[[int, int], Any] = lambda done, total: None,
) -> xr.Dataset:
    """Say how much each outcome, and each difference between two strategies, hangs on each parameter.

    Parameters
    ----------
    dataset
        What `compare` returned, at least 50 worlds, with drawn parameters.
    outcomes
        Names as in goals (`infested_area`, `seeds_exported` and so on); all that the dataset has if not given.
    strategies
        Names; all if not given.
    year
        At whose end, or up to which; negative ones count from the last.
    method
        One of `sensitivity.METHODS`.
    progress
        Told how many targets of how many are done.

    Returns
    -------
    xarray.Dataset
        By (outcome, target, parameter): `index`, its standard `error`, and `direction` as `sensitivity` gives them; by
        (outcome, target): `noise`. Targets are the strategies, then each pair as "one minus another". What does not
        vary between worlds has an index of 0.

    Raises
    ------
    InputError
        Names that are not there, too few worlds, no drawn parameters, or a missing library.
    """
    known = {measure.name: measure for measure in measures_of(dataset)}
    wanted = list(known) if outcomes is None else list(outcomes)
    if unknown := [name for name in wanted if name not in known]:
        raise InputError(*(f"outcomes: found {show(name)}, allowed {one_of(known)}" for name in unknown))
    names = [check_strategy(dataset, name, "strategies") for name in strategies or strategy_names(dataset)]
    parameters = list(parameter_names(dataset))
    if not parameters:
        raise InputError("dataset: found no drawn parameters, allowed what was not run with fixed_parameters")
    pairs = [(other, one) for one, other in combinations(names, 2)]
    targets = [*names, *(f"{one} minus {other}" for one, other in pairs)]
    at, seed = check_year(dataset, year), base_seed(dataset)
    shape = (len(wanted), len(targets), len(parameters))
    columns = {key: np.zeros(shape) for key in ("index", "error", "direction")}
    noise = np.zeros(shape[:2])
    for row, name in enumerate(wanted):
        values = measured(dataset, known[name], at).reset_coords(drop=True)
        one_by_one = [values.sel(strategy=one, drop=True) for one in names]
        apart = [values.sel(strategy=one, drop=True) - values.sel(strategy=other, drop=True) for one, other in pairs]
        for column, target in enumerate([*one_by_one, *apart]):
            found = sensitivity(dataset, target, method=method, seed=seed).sel(parameter=parameters)
            for key, array in columns.items():
                array[row, column] = found[key].to_numpy()
            noise[row, column] = float(found.attrs["noise"])
            progress(row * len(targets) + column + 1, len(wanted) * len(targets))
    dims = ("outcome", "target", "parameter")
    data: dict[str, Any] = {key: (dims, array) for key, array in columns.items()}
    data["noise"] = (dims[:2], noise)
    coords = {"outcome": wanted, "target": targets, "parameter": parameters}
    return xr.Dataset(data, coords, {"method": METHODS[method], "year": at, "worlds": dataset.sizes["replicate"]})
