"""Reading a design from the table `[sweep]` of a TOML file, or from the outcomes of a sweep."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, InputError
from spreadsim.inputs.checks import Check
from spreadsim.inputs.design import Design
from spreadsim.inputs.design_factor import Factor
from spreadsim.inputs.design_kinds import grid, latin_hypercube, listed, sobol
from spreadsim.inputs.file_models import FactorTable, SweepTable
from spreadsim.inputs.hashes import HASH, check_unchanged, hash_of
from spreadsim.inputs.layers_file import open_netcdf
from spreadsim.inputs.taking import take
from spreadsim.inputs.toml import read_toml

EMBEDDED = "input_sweep"
_KINDS = ("grid", "latin hypercube", "sobol", "listed")


def read_design(path: str | Path) -> Design:
    """Read the design of a sweep.

    Parameters
    ----------
    path : str or Path
        A TOML file with a table ``[sweep]``, such as an experiment; or a sweep.nc.

    Returns
    -------
    Design

    Raises
    ------
    InputError
        Everything that is wrong with the table.
    """
    path = Path(path)
    check = Check(str(path))
    if path.suffix == ".nc":
        dataset = open_netcdf(path, check, EMBEDDED)
        check.done()
        return _embedded(dataset, check)
    data = read_toml(path)
    if "sweep" not in data:
        check.add("sweep", MISSING, "a table [sweep] with kind, factors and so on")
        check.done()
    values, whole = take(SweepTable, data["sweep"], check, "sweep")
    check.choice("sweep.kind", values["kind"], _KINDS)
    factors = [_factor(name, table, check) for name, table in values["factors"].items()]
    if values["kind"] == "listed":
        factors = []
    elif not factors and whole:
        check.add("sweep.factors", MISSING, "at least one factor")
    if values["kind"] in ("latin hypercube", "sobol") and not isinstance(values["points"], int) and whole:
        check.add("sweep.points", MISSING if values["points"] is None else values["points"], "a whole number")
    check.done()
    try:
        return _design(values, [factor for factor in factors if factor is not None])
    except InputError as error:
        check.problems.absorb(error, file=str(path), place="sweep")
        raise InputError(*check.problems.found) from error


def find_design(path: str | Path) -> Design | None:
    """Read the design of a file as `read_design` does; None where it has none."""
    path = Path(path)
    if path.suffix == ".nc":
        check = Check(str(path))
        dataset = open_netcdf(path, check, EMBEDDED)
        check.done()
        return _embedded(dataset, check) if dataset is not None and EMBEDDED in dataset else None
    return read_design(path) if "sweep" in read_toml(path) else None


def embed_design(design: Design) -> dict[str, tuple[tuple[str, ...], Any, dict[str, Any]]]:
    """Give a design as a variable of the dataset: JSON text as UTF-8 bytes, as an experiment is embedded."""
    text = json.dumps(design.to_dict(), allow_nan=False, ensure_ascii=False)
    data = np.frombuffer(text.encode("utf-8"), dtype=np.uint8).copy()
    said = {"units": "1", "long_name": "design of the sweep, as JSON text in UTF-8", HASH: hash_of(data)}
    return {EMBEDDED: ((f"{EMBEDDED}_byte",), data, said)}


def _embedded(dataset: Any, check: Check) -> Design:
    if EMBEDDED not in dataset:
        check.add("", MISSING, "the outcomes of a sweep")
        check.done()
    if HASH in dataset[EMBEDDED].attrs:  # older ones have none
        try:
            check_unchanged(dataset, [EMBEDDED])
        except InputError as error:
            check.problems.absorb(error, file=check.thing)
            raise check.problems.error() from error
    return Design.from_dict(json.loads(bytes(np.asarray(dataset[EMBEDDED].values, dtype=np.uint8)).decode("utf-8")))


def _factor(name: str, table: object, check: Check) -> Factor | None:
    """Make a factor of a list of values or of a table."""
    place = f'sweep.factors."{name}"'
    given = {"values": table} if isinstance(table, list) else table
    values, whole = take(FactorTable, given, check, place)
    if not whole:
        return None
    try:
        return Factor(name, **values)
    except InputError as error:
        check.problems.absorb(error, file=check.thing, place=place)
        return None


def _design(values: Mapping[str, Any], factors: list[Factor]) -> Design:
    kind, points, seed = values["kind"], values["points"], values["seed"]
    if kind == "listed":
        return listed(points if isinstance(points, list) else [])
    if kind == "grid":
        return grid(factors)
    return (sobol if kind == "sobol" else latin_hypercube)(factors, points, seed)
