"""Libraries that only some analyses need."""

import importlib.util

from spreadsim.errors import InputError


def require(library: str) -> None:
    """Raise an `InputError` that says how to install a library, unless it is there."""
    if importlib.util.find_spec(library) is None:
        raise InputError(
            f"{library} is not installed, which this analysis needs; install it with: "
            'python -m pip install "spreadsim[analysis]"'
        )
