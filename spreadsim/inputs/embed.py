"""Putting an experiment into a dataset of outcomes, and getting it back, exactly."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np

from spreadsim.errors import InputError, Problem
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.hashes import HASH, check_unchanged, hash_of, hash_of_all
from spreadsim.inputs.hosts import GIRTHS, KINDS, STATES
from spreadsim.inputs.site import Site
from spreadsim.inputs.start_file import start_of, start_variables

# raised when what is embedded changes so that older versions cannot read it; 5, written where there is one: a start
FORMAT = 5
_WITHOUT_START = 4
_READABLE = (1, 2, 3, _WITHOUT_START, FORMAT)  # 1: without boundary_mat, funds, events; 2: remarks; 3: hashes
PREFIX = "input_"
GOALS = f"{PREFIX}goals"
Variable = tuple[tuple[str, ...], np.ndarray, dict[str, Any]]

# Layers of a site and what they are; the unit of all is "1".
_LAYERS = {
    "mat": "living cover of mat at the start",
    "canopy": "canopy cover",
    "plantable": "share of the ground that the vine can grow on",
    "unit": "number of the unit, 0 for none",
    "access": "factor on hours of work",
    "wetness": "wetness, 0 dry to 1 wet",
    "sensitive": "sensitive ground, where nothing is sprayed",
    "boundary_mat": "edge cells across whose outer side mat stands",
}
_HOSTS = {
    "x": ("distance of a host from the west edge", "m"),
    "y": ("distance of a host from the south edge", "m"),
    "state": ("state of a host at the start", "1"),
    "kind": ("kind of a host", "1"),
    "girth": ("girth class of a host", "1"),
    "top_light": ("share of full sun at the top of a host", "1"),
    "height": ("height of a host", "m"),
    "years_climbing": ("years since a host was first climbed, missing if bare or unknown", "year"),
    "known": ("whether the steward knows of a host", "1"),
    "uncertainty": ("distance within which a host stands of where it is mapped, missing if nothing is said", "m"),
    "placed": ("whether a host was placed at random, being known only as one of a count", "1"),
}
_SOURCES = {
    "x": ("distance of an outside seed source from the west edge", "m"),
    "y": ("distance of an outside seed source from the south edge", "m"),
    "hosts": ("fruiting hosts that an outside seed source is worth", "1"),
}
_CLASSES = {"state": STATES, "kind": KINDS, "girth": GIRTHS}
_SITE = ("cell_size", "unit_names", "background_seed", "crs", "origin", "title", "notice", "remarks")


def embed(experiment: Experiment) -> tuple[dict[str, Any], dict[str, Variable]]:
    """Give an experiment as attributes and variables of a dataset.

    Parameters
    ----------
    experiment : Experiment
        What to embed; its path is left out.

    Returns
    -------
    attrs : dict
        Global attributes: the format, and the hash of all variables' hashes.
    variables : dict
        By name: dimensions, array and attributes, with units, long_name and the hash (SHA-256) of the values.
        All names start with ``input_``, as do all dimensions but y and x. Everything but layers, hosts, sources
        and a start is JSON text, as UTF-8 bytes, since an attribute of HDF5 cannot be longer than 64 kB.
    """
    site = experiment.site
    head = {name: getattr(site, name) for name in _SITE}
    text = json.dumps({"experiment": experiment.to_dict(), "site": head}, allow_nan=False, ensure_ascii=False)
    data = np.frombuffer(text.encode("utf-8"), dtype=np.uint8).copy()
    said = {"units": "1", "long_name": "experiment that the outcomes came from, as JSON text in UTF-8"}
    variables: dict[str, Variable] = {f"{PREFIX}experiment": ((f"{PREFIX}byte",), data, said)}
    if experiment.goals:
        told = json.dumps(dict(experiment.goals), allow_nan=False, ensure_ascii=False)
        said = {"units": "1", "long_name": "what strategies are judged by, as JSON text in UTF-8"}
        goals = np.frombuffer(told.encode("utf-8"), dtype=np.uint8).copy()
        variables[GOALS] = ((f"{GOALS}_byte",), goals, said)
    for name, what in _LAYERS.items():
        array = getattr(site, name)
        array = array.astype(np.uint8) if array.dtype == bool else array.copy()
        variables[PREFIX + name] = (("y", "x"), array, {"units": "1", "long_name": what})
    for part, columns in (("host", _HOSTS), ("source", _SOURCES)):
        rows = getattr(site, f"{part}s")
        if len(rows):  # a dimension of length 0 is trouble in some file formats
            for name, (what, unit) in columns.items():
                array, attrs = _column(name, getattr(rows, name))
                attrs |= {"units": unit, "long_name": what}
                variables[f"{PREFIX}{part}_{name}"] = ((f"{PREFIX}{part}",), array, attrs)
    if experiment.start is not None:
        variables |= start_variables(experiment.start, PREFIX)
    for _, array, attrs in variables.values():
        attrs[HASH] = hash_of(array)
    hashes = {name: attrs[HASH] for name, (_, _, attrs) in variables.items()}
    form = _WITHOUT_START if experiment.start is None else FORMAT
    return {f"{PREFIX}format": form, PREFIX + HASH: hash_of_all(hashes)}, variables


def _is_ours(name: str) -> bool:
    """Whether `embed` makes a variable of that name; the design of a sweep is embedded beside."""
    kind = name.removeprefix(PREFIX)
    return kind != name and (
        kind in ("experiment", "goals") or kind in _LAYERS or kind.startswith(("host_", "source_", "start_"))
    )


def _column(name: str, values: Any) -> tuple[np.ndarray, dict[str, Any]]:
    if name not in _CLASSES:
        return (values.astype(np.uint8) if values.dtype == bool else values.copy()), {}
    classes = _CLASSES[name]
    codes = values.copy() if name == "state" else np.array([classes.index(v) for v in values], dtype=np.uint8)
    flags = np.arange(len(classes), dtype=np.uint8)
    return codes, {"flag_values": flags, "flag_meanings": " ".join(classes)}


def unembed(dataset: Any) -> Experiment:
    """Give back the experiment that a dataset carries.

    Parameters
    ----------
    dataset : xarray.Dataset
        With the variables of `embed`.

    Returns
    -------
    Experiment
        Equal to the one embedded.

    Raises
    ------
    InputError
        If the dataset carries none, one that was changed since it was written, or one that this version cannot read.
    """
    if f"{PREFIX}experiment" not in dataset:
        raise InputError(Problem("", f"{PREFIX}experiment", "found nothing, allowed outcomes written by spreadsim"))
    found = dataset.attrs.get(f"{PREFIX}format")
    if found is None or int(found) not in _READABLE:
        raise InputError(Problem("", f"{PREFIX}format", f"found {found}, allowed {_READABLE[0]} to {FORMAT}"))
    if int(found) >= _WITHOUT_START:
        check_unchanged(dataset, [str(name) for name in dataset.data_vars if _is_ours(str(name))], PREFIX + HASH)
    try:
        data = json.loads(_text(dataset, f"{PREFIX}experiment"))
        goals = json.loads(_text(dataset, GOALS)) if GOALS in dataset else {}
        start = start_of(dataset, PREFIX)
        return replace(Experiment.from_dict(data["experiment"], _site(dataset, data["site"])), goals=goals, start=start)
    except InputError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError) as error:
        problem = Problem("", f"{PREFIX}experiment", f"found damaged text ({error!r}), allowed what spreadsim wrote")
        raise InputError(problem) from error


def _text(dataset: Any, name: str) -> str:
    return bytes(np.asarray(dataset[name].values, dtype=np.uint8)).decode("utf-8")


def _site(dataset: Any, head: dict[str, Any]) -> Site:
    names = [name for name in _LAYERS if name != "boundary_mat" or PREFIX + name in dataset]
    layers: dict[str, Any] = {name: np.asarray(dataset[PREFIX + name].values) for name in names}
    layers["units"] = layers.pop("unit")
    rest = {**head, "origin": tuple(head["origin"])}
    return Site.from_arrays(
        rest.pop("cell_size"),
        hosts=_rows(dataset, "host", tuple(_HOSTS)),
        sources=_rows(dataset, "source", tuple(_SOURCES)),
        **rest,
        **layers,
    )


def _rows(dataset: Any, part: str, names: tuple[str, ...]) -> dict[str, Any] | None:
    if f"{PREFIX}{part}_x" not in dataset:
        return None
    held = [name for name in names if f"{PREFIX}{part}_{name}" in dataset]  # older files hold fewer
    rows = {name: np.asarray(dataset[f"{PREFIX}{part}_{name}"].values) for name in held}
    for name, classes in _CLASSES.items():
        if name in rows:
            rows[name] = np.array([classes[int(code)] for code in rows[name]], dtype=object)
    return rows
