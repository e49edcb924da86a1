"""The command line in processes forked from one that has imported and loaded everything: kills cost no start, and meet work."""

import multiprocessing
import os
import resource
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from pathlib import Path


@dataclass
class Running:
    """A command that runs."""

    process: BaseProcess
    file: Path

    @property
    def said(self) -> str:
        """What it wrote to stderr so far."""
        return self.file.read_text()

    def finish(self, seconds: float = 300.0) -> int:
        """Wait; the exit code, negative for a signal."""
        self.process.join(seconds)
        assert self.process.exitcode is not None, "still running"
        return self.process.exitcode


def begin(arguments: Sequence[object], said: Path, prepare: Callable[[], None] = bool, largest: int = 0) -> Running:
    """Start `spreadsim ARGUMENTS` after `prepare`; `largest`: no file may grow beyond so many bytes (0: any)."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["runs.warm"])
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, sys.path))  # the process to fork from looks at no other
    try:
        process = context.Process(target=_run, args=([str(one) for one in arguments], str(said), prepare, largest))
        process.start()
    finally:
        if before is None:
            del os.environ["PYTHONPATH"]
        else:
            os.environ["PYTHONPATH"] = before
    return Running(process, said)


def _run(arguments: list[str], said: str, prepare: Callable[[], None], largest: int) -> None:
    from spreadsim import cli

    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    prepare()
    if largest:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))
    sys.exit(cli.main(arguments))
