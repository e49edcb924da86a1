"""Where records of a survey lie on a site: effort and finds by unit and by cell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from spreadsim.errors import one_of
from spreadsim.inputs.arrays import Frozen, freeze
from spreadsim.inputs.checks import Check
from spreadsim.inputs.site import Site
from spreadsim.inputs.survey import Event, Record, Survey
from spreadsim.inputs.survey_grounds import Ground, Grounds

FOUND, NOT_FOUND, UNKNOWN = "found", "looked, not found", "unknown"


@dataclass(frozen=True)
class UnitRecords:
    """What is known of a unit.

    Attributes
    ----------
    name : str
        Of the unit.
    hours : float
        Hours of all people; an event in several units is shared by ground. 0 where no event says hours.
    area : float
        Ground looked at, m2, summed over events.
    visits : int
        Events of which at least a part lies here.
    found, absent : int
        Records of vine, and of none where it was looked for.
    last : date or None
        Last day on which somebody looked.
    last_found : date or None
        Last day on which vine was found.
    """

    name: str
    hours: float = 0.0
    area: float = 0.0
    visits: int = 0
    found: int = 0
    absent: int = 0
    last: date | None = None
    last_found: date | None = None

    @property
    def status(self) -> str:
        """Give ``found``, ``looked, not found`` or ``unknown``."""
        return FOUND if self.found else NOT_FOUND if self.absent else UNKNOWN


@dataclass(frozen=True, eq=False)
class CellRecords(Frozen):
    """What is known of the cells of a site; arrays (y, x), read-only.

    Attributes
    ----------
    hours : float64
        Hours of all people, spread evenly over the ground of each event.
    area : float64
        Ground looked at, m2, summed over events; where an event says no area, all of its ground.
    found : float64
        Records of vine, each shared out over the cells that it may lie in.
    absent : float64
        Records of none, likewise.
    unplaced : tuple of str
        Events that lie nowhere on the site, or say no place.
    """

    hours: np.ndarray
    area: np.ndarray
    found: np.ndarray
    absent: np.ndarray
    unplaced: tuple[str, ...] = ()

    @property
    def looked(self) -> np.ndarray:
        """Where somebody looked."""
        where: np.ndarray = (self.hours > 0) | (self.area > 0) | (self.found > 0)
        return where

    @property
    def unknown(self) -> np.ndarray:
        """Where nobody looked: not clean, but unknown."""
        return ~self.looked


def by_cell(survey: Survey, site: Site, grounds: Grounds) -> CellRecords:
    """Spread effort and finds over the cells of a site; see `Survey.by_cell`."""
    hours, area, found, absent = (np.zeros(site.ny * site.nx) for _ in range(4))
    unplaced = []
    for event in survey.events:
        ground = grounds.of_event(event)
        if ground is None:
            unplaced.append(event.name)
            continue
        total = float(ground.shares.sum())
        size = total * site.cell_size**2 if event.area is None else event.area
        hours[ground.cells] += (event.hours or 0.0) * ground.shares / total
        area[ground.cells] += size * ground.shares / total
        for record in event.records:
            own = grounds.of_record(record) or ground
            (found if record.found else absent)[own.cells] += own.shares / own.shares.sum()
    shape = (site.ny, site.nx)
    return CellRecords(
        freeze(hours.reshape(shape)),
        freeze(area.reshape(shape)),
        freeze(found.reshape(shape)),
        freeze(absent.reshape(shape)),
        tuple(unplaced),
    )


def by_unit(survey: Survey, site: Site | None, grounds: Grounds | None) -> Mapping[str, UnitRecords]:
    """Sum effort and finds by unit; see `Survey.by_unit`."""
    sums: dict[str, dict[str, float]] = {}
    last: dict[str, date] = {}
    last_found: dict[str, date] = {}
    for name in () if site is None else site.unit_names:
        sums[name] = {}
    for event in survey.events:
        parts = _parts(event, site, grounds)
        for name, share in parts.items():
            add = sums.setdefault(name, {})
            _add(add, hours=(event.hours or 0.0) * share, area=(event.area or 0.0) * share, visits=1)
        for record in event.records:
            name = _unit_of(record, site, grounds) or max(parts, key=lambda unit: parts[unit])
            add = sums.setdefault(name, {})
            _add(add, **{"found" if record.found else "absent": 1})
            if record.dates is not None:
                for days in (last, last_found) if record.found else (last,):
                    days[name] = max(days.get(name, record.dates[1]), record.dates[1])
    return {
        name: UnitRecords(
            name,
            one.get("hours", 0.0),
            one.get("area", 0.0),
            int(one.get("visits", 0)),
            int(one.get("found", 0)),
            int(one.get("absent", 0)),
            last.get(name),
            last_found.get(name),
        )
        for name, one in sums.items()
    }


def _add(sums: dict[str, float], **values: float) -> None:
    for name, value in values.items():
        sums[name] = sums.get(name, 0.0) + value


def _parts(event: Event, site: Site | None, grounds: Grounds | None) -> dict[str, float]:
    """Give the units that an event lies in with the share of it in each; ``""`` where none is known."""
    named = list(dict.fromkeys(record.unit for record in event.records if record.unit))
    if named and (site is None or site.unit_names):
        names = [_named(name, site) for name in named]
        return {name: 1 / len(names) for name in names}
    ground = None if grounds is None else grounds.of_event(event)
    if ground is None or site is None:
        return {"": 1.0}
    sums = _by_number(ground, site)
    return {site.unit_names[k - 1] if k else "": sums[k] / sums.sum() for k in np.flatnonzero(sums).tolist()}


def _unit_of(record: Record, site: Site | None, grounds: Grounds | None) -> str:
    """Give the unit of a record: named, or the one that most of its place lies in; empty if none is known."""
    if record.unit and (site is None or site.unit_names):
        return _named(record.unit, site)
    ground = None if grounds is None else grounds.of_record(record)
    if ground is None or site is None:
        return ""
    best = int(_by_number(ground, site).argmax())
    return site.unit_names[best - 1] if best else ""


def _by_number(ground: Ground, site: Site) -> np.ndarray:
    """Sum the shares of a ground by number of the unit, 0 for none."""
    numbers = site.unit.ravel()[ground.cells]
    return np.bincount(numbers, weights=ground.shares, minlength=len(site.unit_names) + 1)


def _named(name: str, site: Site | None) -> str:
    """Give the name of a unit as the site writes it."""
    if site is None:
        return name
    plain = {" ".join(one.lower().split()): one for one in site.unit_names}
    return plain[" ".join(name.lower().split())]


def grounds_of(survey: Survey, site: Site, corner: tuple[float, float] | None) -> Grounds:
    """Make the grounds of a survey on a site; `InputError` for what can't be placed.

    Parameters
    ----------
    survey : Survey
        Whose records are placed.
    site : Site
        Where.
    corner : two floats, or None
        As for `Survey.by_unit`; that of the survey itself if None.
    """
    corner = corner or survey.corner
    check = Check(survey.path)
    known = {" ".join(name.lower().split()) for name in site.unit_names}
    for record in survey.records:
        if known and record.unit and " ".join(record.unit.lower().split()) not in known:
            check.add(f"{record.place}, locationID", record.unit, one_of(site.unit_names))
    grounds = Grounds(site, corner, check)
    grounds.check_all(survey.records)
    check.done()
    return grounds
