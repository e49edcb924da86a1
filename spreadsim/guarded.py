"""A file that HDF5 may write to though the disk is full: HDF5 itself crashes the process when a write is refused."""

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any


class GuardedFile:
    """A file on disk as h5py's driver for Python objects wants it.

    From the first write that the system refuses on, nothing is written any more, and HDF5 is told that all is well, so
    that it can close what it has open. Whoever writes asks `check`, and throws the file away.

    Parameters
    ----------
    path
        A new file.
    """

    def __init__(self, path: Path) -> None:
        self._file = path.open("w+b", buffering=0)
        self._error: OSError | None = None

    def check(self) -> None:
        """Raise the `OSError` of the first write that was refused."""
        if self._error is not None:
            raise OSError(self._error.errno, self._error.strerror, self._file.name) from self._error

    def close(self) -> None:
        """Close the file."""
        self._file.close()

    def sync(self) -> None:
        """Wait until all is on the disk."""
        with self._guarded():
            os.fsync(self._file.fileno())

    def seek(self, offset: int, whence: int = 0) -> int:
        """Go to a place."""
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        """Give the place."""
        return self._file.tell()

    def readinto(self, buffer: Any) -> int:
        """Read from the place."""
        return self._file.readinto(buffer) or 0

    def read(self, size: int = -1) -> bytes:
        """Read from the place."""
        return self._file.read(size) or b""

    def write(self, data: Any) -> int:
        """Write all of the data at the place, or nothing any more."""
        left = memoryview(data).cast("B")
        with self._guarded():
            while left.nbytes and self._error is None:
                left = left[self._file.write(left) :]
        return memoryview(data).nbytes

    def truncate(self, size: int | None = None) -> int:
        """Cut off, or stretch, at a size."""
        with self._guarded():
            if self._error is None:
                self._file.truncate(size)
        return self.tell() if size is None else size

    def flush(self) -> None:
        """Do nothing: nothing is held back."""

    @contextlib.contextmanager
    def _guarded(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            self._error = self._error or error


@contextlib.contextmanager
def renamed_when_whole(path: Path) -> Iterator[GuardedFile]:
    """Write a file under a temporary name; it gets its name when all went well, and goes away otherwise.

    Raises
    ------
    OSError
        The disk refused; an older file is left as it was.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        file = GuardedFile(part)
        try:
            yield file
            file.sync()
        except (RuntimeError, OSError, ValueError, KeyError):
            file.check()  # what HDF5 says afterwards is but a consequence
            raise
        finally:
            file.close()
        file.check()
        os.replace(part, path)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def remove_leftovers(path: Path) -> None:
    """Remove what killed processes left of a file half written."""
    for part in path.parent.glob(f".{path.name}.*.part"):
        part.unlink(missing_ok=True)
