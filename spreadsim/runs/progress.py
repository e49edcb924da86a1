"""Progress of long runs: to a function, to a bar, or to nobody."""

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

Progress = Callable[[int, int], Any]


@contextlib.contextmanager
def reporter(progress: bool | Progress) -> Iterator[Progress]:
    """Give what is to be told how many of how many replicates are done."""
    if callable(progress):
        yield progress
        return
    if not progress:
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("replicates", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
