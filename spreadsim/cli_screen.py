"""What commands say on the terminal, and the folder that they write to."""

import contextlib
import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

_WHOLE: Any = {"break_on_hyphens": False, "break_long_words": False}


@contextlib.contextmanager
def progress_bar(what: str = "worlds") -> Iterator[Callable[[int, int], None] | bool]:
    """Show how far a run is and how long it will still take, on a terminal only; a pipe gets nothing.

    Colour is left to rich, which uses none where NO_COLOR says so or the terminal has none.
    """
    if not sys.stderr.isatty():
        yield False
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    # the bar takes what room is left, so that a narrow terminal keeps all on one line
    left = (TimeRemainingColumn(compact=True), TextColumn("left"))
    columns = (TextColumn(what), BarColumn(bar_width=None), MofNCompleteColumn(), *left)
    with Progress(*columns, console=Console(stderr=True), transient=True, expand=True) as bar:
        task = bar.add_task(what, total=None)
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


def say_files(told: str, names: Iterable[str]) -> None:
    """Print names of files behind a word or two, in lines of 80 signs; a name stays whole."""
    say(textwrap.fill(f"{told}: {', '.join(names)}", 80, subsequent_indent="  ", **_WHOLE))


def complain(text: str) -> None:
    """Say what the reader of a pipe is not to get."""
    print(f"spreadsim: {text}", file=sys.stderr)
