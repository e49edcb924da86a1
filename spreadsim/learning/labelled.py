"""What was learned as one labelled dataset."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

import spreadsim
from spreadsim.learning.finding import FOUND_AGAIN, OUTLINE_ERROR
from spreadsim.learning.fit import Fit
from spreadsim.learning.logged import written
from spreadsim.learning.ranges import LEVELS, Ranges
from spreadsim.learning.task import Task
from spreadsim.learning.today import Today
from spreadsim.learning.warned import warnings_of
from spreadsim.learning.weights import Weights
from spreadsim.schema import CONVENTIONS, COORDINATES


class Learned(NamedTuple):
    """All that was learned."""

    task: Task
    drawn: dict[str, tuple[Any, dict[str, str]]]
    log_likelihood: Any
    weights: Weights
    ranges: Ranges
    fit: Fit
    today: Today
    missed: Any


def labelled(learned: Learned) -> xr.Dataset:
    """Make the dataset; see `learn`."""
    variables = {**_of_worlds(learned), **_of_parameters(learned), **_of_findings(learned), **_of_ground(learned)}
    site, (x0, y0) = learned.task.experiment.site, learned.task.experiment.site.origin
    coordinates = {
        "replicate": ("replicate", np.asarray(learned.task.numbers, "i8"), dict(COORDINATES["replicate"])),
        "statistic": ("statistic", _texts(one.name for one in learned.task.findings.statistics), _of("what was found")),
        "parameter": ("parameter", _texts(learned.drawn), _of("parameter that differs between worlds")),
        "parameter_units": ("parameter", _texts(about["units"] for _, about in learned.drawn.values()), _of("units")),
        "level": ("level", np.array(LEVELS), _of("share of the weight up to there", "1")),
        "y": ("y", y0 + (site.ny - np.arange(site.ny) - 0.5) * site.cell_size, dict(COORDINATES["y"])),
        "x": ("x", x0 + (np.arange(site.nx) + 0.5) * site.cell_size, dict(COORDINATES["x"])),
        "host_x": ("host", x0 + site.hosts.x, _of("place of the host, east", "m")),
        "host_y": ("host", y0 + site.hosts.y, _of("place of the host, north", "m")),
    }
    return xr.Dataset(variables, coordinates, _attributes(learned))


def _of(long_name: str, units: str = "1") -> dict[str, Any]:
    return {"long_name": long_name, "units": units}


def _texts(values: Any) -> Any:
    return np.array(list(values), dtype=object)


def _of_worlds(learned: Learned) -> dict[str, Any]:
    return {
        "weight": ("replicate", learned.weights.values, _of("weight of the world given the survey")),
        "weight_before": ("replicate", learned.weights.before, _of("weight of the world before the survey")),
        "log_likelihood": (
            ("statistic", "replicate"),
            learned.log_likelihood,
            _of("logarithm of the chance of what was found in the world"),
        ),
        "missed_patches": ("replicate", learned.missed[:, 0], _of("new patches still unknown after the survey, mean")),
        "missed_hosts": ("replicate", learned.missed[:, 1], _of("climbed hosts still unknown after the survey, mean")),
    }


def _of_parameters(learned: Learned) -> dict[str, Any]:
    ranges, by_level = learned.ranges, ("parameter", "level")
    values = np.array([column for column, _ in learned.drawn.values()])
    return {
        "value": (("parameter", "replicate"), values.reshape(len(learned.drawn), -1), _of("value in the world")),
        "range_before": (by_level, ranges.before, _of("quantiles before the survey")),
        "range_after": (by_level, ranges.after, _of("quantiles of the weighted worlds")),
        "range_error": (by_level, ranges.error, _of("standard error of range_after, since worlds are few")),
        "moved": ("parameter", ranges.moved, _of("largest distance between the distributions before and after")),
        "learned": ("parameter", ranges.learned.astype("i1"), _of("1: it moved by more than chance; 0: it did not")),
    }


def _of_findings(learned: Learned) -> dict[str, Any]:
    fit, by_level = learned.fit, ("statistic", "level")
    observed = np.array([one.observed for one in learned.task.findings.statistics])
    return {
        "observed": ("statistic", observed, _of("what was found: a count, or m2 of mat")),
        "predicted_before": (by_level, fit.before, _of("quantiles of what would have been found, before the survey")),
        "predicted_after": (by_level, fit.after, _of("the same of the weighted worlds")),
        "chance_before": ("statistic", fit.chance_before, _of("chance of a finding as far out, before the survey")),
        "chance_after": ("statistic", fit.chance_after, _of("the same of the weighted worlds")),
    }


def _of_ground(learned: Learned) -> dict[str, Any]:
    site, maps = learned.task.experiment.site, learned.today
    looked = learned.task.looked.effort.looked

    recorded = np.zeros(site.ny * site.nx, "i1")
    recorded[learned.task.findings.mat_cells] = 1

    def layer(values: Any, long_name: str, units: str = "1") -> Any:
        return (("y", "x"), values.reshape(site.ny, site.nx), _of(long_name, units))

    effort = learned.task.looked.effort.leaf_on + learned.task.looked.effort.leaf_off
    return {
        "mat_before": layer(maps.before.astype("f4"), "chance of mat at the time of the survey, before the survey"),
        "mat_now": layer(maps.now.astype("f4"), "chance of mat at the time of the survey"),
        "unknown_mat": layer(maps.unknown.astype("f4"), "chance of mat that nobody knows of after the survey"),
        "recorded": layer(recorded, "1: mat was recorded there"),
        "looked": layer(looked.astype("i1"), "1: somebody looked; 0: unknown, not clean"),
        "effort": layer(effort, "how long was looked, all people and visits together", "min ha-1"),
        "climbed_now": ("host", maps.climbed, _of("chance that vine is on the host")),
        "fruiting_now": ("host", maps.fruiting, _of("chance that vine fruits on the host")),
        "unknown_host": ("host", maps.unknown_hosts, _of("chance of vine on the host that nobody knows of")),
    }


def _attributes(learned: Learned) -> dict[str, Any]:
    experiment, weights = learned.task.experiment, learned.weights
    notices = dict.fromkeys(text for text in (experiment.notice, experiment.site.notice) if text)
    return {
        "Conventions": CONVENTIONS,
        "title": experiment.title,
        "notice": " ".join(notices),
        "source": f"spreadsim {spreadsim.__version__}",
        "seed": experiment.seed,
        "strategy": learned.task.strategy.name,
        "hours_done": learned.task.done,
        "model_error": learned.task.measure.error,
        "outline_error": OUTLINE_ERROR,
        "found_again": FOUND_AGAIN,
        "overlooked_patches": list(learned.task.measure.overlooked.ranges[0]),
        "overlooked_hosts": list(learned.task.measure.overlooked.ranges[1]),
        "only_new": int(learned.task.only_new),
        "mapped": learned.task.between.since.isoformat(),
        "surveyed": learned.task.between.on.isoformat(),
        "seasons": learned.task.between.seasons,
        "worlds": len(learned.task.numbers),
        "effective_worlds": weights.effective,
        "effective_worlds_in_full": weights.full_effective,
        "power": weights.power,
        "pareto_k": weights.pareto_k,
        "moved_by_chance": learned.ranges.by_chance,
        "fit": learned.fit.overall,
        "warnings": "\n".join(warnings_of(learned.task.findings.statistics, weights, learned.fit)),
        "remarks": "\n".join(learned.task.remarks),
        "logged": written(learned.task.logged),
    }
