"""Where compiled kernels are kept: a folder named by a hash of all their sources.

numba's own stamp looks at one file, so a kernel that calls another file's would keep the old one (seen). A folder by
hash can't go stale; it is made per user, since an installed package may be read-only. Within it, what is compiled goes
by the sources and not by where they are installed or when: a second environment or an upgrade without a change of
kernels compiles nothing.
"""

import hashlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numba
import numpy as np
from numba.core.caching import UserProvidedCacheLocator
from platformdirs import user_cache_dir

HERE = Path(__file__).resolve().parent


def source_hash() -> str:
    """Hash of the draws, the kernels and the versions that compile them."""
    digest = hashlib.sha256(f"{numba.__version__} {np.__version__}".encode())
    for path in [HERE / "draws.py", *sorted((HERE / "kernels").glob("*.py"))]:
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def folder() -> Path:
    """The folder for compiled kernels; SPREADSIM_CACHE or NUMBA_CACHE_DIR choose its parent."""
    chosen = os.environ.get("SPREADSIM_CACHE") or os.environ.get("NUMBA_CACHE_DIR")
    parents = [Path(chosen)] if chosen else [Path(user_cache_dir("spreadsim", appauthor=False))]
    parents.append(Path(tempfile.gettempdir()) / f"spreadsim-{os.environ.get('USER', 'cache')}")
    for parent in parents:
        path = parent / f"kernels-{source_hash()}"
        try:
            path.mkdir(parents=True, exist_ok=True)
        except OSError:
            continue
        if os.access(path, os.W_OK):
            return path
    raise OSError(f"no folder for compiled kernels can be written; tried {', '.join(map(str, parents))}")


class BySource(UserProvidedCacheLocator):
    """Keeps compiled functions by the sources of their module, through numba's setting for cache locators."""

    def get_cache_path(self) -> str:
        """Folder of the module's functions."""
        path, usual = Path(self._py_file).resolve(), Path(self._cache_path)
        if HERE in path.parents:  # asked again as a kernel is compiled, when numba's settings are back as they were
            usual = (usual.parent / path.relative_to(HERE)).with_suffix("")
        return str(usual)

    def get_source_stamp(self) -> str:
        """Hash of the module's text; numba's own takes the time of writing, which differs between installations."""
        return hashlib.sha256(Path(self._py_file).read_bytes()).hexdigest()


@contextmanager
def compiled_into_cache() -> Iterator[None]:
    """Let numba keep what is imported meanwhile in our folder, and leave its settings as they were."""
    settings: Any = numba.config
    before = settings.CACHE_DIR, settings.CACHE_LOCATOR_CLASSES
    settings.CACHE_DIR, settings.CACHE_LOCATOR_CLASSES = str(folder()), f"{__name__}.{BySource.__name__}"
    try:
        yield
    finally:
        settings.CACHE_DIR, settings.CACHE_LOCATOR_CLASSES = before
