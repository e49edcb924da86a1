"""Hosts that are known only as a count by unit, placed at random inside it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.hosts import KINDS, STATES
from spreadsim.inputs.site_context import Context

MOST_PLACED = 1_000_000
_BITS = 2.0**-53


def place_counts(
    context: Context, grid: Grid, arrays: Mapping[str, np.ndarray], unit_names: tuple[str, ...] | None
) -> None:
    """Add the hosts of a table of counts to the hosts of a site, each marked as placed.

    Where a host stands is drawn by the ground that the vine can grow on in its unit. The draw is keyed by the seed
    ``placing_seed``, the unit, the state, the kind and the number of the host: another row moves nothing.

    Parameters
    ----------
    context : Context
        With the table ``host_counts``; its table ``hosts`` is added to.
    grid : Grid
        That of the site.
    arrays : mapping of str to array (y, x)
        With the layers ``unit`` and ``plantable``, if there are such.
    unit_names : tuple of str or None
        Names of units 1, 2, ...
    """
    table = context.tables.pop("host_counts", None)
    if table is None:
        return
    check = Check(table.path, context.check.problems)
    seed = context.check.whole(context.at("placing_seed"), context.values.placing_seed, 0, 2**32 - 1)
    before = len(check.problems)
    units = _units(table, arrays, unit_names, check)
    _check_rows(table, check)
    if len(check.problems) > before or not table.rows:
        return
    placed = _placed(table, units, grid, arrays, seed)
    made = {name: np.concatenate([one[name] for one in placed]) for name in placed[0]}
    rows = tuple(f"{row}, host {j + 1}" for row, n in zip(table.rows, _counts(table), strict=True) for j in range(n))
    total = len(rows)
    where = "inside its unit" if all(units) else "inside its unit, or on all the ground where none is named"
    where = where if any(units) else "on the ground that the vine can grow on"
    check.remark("", f"{total:,} hosts are known only as a count; each was placed at random {where}")
    context.tables["hosts"] = _joined(context.tables.get("hosts"), Table(table.path, made, rows))


def _counts(table: Table) -> list[int]:
    return [int(count) for count in table.columns["count"]]


def _check_rows(table: Table, check: Check) -> None:
    kinds, counts = _column(table, "kind", "tree"), table.columns["count"]
    rows = zip(table.rows, counts.tolist(), table.columns["state"], kinds, strict=True)
    for row, count, state, kind in rows:
        if count != int(count) or not 0 <= count <= MOST_PLACED:
            check.add(f"{row}, {table.called('count')}", count, f"0 to {MOST_PLACED:,}, whole")
        if state not in STATES:
            check.add(f"{row}, {table.called('state')}", state, one_of(STATES))
        if kind not in KINDS:
            check.add(f"{row}, {table.called('kind')}", kind, one_of(KINDS))
    if counts.sum() > MOST_PLACED:
        check.add(table.called("count"), Said(f"{counts.sum():,.0f} hosts together"), f"at most {MOST_PLACED:,}")


def _units(
    table: Table, arrays: Mapping[str, np.ndarray], unit_names: tuple[str, ...] | None, check: Check
) -> list[int]:
    """Give for each row the number of its unit, 0 for the whole site; note units that aren't there or have none."""
    layer = arrays.get("unit")
    names = unit_names or ()
    if layer is not None and unit_names is None:
        names = tuple(f"unit {k}" for k in range(1, int(np.nanmax(layer, initial=0.0)) + 1))
    plain = {" ".join(name.lower().split()): k for k, name in enumerate(names, 1)} if layer is not None else {}
    ground: dict[int, bool] = {}
    found = []
    for row, unit in zip(table.rows, _column(table, "unit", ""), strict=True):
        key = " ".join(unit.lower().split())
        number = plain.get(key, 0)
        if key and not number:
            allowed = f"{one_of(names)}, or nothing for the whole site" if names else "nothing: the site has no units"
            check.add(f"{row}, {table.called('unit')}", unit, allowed)
        elif not ground.setdefault(number, bool(_ground(number, arrays).any())):
            check.add(f"{row}, {table.called('unit')}", unit or MISSING, "a unit with ground that the vine can grow on")
        found.append(number)
    return found


def _ground(unit: int, arrays: Mapping[str, np.ndarray]) -> np.ndarray:
    """Give the share of each cell that hosts of a unit may stand on, those of the whole site for unit 0."""
    plantable = arrays.get("plantable", np.ones(1))
    ground: np.ndarray = plantable if unit == 0 else plantable * (arrays["unit"] == unit)
    return ground


def _placed(
    table: Table, units: list[int], grid: Grid, arrays: Mapping[str, np.ndarray], seed: int
) -> list[dict[str, Any]]:
    """Place the hosts of each row; rows that say the same again go on where the first one ended."""
    sums: dict[int, np.ndarray] = {}
    done: dict[str, int] = {}
    placed = []
    states, kinds = table.columns["state"], _column(table, "kind", "tree")
    for unit, name, state, kind, count in zip(
        units, _column(table, "unit", ""), states, kinds, _counts(table), strict=True
    ):
        if unit not in sums:
            sums[unit] = np.cumsum(np.broadcast_to(_ground(unit, arrays), grid.shape))
        key = f"{seed}|{' '.join(name.lower().split())}|{state}|{kind}"
        draws = _draws(key, done.get(key, 0), count)
        done[key] = done.get(key, 0) + count
        places = np.searchsorted(sums[unit], draws[:, 0] * sums[unit][-1], side="right")
        row, column = np.divmod(np.minimum(places, sums[unit].size - 1), grid.nx)
        placed.append(
            {
                "x": (column + draws[:, 1]) * grid.size,
                "y": (grid.ny - 1 - row + draws[:, 2]) * grid.size,
                "state": np.full(count, state, dtype=object),
                "kind": np.full(count, kind, dtype=object),
                "placed": np.ones(count, dtype=bool),
            }
        )
    return placed


def _column(table: Table, name: str, usual: str) -> np.ndarray:
    return table.columns.get(name, np.full(len(table.rows), usual, dtype=object))


def _draws(key: str, first: int, count: int) -> np.ndarray:
    """Give three numbers from 0 to below 1 for each host, the same in every version of numpy."""
    words = np.frombuffer(hashlib.sha256(key.encode("utf-8")).digest(), dtype="<u8")
    stream = np.random.Philox(key=words[:2])
    stream.advance(first)  # a block of four words for each host
    raw = stream.random_raw(4 * count).reshape(count, 4)
    draws: np.ndarray = (raw[:, :3] >> np.uint64(11)) * _BITS
    return draws


def _joined(hosts: Table | None, placed: Table) -> Table:
    """Put placed hosts behind those that are mapped."""
    if hosts is None:
        return placed
    count, more = len(hosts.rows), len(placed.rows)
    usual: dict[str, Any] = {"state": "bare", "kind": "tree", "girth": "medium", "known": True, "placed": False}
    columns = {}
    for name in {**hosts.columns, **placed.columns}:
        empty = usual.get(name, np.nan)
        blank = np.array([empty], dtype=object if isinstance(empty, str) else type(empty))
        first = hosts.columns.get(name, np.repeat(blank, count))
        columns[name] = np.concatenate([first, placed.columns.get(name, np.repeat(blank, more))])
    files = (f"{placed.path}, " if placed.path != hosts.path else "") if count else ""
    path = hosts.path if count else placed.path
    return Table(path, columns, (*hosts.rows, *(files + row for row in placed.rows)), hosts.headings)
