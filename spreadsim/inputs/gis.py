"""The GIS libraries: an extra, so their absence is said before they are used."""

from __future__ import annotations

from importlib.util import find_spec

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check


def installed(check: Check, place: str, *libraries: str) -> bool:
    """Tell whether libraries are there; note how to get them if not.

    Parameters
    ----------
    check : Check
        Where to note.
    place : str
        What asks for them.
    *libraries : str
        Names to import.

    Returns
    -------
    bool
    """
    missing = [name for name in libraries if find_spec(name) is None]
    if missing:
        check.add(
            place,
            Said(f"no {' and no '.join(missing)} on this machine"),
            "GIS files where these are installed: python -m pip install 'spreadsim[gis]'; CSV and NetCDF need none",
        )
    return not missing
