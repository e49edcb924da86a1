"""Hosts that are known only as a count by unit, placed at random inside it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np

from spreadsim.errors import Said, one_of
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
    grounds = _grounds(table, grid, arrays, unit_names, check)
    _check_rows(table, check)
    if len(check.problems) > before:
        return
    placed = [_placed(table, k, grounds[k], grid, seed) for k in range(len(table.rows))]
    if not placed:
        return
    made = {name: np.concatenate([one[name] for one in placed]) for name in placed[0]}
    rows = tuple(f"{row}, host {j + 1}" for row, n in zip(table.rows, _counts(table), strict=True) for j in range(n))
    total = len(rows)
    check.remark("", f"{total:,} hosts are known only as a count by unit; each was placed at random inside its unit")
    context.tables["hosts"] = _joined(context.tables.get("hosts"), Table(table.path, made, rows))


def _counts(table: Table) -> list[int]:
    return [int(count) for count in table.columns["count"]]


def _check_rows(table: Table, check: Check) -> None:
    kinds = table.columns.get("kind", np.full(len(table.rows), "tree", dtype=object))
    rows = zip(table.rows, table.columns["count"].tolist(), table.columns["state"], kinds, strict=True)
    for row, count, state, kind in rows:
        if count != int(count) or not 0 <= count <= MOST_PLACED:
            check.add(f"{row}, {table.called('count')}", count, f"0 to {MOST_PLACED}, whole")
        if state not in STATES:
            check.add(f"{row}, {table.called('state')}", state, one_of(STATES))
        if kind not in KINDS:
            check.add(f"{row}, {table.called('kind')}", kind, one_of(KINDS))
    if table.columns["count"].sum() > MOST_PLACED:
        check.add("count", Said(f"{table.columns['count'].sum():,.0f} hosts together"), f"at most {MOST_PLACED:,}")


def _grounds(
    table: Table, grid: Grid, arrays: Mapping[str, np.ndarray], unit_names: tuple[str, ...] | None, check: Check
) -> list[np.ndarray]:
    """Give for each row the ground to place its hosts on, a share of each cell (y, x) flat."""
    ground = arrays.get("plantable", np.ones(grid.shape))
    layer = arrays.get("unit")
    names = unit_names or ()
    if layer is not None and unit_names is None:
        names = tuple(f"unit {k}" for k in range(1, int(np.nanmax(layer, initial=0.0)) + 1))
    plain = {" ".join(name.lower().split()): k for k, name in enumerate(names, 1)}
    units = table.columns.get("unit", np.full(len(table.rows), "", dtype=object))
    found = []
    for row, unit in zip(table.rows, units, strict=True):
        key = " ".join(unit.lower().split())
        here = ground if not key else np.zeros(grid.shape)
        if key and (key not in plain or layer is None):
            allowed = f"{one_of(names)}, or nothing for the whole site" if names else "nothing: the site has no units"
            check.add(f"{row}, {table.called('unit')}", unit, allowed)
        elif key and layer is not None:
            here = ground * (layer == plain[key])
            if not here.any():
                check.add(f"{row}, {table.called('unit')}", unit, "a unit with ground that the vine can grow on")
        found.append(here.ravel())
    return found


def _placed(table: Table, k: int, ground: np.ndarray, grid: Grid, seed: int) -> dict[str, Any]:
    """Place the hosts of one row."""
    names = ("unit", "state", "kind")
    usual = {"unit": "", "kind": "tree"}
    unit, state, kind = (str(table.columns[n][k]) if n in table.columns else usual[n] for n in names)
    same = sum(  # rows that say the same again go on where the first one ended
        count
        for j, count in enumerate(_counts(table)[:k])
        if all(n not in table.columns or table.columns[n][j] == table.columns[n][k] for n in names)
    )
    count = _counts(table)[k]
    draws = _draws(f"{seed}|{unit.lower()}|{state}|{kind}", same, count)
    sums = np.cumsum(ground)
    cell = np.minimum(np.searchsorted(sums, draws[:, 0] * sums[-1], side="right"), len(sums) - 1)
    row, column = np.divmod(cell, grid.nx)
    return {
        "x": (column + draws[:, 1]) * grid.size,
        "y": (grid.ny - 1 - row + draws[:, 2]) * grid.size,
        "state": np.full(count, state, dtype=object),
        "kind": np.full(count, kind, dtype=object),
        "placed": np.ones(count, dtype=bool),
    }


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
