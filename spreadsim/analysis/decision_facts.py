"""What is worth knowing before a choice, what its difference hangs on, and whether measuring first would pay."""

import numpy as np
import xarray as xr

from spreadsim.analysis.knowing import parameter_names, survey_value, value_of_knowing, value_of_statistics
from spreadsim.analysis.outcomes import by_year, outcome_names
from spreadsim.analysis.sensitivity import sensitivity
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.surveys import Looking, readings

_FEWEST_FOR_PARAMETERS = 50
_MOST_TOGETHER = 8  # parameters in one regression
_MOST_MEASURED = 5

Facts = tuple[xr.Dataset, dict[str, float], xr.Dataset, xr.Dataset]


def facts_of(
    dataset: xr.Dataset, score: xr.DataArray, choices: list[str], pair: tuple[str, str], looking: Looking, seed: int
) -> Facts:
    """Give what a decision says of the drawn parameters.

    Parameters
    ----------
    dataset
        With drawn parameters by replicate.
    score
        (strategy, replicate); lower is better.
    choices
        Strategies that the choice is between.
    pair
        The choice and the one after it; "" if there is none.
    looking
        What measuring first would see and take.
    seed
        Of resampling.

    Returns
    -------
    tuple
        `knowing`, `together`, `sensitivity` and `survey` of a `Decision`; empty with too few worlds or parameters.
    """
    names = parameter_names(dataset)
    nothing = xr.Dataset()
    if dataset.sizes["replicate"] < _FEWEST_FOR_PARAMETERS or not names or not pair[1]:
        return nothing, {}, nothing, nothing
    choices = choices if len(choices) > 1 else list(pair)
    chosen = score.sel(strategy=choices)
    knowing = value_of_knowing(dataset, chosen, names, seed=seed)
    most = min(_MOST_TOGETHER, dataset.sizes["replicate"] // 20)
    foremost = [str(name) for name in knowing["parameter"].values[:most]]
    together = value_of_statistics(chosen, {name: dataset[name].to_numpy() for name in foremost}, seed=seed)
    difference = score.sel(strategy=pair[1], drop=True) - score.sel(strategy=pair[0], drop=True)
    survey = _survey(dataset, score, chosen, knowing, pair[0], looking, seed)
    return knowing, together, sensitivity(dataset, difference, seed=seed), survey


def _survey(
    dataset: xr.Dataset,
    score: xr.DataArray,
    chosen: xr.DataArray,
    knowing: xr.Dataset,
    choice: str,
    looking: Looking,
    seed: int,
) -> xr.Dataset:
    """Value of reading the facts that are worth knowing, the hours shared among them evenly."""
    names = [str(name) for name in knowing["parameter"].values[knowing["above_noise"].values]][:_MOST_MEASURED]
    if not names:
        return xr.Dataset()
    surveys = {
        hours: readings(
            {name: dataset[name].to_numpy() for name in names},
            hours * looking.readings_an_hour / len(names),
            looking.error,
            seed=seed,
        )
        for hours in looking.hours
    }
    worth = gain_an_hour(dataset, score, choice) if looking.hour_worth is None else looking.hour_worth
    table = survey_value(chosen, surveys, hour_worth=worth, seed=seed)
    return table.assign_attrs(facts=names, hour_worth=worth, given=looking.hour_worth is not None)


def gain_an_hour(dataset: xr.Dataset, score: xr.DataArray, choice: str) -> float:
    """Give by how much an hour of the chosen work lowered the score on average, against no action; at least 0."""
    if NO_ACTION not in score["strategy"].values or choice == NO_ACTION or "hours" not in outcome_names(dataset):
        return 0.0
    hours = float(by_year(dataset, "hours").sel(strategy=choice).sum("year").mean())
    gain = float((score.sel(strategy=NO_ACTION, drop=True) - score.sel(strategy=choice, drop=True)).mean())
    return max(gain / hours, 0.0) if hours > 0 and np.isfinite(gain) else 0.0
