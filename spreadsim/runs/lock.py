"""One at a time: runs in a folder, which would take each other's maps for their own, and compilers of a machine."""

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from spreadsim.errors import InputError

try:
    import fcntl
except ImportError:  # Windows: there the user takes care
    fcntl = None  # type: ignore[assignment]


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold a folder; the system lets go of it when the process ends, however it ends.

    Raises
    ------
    InputError
        Another run holds it.
    """
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        os.close(handle)
        raise InputError(f"{folder}: found another run that is writing there, allowed one at a time") from error
    except OSError:  # some network folders know no locks
        pass
    try:
        yield
    finally:
        os.close(handle)


@contextlib.contextmanager
def one_at_a_time(folder: Path) -> Iterator[None]:
    """Wait for a folder until no other process holds it, then hold it."""
    if fcntl is None:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
