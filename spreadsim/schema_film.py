"""Every variable of a film, a few replicates season by season, and the builder that makes a dataset of them."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.schema import CONVENTIONS, COORDINATES, Variable

_RUN = ("strategy", "replicate")
_STEP = (*_RUN, "step")
_LANDING = (*_RUN, "landing")
START = "start"
COVER_UNIT = 1 / 250  # of one step in the 8 bits of cover
HOST_LOOKS = ("bare", "climbing", "cut", "fallen", "fruiting")
MARKS = ("known", "worked", "found", "bore")  # bits, least first
FATES = ("waiting", "rooted", "killed", "no_room")

FILM_VARIABLES: Mapping[str, Variable] = MappingProxyType(
    {
        "cover": Variable((*_STEP, "y", "x"), "u1", "0.004", "cover of the mat; 0 none, 1 and on some"),
        "ground_marks": Variable((*_STEP, "y", "x"), "u1", "1", "known, worked this season, found this season"),
        "host_state": Variable((*_STEP, "host"), "u1", "1", "what a host looks like"),
        "host_marks": Variable((*_STEP, "host"), "u1", "1", "known, worked, found this season, bore fruit this year"),
        "mat_area": Variable(_STEP, "f8", "m2", "cover of the mat times cell area, summed over the site"),
        "hours": Variable((*_STEP, "task"), "f8", "h", "hours worked in the season"),
        "follow_up_hours": Variable((*_STEP, "task"), "f8", "h", "hours of them spent on follow-up visits"),
        "landing_step": Variable(_LANDING, "i4", "1", "step in which a seed landed that could root; -1: no such seed"),
        "landing_cell": Variable(_LANDING, "i4", "1", "cell that it landed in: row x columns + column"),
        "landing_from": Variable(_LANDING, "i4", "1", "host that it came from; -1: from outside the site"),
        "landing_by_bird": Variable(_LANDING, "u1", "1", "1: carried by a bird; 0: fell beneath its host"),
        "landing_fate": Variable(_LANDING, "u1", "1", "what became of it by the end"),
        "landing_fate_step": Variable(_LANDING, "i4", "1", "step in which that happened; -1: not yet"),
    }
)
_FLAGS: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "ground_marks": {"flag_masks": np.array([1, 2, 4], "u1"), "flag_meanings": " ".join(MARKS[:3])},
        "host_marks": {"flag_masks": np.array([1, 2, 4, 8], "u1"), "flag_meanings": " ".join(MARKS)},
        "host_state": {"flag_values": np.arange(5, dtype="u1"), "flag_meanings": " ".join(HOST_LOOKS)},
        "landing_fate": {"flag_values": np.arange(4, dtype="u1"), "flag_meanings": " ".join(FATES)},
    }
)
_COORDINATES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        **COORDINATES,
        "step": {"long_name": "seasons from the start (0: the start)", "units": "1"},
        "host": {"long_name": "number of the host in the site's list", "units": "1"},
        "landing": {"long_name": "number of the seed in its run", "units": "1"},
        "host_x": {"long_name": "host, metres from the west edge", "units": "m"},
        "host_y": {"long_name": "host, metres from the south edge", "units": "m"},
    }
)


def build_film(
    values: Mapping[str, Any], coords: Mapping[str, tuple[tuple[str, ...], Any]], attrs: Mapping[str, Any]
) -> xr.Dataset:
    """Put a film together as one labelled dataset.

    Parameters
    ----------
    values
        Arrays by the names of `FILM_VARIABLES`, shaped as registered there.
    coords
        Coordinates: name to (dimensions, array).
    attrs
        Attributes of the dataset.

    Returns
    -------
    xarray.Dataset
        Every variable has `units` and `long_name`; marks and states have their CF flags.

    Raises
    ------
    ValueError
        A name that is not registered, or a shape that does not fit.
    """
    if unknown := (set(values) - set(FILM_VARIABLES)) | (set(coords) - set(_COORDINATES)):
        raise ValueError(f"not registered for a film: {', '.join(sorted(unknown))}")
    labels = {name: (dims, array, dict(_COORDINATES[name])) for name, (dims, array) in coords.items()}
    data = {}
    for name, array in values.items():
        about = FILM_VARIABLES[name]
        given = {"units": about.units, "long_name": about.long_name, **_FLAGS.get(name, {})}
        data[name] = (about.dims, np.asarray(array, about.dtype), given)
    return xr.Dataset(data, coords=labels, attrs={"Conventions": CONVENTIONS, **attrs})
