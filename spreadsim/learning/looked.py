"""Where people looked, and how long: the ground of each visit, and the effort in each cell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from spreadsim.errors import Said
from spreadsim.inputs import Site
from spreadsim.inputs.checks import Check
from spreadsim.inputs.survey import Event, Survey
from spreadsim.inputs.survey_grounds import Grounds
from spreadsim.inputs.units import HECTARE
from spreadsim.learning.finding import Effort
from spreadsim.learning.seasons import in_winter

_MOST_NAMED = 3


@dataclass(frozen=True)
class Looked:
    """Ground and effort of a survey on a site.

    Attributes
    ----------
    effort : Effort
        By cell.
    used : tuple of Event
        Visits whose effort and ground are known.
    left_out : tuple of Event
        The others: what they found is there, but it can't be told what finding it says.
    """

    effort: Effort
    used: tuple[Event, ...]
    left_out: tuple[Event, ...]


def look(
    survey: Survey,
    site: Site,
    grounds: Grounds,
    on: date,
    check: Check,
    *,
    everywhere: bool = False,
    hours_per_hectare: float | None = None,
) -> Looked:
    """Give the effort of a survey by cell, noting what is wrong.

    The ground of a visit is the units that it names; else, for plots (visits that say an area or an absence), the
    places of its records; else the whole site if `everywhere`. Ground that is known from finds alone would be ground
    chosen because something was found there, which says nothing of what was not found: such visits are left out.

    Parameters
    ----------
    survey, site, grounds
        The records, where they are, and their places on it.
    on
        Date of visits that say none.
    check
        Where to note.
    everywhere
        Whether visits that say neither unit nor plot went over the whole site.
    hours_per_hectare
        Of visits that say an area looked at and no hours.
    """
    leaf_on, leaf_off = np.zeros(site.ny * site.nx), np.zeros(site.ny * site.nx)
    reasons: dict[str, list[str]] = {}
    used, left_out = [], []
    for event in survey.events:
        hours = _hours(event, check, hours_per_hectare)
        coverage = _ground(event, site, grounds, everywhere)
        area = 0.0 if coverage is None else float(coverage @ site.plantable.ravel()) * site.cell_size**2 / HECTARE
        if not hours or coverage is None or area <= 0.0:
            what = "no hours are said" if not hours else "no unit and no plot says which ground was looked at"
            reasons.setdefault(what, []).append(event.name)
            left_out.append(event)
            continue
        into = leaf_off if in_winter(_day(event, on)) else leaf_on
        into += 60.0 * hours / area * coverage
        used.append(event)
    for what, names in reasons.items():
        named = ", ".join(names[:_MOST_NAMED]) + (" and others" if names[_MOST_NAMED:] else "")
        visits = "1 visit" if len(names) == 1 else f"{len(names):,} visits"
        check.remark("", f"{visits} not weighed, since {what} ({named}); what was found is on the map all the same")
    return Looked(Effort(leaf_on, leaf_off), tuple(used), tuple(left_out))


def _day(event: Event, on: date) -> date:
    spans = [record.dates for record in event.records if record.dates is not None]
    return on if not spans else spans[0][0] + (spans[0][1] - spans[0][0]) / 2


def _hours(event: Event, check: Check, hours_per_hectare: float | None) -> float | None:
    """Give the hours of a visit; an absence needs some."""
    if event.hours is None and event.area is not None and hours_per_hectare is not None:
        return event.area / HECTARE * hours_per_hectare
    absent = next((record for record in event.records if not record.found), None)
    if absent is not None and not event.hours:
        found = Said(f"absent, and {'an area but no hours' if event.area else 'nothing on how long was looked'}")
        check.add(absent.place, found, "hours, or hours a hectare for all visits that say an area alone")
    return event.hours


def _ground(event: Event, site: Site, grounds: Grounds, everywhere: bool) -> Any:
    """Give the share of each cell that a visit went over; None where nothing tells."""
    named = {" ".join(record.unit.lower().split()) for record in event.records if record.unit}
    if named:
        plain = [" ".join(name.lower().split()) for name in site.unit_names]
        return np.isin(site.unit.ravel(), [plain.index(name) + 1 for name in named]).astype(float)
    if event.area is not None or not all(record.found for record in event.records):
        coverage = np.zeros(site.ny * site.nx)
        for record in event.records:
            ground = grounds.of_record(record)
            if ground is not None:
                coverage[ground.cells] = np.maximum(coverage[ground.cells], ground.shares)
        if coverage.any():
            return coverage
    return np.ones(site.ny * site.nx) if everywhere else None
