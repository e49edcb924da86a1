"""What single records of a survey say: which host, which state, which cells, how much mat."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs import Site
from spreadsim.inputs.checks import Check
from spreadsim.inputs.effort import area_with
from spreadsim.inputs.survey import Record
from spreadsim.inputs.survey_grounds import Ground, Grounds
from spreadsim.learning.worlds import CLIMBING, FRUITING

HOST_NEAR = 5.0  # m from a record within which a host of the site is taken for the one recorded; assumed
_TAG = re.compile(r"[Hh]\s*(\d+)")


def host_of(record: Record, site: Site, grounds: Grounds, check: Check) -> int | None:
    """Give the host of the site that a record is about, by its tag or its place; a tag that is not there is noted."""
    hosts = site.hosts
    tag = _TAG.fullmatch(record.host.strip())
    if tag is not None:
        if int(tag[1]) < len(hosts):
            return int(tag[1])
        allowed = f"H0 to H{len(hosts) - 1}, numbers of the site's list of hosts" if len(hosts) else "none"
        check.add(f"{record.place}, host", Said(f'"{record.host[:40]}"'), allowed)
        return None
    ground = grounds.of_record(record)
    if ground is None or not len(hosts):
        return None
    row, column = np.divmod(middle_of(ground, record, site), site.nx)
    x, y = (column.mean() + 0.5) * site.cell_size, (site.ny - row.mean() - 0.5) * site.cell_size
    if record.xy is not None:
        x, y = record.xy
    apart = np.hypot(hosts.x - x, hosts.y - y)
    nearest = int(apart.argmin())
    return nearest if apart[nearest] <= max(HOST_NEAR, record.uncertainty or 0.0) else None


def state_of(record: Record) -> int:
    """Give the state of a host on which vine was found; climbing where nothing else is said."""
    return FRUITING if record.state == "fruiting" else CLIMBING


def middle_of(ground: Ground, record: Record, site: Site) -> Any:
    """Give the cells of an outline, and of a point the one that it is in, however unsure."""
    if record.footprint or len(ground.cells) == 1:
        return ground.cells
    row, column = np.divmod(ground.cells, site.nx)
    away = (row - np.average(row, weights=ground.shares)) ** 2
    away = away + (column - np.average(column, weights=ground.shares)) ** 2
    return ground.cells[[int(away.argmin())]]


def area_of(record: Record, grounds: Grounds, site: Site) -> float | None:
    """Give the m2 of living cover that a record says: an area, or an outline; times the cover, closed if not said."""
    area = None
    if record.quantity is not None:
        try:
            area = area_with(float(record.quantity[0].replace(",", "")), record.quantity[1])
        except ValueError:
            area = None
    ground = grounds.of_record(record)
    if area is None and record.footprint and ground is not None:
        area = float(ground.shares.sum()) * site.cell_size**2
    if area is None:
        return None
    return area * (1.0 if record.cover is None else record.cover.middle)
