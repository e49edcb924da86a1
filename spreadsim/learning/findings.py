"""What a survey found, as numbers that a steward can check and that every world gives too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.inputs import Site
from spreadsim.inputs.checks import Check
from spreadsim.inputs.survey import Record
from spreadsim.inputs.survey_grounds import Ground, Grounds
from spreadsim.learning.looked import Looked
from spreadsim.learning.recorded import AS_BEFORE, mat_of, tells_ground
from spreadsim.learning.records import area_of, host_of, middle_of, state_of
from spreadsim.learning.worlds import BARE, CLIMBING, FRUITING
from spreadsim.learning.zones import CLASSES, EDGES, Zones

CLIMBING_HOSTS, FRUITING_HOSTS, CLIMBED_HOSTS = "climbing hosts", "fruiting hosts", "climbed hosts"
NEW_PATCHES, MAT_AREA = "new patches", "mat area"
_MOST_NAMED = 3


@dataclass(frozen=True)
class Statistic:
    """A number that the survey gives.

    Attributes
    ----------
    kind : str
        What is counted or measured.
    where : int
        Number of the unit (0: in none), or the class of distance of new patches.
    name : str
        For people.
    observed : float
        A count, or m2.
    """

    kind: str
    where: int
    name: str
    observed: float


@dataclass(frozen=True)
class Findings:
    """What a survey says.

    Attributes
    ----------
    statistics : tuple of Statistic
        What worlds are weighted by; only of ground where somebody looked.
    mat_cells : array of int
        Cells in which mat was recorded, by any visit.
    mat_cover : array of float
        The cover that was recorded in them; nan where only mat was.
    hosts : dict
        Number of a host of the site to the state that was recorded.
    counted : dict
        Number of a unit to how many climbed hosts were counted in it without saying which.
    points : array of int
        Those of the cells at which a new patch was recorded and nothing of its size.
    outlined : bool
        Whether all that was found of the map's mats says which ground it is, so that the rest is bare.
    """

    statistics: tuple[Statistic, ...]
    mat_cells: Any
    mat_cover: Any
    hosts: dict[int, int]
    counted: dict[int, int]
    points: Any
    outlined: bool = False


def findings_of(site: Site, zones: Zones, grounds: Grounds, looked: Looked, only_new: bool, check: Check) -> Findings:
    """Count what was found, noting what is wrong.

    Visits of the same ground find the same things again: hosts and patches with a place count once, and of what has
    none the visit that found most counts.
    """
    reader = _Reader(site, zones, grounds, check)
    for event in looked.used:
        reader.begin()
        for record in event.records:
            reader.take(record, looked.effort.looked)
    reader.begin()
    for event in looked.left_out:
        for record in event.records:
            reader.note_place(record)
    if reader.off:
        named = ", ".join(reader.off[:_MOST_NAMED]) + (" and others" if reader.off[_MOST_NAMED:] else "")
        count = "1 find" if len(reader.off) == 1 else f"{len(reader.off):,} finds"
        check.remark(
            "", f"{count} not weighed, since no place tells whether ground that was looked at is meant: {named}"
        )
    statistics = [*reader.of_hosts(looked.effort.looked), *reader.of_patches(looked.effort.looked)]
    if not only_new:  # the mats of the map are known
        statistics += reader.of_area()
    cells, where = np.unique(np.concatenate([*reader.cells, np.zeros(0, "i8")]), return_inverse=True)
    cover = np.full(len(cells), AS_BEFORE)
    np.fmax.at(cover, where.ravel(), np.concatenate([*reader.covers, np.zeros(0)]))
    counted: dict[int, int] = {}
    for (_, where_to), many in reader.counts.items():
        counted[where_to] = counted.get(where_to, 0) + many
    points = np.setdiff1d(cells[np.isnan(cover)], np.flatnonzero(zones.old))
    outlined = bool(reader.areas) and not reader.vague
    return Findings(tuple(statistics), cells, cover, reader.hosts, counted, points, outlined)


class _Reader:
    """Takes records one by one."""

    def __init__(self, site: Site, zones: Zones, grounds: Grounds, check: Check) -> None:
        self.site, self.zones, self.grounds, self.check = site, zones, grounds, check
        self.names = {" ".join(name.lower().split()): k for k, name in enumerate(site.unit_names, 1)}
        self.cells: list[Any] = []
        self.covers: list[Any] = []
        self.hosts: dict[int, int] = {}
        self.weighed: dict[int, int] = {}  # hosts with a place, found by visits that are used
        self.stateless = False
        self.counts: dict[tuple[int, int], int] = {}  # hosts without a place by state and unit: most in a visit
        self.visit: dict[tuple[int, int], int] = {}
        self.new: list[Any] = []
        self.areas: dict[int, float] = {}  # m2 of old mats by unit: most in a visit
        self.area: dict[int, float] = {}
        self.unmeasured: set[int] = set()  # units in which old mat was found and its area not said
        self.vague = False  # whether a find of old mat does not say which ground it is
        self.off: list[str] = []

    def begin(self) -> None:
        """Close the visit before."""
        for key, count in self.visit.items():
            self.counts[key] = max(self.counts.get(key, 0), count)
        for unit, area in self.area.items():
            self.areas[unit] = max(self.areas.get(unit, 0.0), area)
        self.visit, self.area = {}, {}

    def take(self, record: Record, looked: Any) -> None:
        """Count a record of a visit whose ground and effort are known."""
        if record.on_host:
            self._take_host(record, looked)
        elif record.found:
            self._take_mat(record, looked)

    def note_place(self, record: Record) -> None:
        """Keep where vine was found, whatever it says else."""
        if record.on_host:
            host = host_of(record, self.site, self.grounds, self.check)
            if host is not None:
                self._keep(host, record)
        elif record.found and (ground := self.grounds.of_record(record)) is not None:
            self._keep_mat(record, ground, area_of(record, self.grounds, self.site))

    def _keep_mat(self, record: Record, ground: Ground, area: float | None) -> None:
        cells, cover = mat_of(record, ground, area, self.site, self.zones.old)
        self.cells.append(cells)
        self.covers.append(cover)

    def _keep(self, host: int, record: Record) -> None:
        self.hosts[host] = max(self.hosts.get(host, BARE), state_of(record) if record.found else BARE)

    def _take_host(self, record: Record, looked: Any) -> None:
        host = host_of(record, self.site, self.grounds, self.check)
        if host is not None:
            self._keep(host, record)
        if not record.found or record.state == "bare":
            return
        self.stateless |= not record.state
        if host is not None:
            if looked[self.site.hosts.cell[host]]:
                self.weighed[host] = max(self.weighed.get(host, BARE), state_of(record))
            else:
                self.off.append(record.place)
            return
        unit = self._unit(record)
        if unit is None:
            self.off.append(record.place)
            return
        key = (state_of(record), unit)
        self.visit[key] = self.visit.get(key, 0) + (1 if record.count is None else record.count)

    def _take_mat(self, record: Record, looked: Any) -> None:
        ground, area = self.grounds.of_record(record), area_of(record, self.grounds, self.site)
        if ground is not None:
            cells = middle_of(ground, record, self.site)
            self._keep_mat(record, ground, area)
            if not self.zones.old[cells].any():
                here = cells[looked[cells]]
                if len(here):
                    self.new.append(here)
                else:
                    self.off.append(record.place)
                return
        self.vague |= ground is None or not tells_ground(record, ground, area, self.site)
        unit = self._unit(record)
        if unit is None or (ground is None and area is None):
            self.off.append(record.place)
        elif area is None:
            self.unmeasured.add(unit)
        else:
            self.area[unit] = self.area.get(unit, 0.0) + area

    def _unit(self, record: Record) -> int | None:
        """Give the number of the unit that a record says or lies in."""
        if record.unit:
            return self.names[" ".join(record.unit.lower().split())]
        ground = self.grounds.of_record(record)
        if ground is not None:
            return int(self.site.unit.ravel()[middle_of(ground, record, self.site)[0]])
        return None if self.site.unit_names else 0

    def of_hosts(self, looked: Any) -> Iterable[Statistic]:
        """Give counts by unit; climbing and fruiting ones apart where every find says which it is."""
        site = self.site
        seen = np.unique(site.unit.ravel()[site.hosts.cell[looked[site.hosts.cell]]])
        kinds: dict[str, tuple[int, ...]] = {CLIMBED_HOSTS: (CLIMBING, FRUITING)}
        if not self.stateless:
            kinds = {CLIMBING_HOSTS: (CLIMBING,), FRUITING_HOSTS: (FRUITING,)}
        for kind, states in kinds.items():
            for unit in seen.tolist():
                count = sum(self.counts.get((state, unit), 0) for state in states)
                count += sum(
                    state in states and int(site.unit.ravel()[site.hosts.cell[host]]) == unit
                    for host, state in self.weighed.items()
                )
                yield Statistic(kind, unit, f"{kind}{_in_unit(site, unit)}", float(count))

    def of_patches(self, looked: Any) -> Iterable[Statistic]:
        """Give counts of new patches by distance from the mats of the map."""
        fresh = looked & ~self.zones.old & (self.site.plantable.ravel() > 0)
        possible = np.unique(np.digitize(self.zones.distance[fresh], EDGES, right=True))
        found = self.zones.patches(np.concatenate([*self.new, np.zeros(0, "i8")]).astype("i8"))
        counts = np.bincount(found.distance, minlength=len(CLASSES))
        for k in possible.tolist():
            yield Statistic(NEW_PATCHES, k, f"{NEW_PATCHES}, {CLASSES[k]}", float(counts[k]))

    def of_area(self) -> Iterable[Statistic]:
        """Give the area of the mats of the map by unit, where every find of them says its own."""
        for unit, area in sorted(self.areas.items()):
            if unit not in self.unmeasured:
                yield Statistic(MAT_AREA, unit, f"{MAT_AREA} of the map's mats{_in_unit(self.site, unit)}", area)


def _in_unit(site: Site, unit: int) -> str:
    if not site.unit_names:
        return ""
    return f", {site.unit_names[unit - 1]}" if unit else ", outside the units"
