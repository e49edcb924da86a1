"""Running one design point; strategies that nothing has changed for since an earlier point are not run again."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from spreadsim.inputs import Experiment, Strategy
from spreadsim.runs.engine import BY_STRATEGY, Block, Engine
from spreadsim.runs.outcomes import dataset
from spreadsim.runs.pool import Pool
from spreadsim.runs.simulate import treatments_in_use, world_of

PARAMETER = "parameter "  # before the name of a drawn parameter, among the values of a point
_ARRAYS = ("yearly", *BY_STRATEGY, "occupied", "cover_sum", "cover")


@dataclass
class Kept:
    """The last results of each strategy by its place, and what decided them."""

    results: dict[int, tuple[str, dict[str, Any]]] = field(default_factory=dict)


def run_point(
    experiment: Experiment,
    replicates: Sequence[int],
    names: Sequence[str],
    *,
    maps: bool = False,
    workers: int | None = None,
    done: Callable[[int], Any] = lambda finished: None,
    kept: Kept | None = None,
) -> dict[str, Any]:
    """Run the experiment of a design point.

    Parameters
    ----------
    experiment
        Of the point.
    replicates
        Their numbers.
    names
        Outcomes wanted.
    maps
        Whether maps are among them.
    workers
        Threads; None: one per core.
    done
        Told after each replicate how many are finished.
    kept
        Results of earlier points with the same replicates and names, brought up to date.

    Returns
    -------
    dict
        By name: outcomes without design, (strategy, ...), and drawn parameters under `PARAMETER`, (replicate,).
    """
    kept = Kept() if kept is None else kept
    years = range(experiment.years + 1) if maps else ()
    whole = Engine(world_of(experiment, experiment.strategies), experiment.seed, years, False)
    keys = [_what_decides(experiment, strategy) for strategy in experiment.strategies]
    fresh = [k for k, key in enumerate(keys) if k not in kept.results or kept.results[k][0] != key]
    block = None
    if fresh:
        chosen = [experiment.strategies[k] for k in fresh]
        part = Engine(world_of(experiment, chosen), experiment.seed, years, False)
        ran = Pool(part, workers).run(replicates, done)
        for row, k in enumerate(fresh):
            kept.results[k] = keys[k], {name: getattr(ran, name)[row] for name in _ARRAYS}
        block = ran if len(fresh) == len(keys) else None
    if block is None:
        block = whole.empty_block(replicates, whole.draw(replicates)[2])
        for k in range(len(keys)):
            _put(block, k, kept.results[k][1])
    labelled = dataset(whole, block, "mean" if maps else "none", {})
    values = {name: labelled[name].values for name in names if name in labelled}
    return values | {PARAMETER + name: column for name, column in block.parameters.items()}


def _put(block: Block, k: int, arrays: dict[str, Any]) -> None:
    for name, values in arrays.items():
        getattr(block, name)[k][...] = values


def _what_decides(experiment: Experiment, strategy: Strategy) -> str:
    """Give all that decides the results of one strategy but seed, site and replicates, as text.

    That no strategy's results depend on the others is promised by the model and tested (tests/runs/test_replicates).
    """
    plain = experiment.to_dict()
    treatments = treatments_in_use([strategy], experiment.treatments)
    told = {key: plain[key] for key in ("years", "fixed_parameters", "vine", "weather", "crews", "funds", "events")}
    told |= {"strategy": strategy.to_dict(), "treatments": [one.to_dict() for one in treatments]}
    return json.dumps(told, sort_keys=True)
