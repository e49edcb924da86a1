"""NetCDF-4 files of many variables, opened and written in half the time.

h5netcdf looks every object up by its path again for each thing that it asks of it, some forty times for a variable.
Outcomes have 150 variables, so that these look-ups were more than half of the time of opening and of shaping a file.
"""

import os
from typing import Any

import h5netcdf
import h5py
from xarray.backends import CachingFileManager, H5NetCDFStore


class _Remembering(h5py.File):  # type: ignore[misc]
    """An HDF5 file that opens every object in its root once.

    While it is written it is its own root group, so that none is removed unseen.
    """

    def __init__(self, name: Any, mode: str, **options: Any) -> None:
        super().__init__(name, mode, **options)
        self._written = mode != "r"
        self._opened: dict[str, Any] = {}

    def __getitem__(self, name: Any) -> Any:
        if not isinstance(name, str):  # a reference
            return super().__getitem__(name)
        key = name.strip("/")
        if not key and self._written:
            return self
        if key not in self._opened:
            self._opened[key] = super().__getitem__(name)
        return self._opened[key]

    def __delitem__(self, name: str) -> None:
        self._opened.pop(name.strip("/"), None)
        super().__delitem__(name)

    def close(self) -> None:
        """Close the file and all that was opened in it."""
        self._opened.clear()
        super().close()


class NetCDFFile(h5netcdf.File):  # type: ignore[misc]
    """A NetCDF-4 file that closes what it has opened.

    Parameters
    ----------
    file
        A path, or an object like a file.
    mode
        "r" or "w".
    """

    def __init__(self, file: Any, mode: str = "r") -> None:
        # opened objects would each keep a cache of chunks; nothing here reads a chunk twice
        options: dict[str, Any] = {"rdcc_nbytes": 0} if mode == "r" else {"track_order": True}
        self._closed = True  # until it is open, for the base class's end
        self._opened = _Remembering(file, mode, **options)
        try:
            super().__init__(self._opened, mode)
        except BaseException:
            self._closed = True  # there is nothing to write: the base class would stumble over it when thrown away
            self._opened.close()
            raise

    def close(self) -> None:
        """Write what is not written, and close."""
        super().close()
        self._opened.close()


def open_store(path: str | os.PathLike[str]) -> H5NetCDFStore:
    """Open a file for `xarray.open_dataset`, which can then be pickled, and opened again by whoever unpickles it."""
    return H5NetCDFStore(CachingFileManager(NetCDFFile, os.path.abspath(path), mode="r"), mode="r")
