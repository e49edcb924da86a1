"""Comparisons of different replicates of one experiment, joined to that of all of them, bit for bit."""

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.inputs import Experiment, embed
from spreadsim.model.kernels.record import COVER_STEPS
from spreadsim.runs.outcomes import about

# Maps are kept as float32 shares of whole-number sums. A sum below 2^23 comes back exactly from its share, and cover
# is summed in steps of 1 / 10,000 (COVER_STEPS): so 838 replicates may be run together, and a round number is.
MOST_TOGETHER = 800
_STEPS = {"occupancy": 1, "mean_cover": int(COVER_STEPS)}


def fold_maps(part: xr.Dataset, folded: dict[str, Any]) -> xr.Dataset:
    """Add the map sums of a part to those folded before, by name, and give the part without its maps."""
    present = [name for name in _STEPS if name in part]
    for name in present:
        folded[name] = folded.get(name, 0.0) + _sums(part, name, _STEPS[name])
    return part.drop_vars(present)


def joined_pieces(
    parts: Sequence[xr.Dataset], experiment: Experiment, folded: Mapping[str, Any] = MappingProxyType({})
) -> Iterator[xr.Dataset]:
    """Give pieces of the whole along `replicate`; the first has all that does not lie along it.

    Parameters
    ----------
    parts
        What `compare` returned for the experiment, each for at most `MOST_TOGETHER` replicates, in order.
    experiment
        What was compared.
    folded
        Map sums of those parts, after the first, that come without; see `fold_maps`.
    """
    numbers = [int(n) for part in parts for n in part["replicate"].values]
    attrs, inputs = embed(dataclasses.replace(experiment, replicates=len(numbers)))
    first = parts[0]
    changed: dict[str, Any] = {name: (dims, values, said) for name, (dims, values, said) in inputs.items()}
    for name, steps in _STEPS.items():
        if name in first:
            sums = sum(_sums(part, name, steps) for part in parts if name in part) + folded.get(name, 0.0)
            values = (sums / (steps * len(numbers))).astype(first[name].dtype)
            changed[name] = (first[name].dims, values, first[name].attrs)
    head = first.drop_vars(
        [name for name in first.variables if "replicate" not in first[name].dims and name in changed]
    )
    yield head.assign(changed).assign_attrs({**first.attrs, **about(experiment, numbers), **attrs})
    for part in parts[1:]:
        yield part.drop_vars([name for name in part.data_vars if "replicate" not in part[name].dims])


def join(
    parts: Sequence[xr.Dataset], experiment: Experiment, folded: Mapping[str, Any] = MappingProxyType({})
) -> xr.Dataset:
    """Join in memory; see `joined_pieces`."""
    first, *rest = (piece.load() for piece in joined_pieces(parts, experiment, folded))
    whole: dict[Any, xr.Variable] = {}
    for name, values in first.variables.items():
        whole[name] = values
        if "replicate" in values.dims:
            axis = values.dims.index("replicate")
            arrays = [values.values, *(piece[name].values for piece in rest)]
            whole[name] = xr.Variable(values.dims, np.concatenate(arrays, axis=axis), values.attrs)
    coords = {name: whole.pop(name) for name in first.coords}
    return xr.Dataset(whole, coords=coords, attrs=first.attrs)


def _sums(part: xr.Dataset, name: str, steps: int) -> Any:
    """Whole-number sums that a map of shares was made of; missing where the map is."""
    return np.rint(part[name].values.astype("f8") * (steps * part.sizes["replicate"]))
