"""What decides the numbers of a comparison, put down so that another one is told apart and the difference said."""

import hashlib
import json
from collections.abc import Iterator
from typing import Any

import numpy as np

from spreadsim.inputs import Experiment, Start
from spreadsim.inputs.start_file import PREFIX, start_variables
from spreadsim.model.cache import source_hash

_LAYERS = ("mat", "canopy", "plantable", "unit", "access", "wetness", "sensitive", "boundary_mat")
_HOSTS = ("x", "y", "state", "kind", "girth", "top_light", "height", "years_climbing", "known")
_FREE = ("replicates", "units")  # how many, and how they are shown
_MOST_SAID = 3


def stamp(experiment: Experiment) -> dict[str, Any]:
    """Everything that decides the numbers, as plain data: experiment with seed, site, kernels.

    The number of replicates is no part of it; layers and columns of the site are put down as hashes.
    """
    site = experiment.site
    plainly = {name: getattr(site, name) for name in ("cell_size", "unit_names", "background_seed", "crs", "origin")}
    hosts = {name: _hash(getattr(site.hosts, name)) for name in _HOSTS}
    sources = {name: _hash(getattr(site.sources, name)) for name in ("x", "y", "hosts")}
    said = {
        **{name: value for name, value in experiment.to_dict().items() if name not in _FREE},
        "site": {
            **plainly,
            **{name: _hash(getattr(site, name)) for name in _LAYERS},
            "hosts": hosts,
            "sources": sources,
        },
        "start": None if experiment.start is None else _start(experiment.start),
        "version of the kernels": source_hash(),
    }
    plain: dict[str, Any] = json.loads(json.dumps(said))
    return plain


def _start(start: Start) -> dict[str, str]:
    """Hashes of a learned state, by what they are of."""
    return {name.removeprefix(PREFIX): _hash(values) for name, (_, values, _) in start_variables(start).items()}


def difference(there: dict[str, Any], now: dict[str, Any]) -> str:
    """Say what differs between two stamps, the first few places of it; empty if nothing does."""
    found = list(_differences(there, now, ""))
    more = f", and {len(found) - _MOST_SAID} more" if len(found) > _MOST_SAID else ""
    return "; ".join(found[:_MOST_SAID]) + more


def _differences(there: Any, now: Any, place: str) -> Iterator[str]:
    if isinstance(there, dict) and isinstance(now, dict):
        for key in sorted({*there, *now}):
            yield from _differences(there.get(key), now.get(key), f"{place}.{key}" if place else key)
    elif isinstance(there, list) and isinstance(now, list) and len(there) == len(now):
        for k, both in enumerate(zip(there, now, strict=True)):
            yield from _differences(*both, f"{place}[{k}]")
    elif there != now:
        both = (there, now)
        short = all(isinstance(value, int | float | str) and len(str(value)) <= 40 for value in both)
        yield f"{place}: {there!r} there, {now!r} now" if short and not _are_hashes(*both) else f"{place} differs"


def _are_hashes(*values: Any) -> bool:
    return all(isinstance(value, str) and len(value) == 32 and value.isalnum() for value in values)


def _hash(values: Any) -> str:
    array = np.asarray(values)
    data = repr(array.tolist()).encode() if array.dtype == object else np.ascontiguousarray(array).tobytes()
    return hashlib.sha256(f"{array.dtype.str} {array.shape}".encode() + data).hexdigest()[:32]
