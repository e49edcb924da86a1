"""Design points of a sweep on the workers of a Dask cluster; loaded only when one is named."""

from collections.abc import Callable, Sequence
from typing import Any

from spreadsim.errors import InputError
from spreadsim.inputs.design_points import DesignPoints
from spreadsim.runs.points import Points
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
    """
    try:
        from distributed import Client, as_completed
    except ImportError as error:
        raise InputError(
            "cluster: found an address, and the package distributed that it needs is not installed; install it with: "
            "python -m pip install distributed"
        ) from error
    waiting = [k for k in range(len(bound)) if not points.has(k)]
    total = len(bound) * len(numbers)
    finished = len(bound) - len(waiting)
    try:
        client = Client(address, timeout="20s", set_as_default=False)
    except (OSError, ValueError) as error:
        told = " ".join(str(error).split())
        raise InputError(
            f"cluster: found {address}, allowed the address of a scheduler that answers ({told})"
        ) from error
    with client:
        shared = client.scatter(bound, broadcast=True, hash=False)
        futures = {
            client.submit(_run_on_worker, shared, k, list(numbers), list(names), pure=False, retries=_RETRIES): k
            for k in waiting
        }
        for future in as_completed(list(futures), loop=client.loop):
            points.save(futures.pop(future), future.result())
            future.release()
            finished += 1
            report(finished * len(numbers), total)


def _run_on_worker(bound: DesignPoints, point: int, numbers: list[int], names: list[str]) -> dict[str, Any]:
    maps = any(VARIABLES[name].is_map for name in names)
    return PointRunner(numbers, names, maps, workers=1).run(bound.experiment_at(point), lambda done: None)
