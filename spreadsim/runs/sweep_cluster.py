"""Design points of a sweep on the workers of a Dask cluster; loaded only when one is named."""

from collections.abc import Callable, Sequence
from typing import Any

from spreadsim.inputs.design_points import DesignPoints
from spreadsim.runs.points import Points
from spreadsim.runs.scheduler import connected, untyped
from spreadsim.runs.sweep_point import PointRunner
from spreadsim.schema import VARIABLES

_RETRIES = 10  # how many workers may die at one point before it is the point's fault


def run_on_cluster(
    address: str,
    bound: DesignPoints,
    numbers: Sequence[int],
    names: Sequence[str],
    points: Points,
    report: Callable[[int, int], Any],
) -> None:
    """Run all points that are not finished, one at a time on each worker's thread, and keep them here.

    A worker that dies costs the time of its point: another runs it again, with the same numbers.

    Raises
    ------
    InputError
        If distributed is not installed, or no scheduler answers.
    OSError
        The scheduler has no workers.
    """
    waiting = [k for k in range(len(bound)) if not points.has(k)]
    total = len(bound) * len(numbers)
    finished = len(bound) - len(waiting)
    with connected(address) as client:
        shared = client.scatter(bound, broadcast=True, hash=False)
        futures = {
            client.submit(_run_on_worker, shared, k, list(numbers), list(names), pure=False, retries=_RETRIES): k
            for k in waiting
        }
        for future in untyped.as_completed(list(futures), loop=client.loop):
            points.save(futures.pop(future), future.result())
            future.release()
            finished += 1
            report(finished * len(numbers), total)


def _run_on_worker(bound: DesignPoints, point: int, numbers: list[int], names: list[str]) -> dict[str, Any]:
    maps = any(VARIABLES[name].is_map for name in names)
    return PointRunner(numbers, names, maps, workers=1).run(bound.experiment_at(point), lambda done: None)
