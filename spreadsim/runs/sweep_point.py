"""Running one design point; strategies for which nothing has changed since an earlier point are not run again."""

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Experiment, Strategy
from spreadsim.runs.engine import Engine
from spreadsim.runs.outcomes import dataset
from spreadsim.runs.pool import Pool
from spreadsim.runs.rows import Rows
from spreadsim.runs.simulate import treatments_in_use, world_of
from spreadsim.schema import VARIABLES

_TOGETHER = 200  # replicates up to which the strategies of a point are run as one; beyond, memory counts for more
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
        self._kept: dict[str, tuple[str, dict[str, Any]]] = {}  # by strategy: what decided, and results

    def run(
        self, experiment: Experiment, done: Callable[[int], Any], only: Collection[str] | None = None
    ) -> dict[str, Any]:
        """Run the experiment of a point.

        Parameters
        ----------
        experiment
            Of the point.
        done
            Told of each strategy, when it or the several that it is run with are finished, how many are.
        only
            Names of the strategies wanted; None: all.

        Returns
        -------
        dict
            By name: outcomes as registered, (strategy, ...), and drawn parameters under `PARAMETER`, (replicate,).
        """
        strategies = [one for one in experiment.strategies if only is None or one.name in only]
        decides = {one.name: what_decides(experiment, one) for one in strategies}
        waiting = [one for one in strategies if self._kept.get(one.name, ("",))[0] != decides[one.name]]
        size = max(1, len(waiting)) if len(self.replicates) <= _TOGETHER else 1
        finished = len(strategies) - len(waiting)
        for count in range(finished):
            done(count + 1)
        for start in range(0, len(waiting), size):
            for name, values in self._run_some(experiment, waiting[start : start + size]).items():
                self._kept[name] = decides[name], values
            for count in range(start, min(start + size, len(waiting))):
                done(finished + count + 1)
        rows = [self._kept[one.name][1] for one in strategies]
        values = {}
        for row in rows:
            values |= {name: column for name, column in row.items() if name.startswith(PARAMETER)}
        for name in [name for name in self.names if name in rows[0]]:
            values[name] = _stacked([row[name] for row in rows])
        return values

    def _run_some(self, experiment: Experiment, strategies: Sequence[Strategy]) -> dict[str, dict[str, Any]]:
        """Run strategies as one, so that the site is packed and the worlds are drawn once; results by strategy."""
        kept = experiment.kept_map_years() if self.maps else ()
        engine = Engine(world_of(experiment, strategies), experiment.seed, kept, False)
        pool = Pool(engine, Rows(engine, list(self.replicates)), self.workers)
        block = pool.run(list(self.replicates), lambda done: None)
        data = dataset(engine, block, "mean" if self.maps else "none", pool.sums, {})
        drawn = {str(name): variable.values for name, variable in data.data_vars.items() if "." in str(name)}
        found = {}
        for k, strategy in enumerate(strategies):
            # as if it had been run alone: only its own tasks, and the numbers of its own treatments
            own = {one.name for one in treatments_in_use([strategy], experiment.treatments)}
            others = {one.name for one in engine.world.treatments} - own
            tasks = max(1, len(strategy.tasks))
            values = {
                name: data[name].values[k, ..., :tasks] if "task" in VARIABLES[name].dims else data[name].values[k]
                for name in self.names
                if name in data
            }
            columns = {
                PARAMETER + name: column for name, column in drawn.items() if name.partition(".")[0] not in others
            }
            found[strategy.name] = values | columns
        return found


def what_decides(experiment: Experiment, strategy: Strategy) -> str:
    """Give all that decides the results of one strategy but seed, site and replicates, as text.

    That no strategy's results depend on the others is promised by the model and tested (tests/runs/test_replicates).
    """
    plain = experiment.to_dict()
    done = [] if experiment.start is None else [experiment.start.strategy]  # the start is the same at all points
    treatments = treatments_in_use([strategy, *done], experiment.treatments)
    people = (
        ("weather", "crews") if any(one.tasks for one in (strategy, *done)) else ()
    )  # nobody works: hours and days don't matter
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
