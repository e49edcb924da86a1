"""Libraries of the extra `gis`, asked for when something is exported to a GIS."""

from importlib import import_module
from importlib.util import find_spec
from typing import Any

from spreadsim.errors import InputError


def gis(library: str, what: str) -> Any:
    """Give a library of the extra `gis`.

    Raises
    ------
    InputError
        It is not installed; the message says how to get it, and what works without.
    """
    if find_spec(library.partition(".")[0]) is None:
        raise InputError(
            f"{what}: found no {library} on this machine, allowed where it is installed: python -m pip install "
            '"spreadsim[gis]"; tables as CSV need none, and outcomes.nc opens in a GIS as it is'
        )
    return import_module(library)
