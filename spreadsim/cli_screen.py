"""What commands say on the terminal, and the folder that they write to."""

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path


@contextlib.contextmanager
def progress_bar() -> Iterator[Callable[[int, int], None] | bool]:
    """Show how far a run is, on a terminal only; a pipe gets nothing."""
    if not sys.stderr.isatty():
        yield False
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("worlds"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("worlds", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def make_folder(folder: Path) -> Path:
    """Make the folder of --out unless it is there; `InputError` where a file is in the way."""
    from spreadsim.errors import InputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise InputError(f"--out: found the file {error.filename}, allowed a folder") from error
    return folder


def say(text: str) -> None:
    """Print; when the reader has gone away (a closed pipe) the work goes on in silence."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115


def complain(text: str) -> None:
    """Say what the reader of a pipe is not to get."""
    print(f"spreadsim: {text}", file=sys.stderr)
