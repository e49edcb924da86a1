"""Running one design point; strategies for which nothing has changed since an earlier point are not run again."""

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Experiment, Strategy
from spreadsim.runs.simulate import simulate, treatments_in_use

PARAMETER = "parameter "  # before the name of a drawn parameter, among the values of a point
Values = Mapping[str, Any]


class PointRunner:
    """Runs points with the same replicates and outcomes, one after the other.

    Parameters
    ----------
    replicates
        Their numbers.
    names
        Outcomes wanted.
    maps
        Whether maps are among them.
    workers
        Threads; None: one per core.
    """

    def __init__(self, replicates: Sequence[int], names: Sequence[str], maps: bool, workers: int | None) -> None:
        self.replicates, self.names, self.maps, self.workers = replicates, names, maps, workers
        self._kept: dict[int, tuple[str, dict[str, Any]]] = {}  # by place of the strategy: what decided, and results

    def run(self, experiment: Experiment, done: Callable[[int], Any]) -> dict[str, Any]:
        """Run the experiment of a point.

        Parameters
        ----------
        experiment
            Of the point.
        done
            Told after each strategy how many of the strategies are finished.

        Returns
        -------
        dict
            By name: outcomes as registered, (strategy, ...), and drawn parameters under `PARAMETER`, (replicate,).
        """
        for k, strategy in enumerate(experiment.strategies):
            decides = what_decides(experiment, strategy)
            if k not in self._kept or self._kept[k][0] != decides:
                self._kept[k] = decides, self._run_one(experiment, strategy)
            done(k + 1)
        rows = [self._kept[k][1] for k in range(len(experiment.strategies))]
        values: dict[str, Any] = {}
        for row in rows:
            values |= {name: column for name, column in row.items() if name.startswith(PARAMETER)}
        for name in [name for name in self.names if name in rows[0]]:
            values[name] = _stacked([row[name] for row in rows])
        return values

    def _run_one(self, experiment: Experiment, strategy: Strategy) -> dict[str, Any]:
        data = simulate(
            experiment.site,
            experiment.vine,
            strategy,
            crews=experiment.crews,
            years=experiment.years,
            replicates=self.replicates,
            seed=experiment.seed,
            fixed_parameters=experiment.fixed_parameters,
            maps="mean" if self.maps else "none",
            map_years=experiment.kept_map_years(),
            treatments=experiment.treatments,
            weather=experiment.weather,
            funds=experiment.funds,
            events=experiment.events,
            workers=self.workers,
        )
        arrays = {str(name): variable.values for name, variable in data.variables.items()}
        values = {name: arrays[name] for name in self.names if name in arrays}
        return values | {PARAMETER + name: array for name, array in arrays.items() if "." in name}


def what_decides(experiment: Experiment, strategy: Strategy) -> str:
    """Give all that decides the results of one strategy but seed, site and replicates, as text.

    That no strategy's results depend on the others is promised by the model and tested (tests/runs/test_replicates).
    """
    plain = experiment.to_dict()
    treatments = treatments_in_use([strategy], experiment.treatments)
    people = ("weather", "crews") if strategy.tasks else ()  # nobody works: hours and days don't matter
    told = {key: plain[key] for key in ("years", "fixed_parameters", "vine", "funds", "events", *people)}
    told |= {
        "map_years": experiment.kept_map_years(),
        "strategy": strategy.to_dict(),
        "treatments": [one.to_dict() for one in treatments],
    }
    return json.dumps(told, sort_keys=True)


def _stacked(arrays: Sequence[Any]) -> Any:
    """Strategies on top of each other; those of fewer tasks, which lie last, have missing ones at the end."""
    longest = max(array.shape[-1] for array in arrays)
    padded = []
    for array in arrays:
        gap = longest - array.shape[-1]
        fill = [(0, 0)] * (array.ndim - 1) + [(0, gap)]
        padded.append(np.pad(array, fill, constant_values=np.nan) if gap else array)
    return np.stack(padded)
