"""Hashes of embedded inputs, by which a change since they were written is noticed."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from spreadsim.errors import InputError, Problem

HASH = "sha256"  # the attribute beside the values


def hash_of(values: Any) -> str:
    """Give the SHA-256 of type, shape and values, the same on every machine and in every file format."""
    array = np.ascontiguousarray(values)
    array = array.astype(array.dtype.newbyteorder("<"))
    if array.dtype.kind == "f":
        array[np.isnan(array)] = np.nan  # a reader may put another kind of missing there
    return hashlib.sha256(f"{array.dtype.str} {array.shape} ".encode() + array.tobytes()).hexdigest()


def hash_of_all(hashes: Mapping[str, str]) -> str:
    """Give one SHA-256 of hashes by name, so that one that goes missing with its values is noticed."""
    return hashlib.sha256("\n".join(f"{name} {text}" for name, text in sorted(hashes.items())).encode()).hexdigest()


def check_unchanged(dataset: Any, names: Sequence[str], over_all: str | None = None) -> None:
    """See that inputs in a dataset are those that were written.

    Parameters
    ----------
    dataset : xarray.Dataset
        Its variables carry their hashes as attributes.
    names
        The variables to see to.
    over_all
        The attribute of the dataset that holds `hash_of_all`, if there is one.

    Raises
    ------
    InputError
        One was changed, went missing or came in since.
    """
    found = {name: hash_of(dataset[name].values) for name in names}
    told = f"found values that were changed since they were written, allowed those of the {HASH} beside them"
    problems = [Problem("", name, told) for name, text in found.items() if dataset[name].attrs.get(HASH) != text]
    if over_all and not problems and hash_of_all(found) != dataset.attrs.get(over_all):
        told = f"found {len(found)} inputs, some not those that were written, allowed outcomes as spreadsim wrote them"
        problems.append(Problem("", over_all, told))
    if problems:
        raise InputError(*problems)
