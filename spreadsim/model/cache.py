"""Where compiled kernels are kept: a folder named by a hash of all their sources.

numba's own stamp looks at one file, so a kernel that calls another file's would keep the old one (seen). A folder by
hash can't go stale; it is made per user, since an installed package may be read-only.
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
from platformdirs import user_cache_dir

HERE = Path(__file__).parent


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


@contextmanager
def compiled_into_cache() -> Iterator[None]:
    """Let numba keep what is imported meanwhile in our folder, and leave its settings as they were."""
    settings: Any = numba.config
    before = settings.CACHE_DIR
    settings.CACHE_DIR = str(folder())
    try:
        yield
    finally:
        settings.CACHE_DIR = before
