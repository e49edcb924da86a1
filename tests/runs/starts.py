"""Learned states for tests: the small experiment after two years of the work of one of its strategies."""

import dataclasses
from typing import Any

import numpy as np

from spreadsim.inputs import Experiment, Start, site_hash

from . import small

YEARS = 2
AFTER = tuple(range(YEARS, small.YEARS + 1))


def whole() -> Experiment:
    """The small experiment with maps of every year."""
    return dataclasses.replace(small.experiment(), map_years=tuple(range(small.YEARS + 1)))


def start(strategy: int = 2, worlds: int = 12, **changes: Any) -> Start:
    """A start of the small experiment's own worlds, without a survey."""
    given: dict[str, Any] = {
        "years": YEARS,
        "seed": small.experiment().seed,
        "numbers": np.arange(worlds),
        "values": {},
        "strategy": small.experiment().strategies[strategy],
        "crews": small.experiment().crews,
        "site": site_hash(small.experiment().site),
    }
    return Start(**(given | changes))


def begun(one: Start, **changes: Any) -> Experiment:
    """The small experiment from a start on."""
    return dataclasses.replace(whole(), start=one, **changes)


def seen(world: int, cells: Any = (), hosts: Any = ()) -> dict[str, Any]:
    """Columns of amendments in one world, from rows (cell, cover, known) and (host, state, known)."""
    columns = {"cell": cells, "host": hosts}
    named = {"cell": ("cell", "cell_cover", "cell_known"), "host": ("host", "host_state", "host_known")}
    given: dict[str, Any] = {}
    for kind, rows in columns.items():
        given[f"{kind}_world"] = np.full(len(rows), world)
        for k, name in enumerate(named[kind]):
            given[name] = np.array([row[k] for row in rows], bool if name.endswith("known") else None)
    return given
