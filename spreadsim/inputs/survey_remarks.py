"""What a survey says against the map of its site, and where nobody looked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from spreadsim.inputs.site import Site
from spreadsim.inputs.survey import Record, Survey
from spreadsim.inputs.survey_grounds import Grounds
from spreadsim.inputs.survey_places import FOUND, NOT_FOUND, UNKNOWN, UnitRecords, by_cell, by_unit, grounds_of

NEAR = 10.0  # m from a record within which vine on the map is taken for the one recorded; assumed, as phones err
_MOST_NAMED = 3


def remarks_on_survey(site: Site) -> Iterator[str]:
    """Give what is worth a look in the survey of a site; nothing if it has none.

    Parameters
    ----------
    site : Site
        With its survey, as `read_site` gives it.

    Yields
    ------
    str
        Units nobody looked at, vine found where the map has none, vine on the map where people looked and found none.
    """
    survey = site.survey
    if survey is None:
        return
    yield from survey.remarks
    if not site.unit_names and any(record.unit for record in survey.records):
        yield "survey: records name units (locationID), and the site has none: only their places count"
    grounds = grounds_of(survey, site, None)
    units = by_unit(survey, site, grounds)
    unknown = [f'"{name}"' for name, one in units.items() if name and one.status == UNKNOWN]
    if unknown:
        more = f" and {len(unknown) - _MOST_NAMED:,} more" if unknown[_MOST_NAMED:] else ""
        what = "unit" if len(unknown) == 1 else "units"
        yield f"survey: nobody looked in {what} {', '.join(unknown[:_MOST_NAMED])}{more}: unknown, not clean"
    yield from _against_units(site, units)
    missed = _missed(site, survey, grounds)
    if missed:
        named = ", ".join(record.place for record in missed[:_MOST_NAMED]) + (" and others" if missed[3:] else "")
        count = "1 record" if len(missed) == 1 else f"{len(missed):,} records"
        yield f"survey: {count} of vine where the map has none within {NEAR:g} m: {named}"
    unplaced = by_cell(survey, site, grounds).unplaced
    if unplaced:
        named = ", ".join(unplaced[:_MOST_NAMED]) + (" and others" if unplaced[_MOST_NAMED:] else "")
        count = "1 visit lies" if len(unplaced) == 1 else f"{len(unplaced):,} visits lie"
        yield f"survey: {count} nowhere on the site, or without a place, or may lie anywhere: {named}"


def vine_of_units(site: Site) -> dict[str, tuple[float, int]]:
    """Give for each unit, and for ``""`` where there is none, mat in m2 and climbed hosts of the map."""
    names = ("", *site.unit_names)
    area = np.bincount(site.unit.ravel(), weights=(site.mat * site.plantable).ravel(), minlength=len(names))
    climbed = site.hosts.cell[site.hosts.state >= 1]
    hosts = np.bincount(site.unit.ravel()[climbed], minlength=len(names))
    both = zip(names, area.tolist(), hosts.tolist(), strict=True)
    return {name: (mat * site.cell_size**2, count) for name, mat, count in both}


def _against_units(site: Site, units: Mapping[str, UnitRecords]) -> Iterator[str]:
    has = vine_of_units(site)
    for name, one in units.items():
        mat, climbed = has[name]
        where = f'in unit "{name}"' if name else "outside the units" if site.unit_names else "on the site"
        if one.status == FOUND and not mat and not climbed:
            yield f"survey: vine was found {where}{_when(one)}, and the map has neither mat nor a climbed host there"
        elif one.status == NOT_FOUND and (mat or climbed):
            on_map = " and ".join(
                [f"{mat:,.0f} m2 of mat"] * (mat > 0)
                + [f"{climbed:,} climbed host{'s' if climbed > 1 else ''}"] * (climbed > 0)
            )
            day = f", last on {one.last}," if one.last else ""
            yield f"survey: people looked {where}{day} and found none, and the map has {on_map} there"


def _when(one: UnitRecords) -> str:
    """Say on which day vine was found last, and if people looked again since."""
    if one.last_found is None or one.last is None:
        return ""
    again = f" and not when people looked last, on {one.last}" if one.last > one.last_found else ""
    return f" (last on {one.last_found}{again})"


def _missed(site: Site, survey: Survey, grounds: Grounds) -> list[Record]:
    """Give records of vine with a place of their own where the map has none nearby, and nobody found none since."""
    records = [record for record in survey.records if record.found]
    vine = site.mat > 0
    vine.ravel()[site.hosts.cell[(site.hosts.state >= 1) & ~site.hosts.placed]] = True
    near = _spread(vine, int(np.ceil(NEAR / site.cell_size))).ravel()
    cleared = _last_absences(survey, grounds, near.size)
    missed = []
    for record in records:
        ground = grounds.of_record(record)
        if ground is None or near[ground.cells].any():
            continue
        if record.dates is None or cleared[ground.cells].max() <= record.dates[1].toordinal():
            missed.append(record)
    return missed


def _last_absences(survey: Survey, grounds: Grounds, cells: int) -> np.ndarray:
    """Give for each cell the last day on which a record with a place of its own says that there is none; 0 for never.

    It is the first day of its dates that counts: only an absence after a find tells that the vine has gone.
    """
    days = np.zeros(cells, dtype=np.int64)
    for record in survey.records:
        ground = None if record.found or record.dates is None else grounds.of_record(record)
        if ground is not None and record.dates is not None:
            np.maximum.at(days, ground.cells, record.dates[0].toordinal())
    return days


def _spread(cells: np.ndarray, reach: int) -> np.ndarray:
    """Give cells that have a marked one within a square of `reach` cells on each side, by running sums."""
    sums = np.pad(cells.astype(np.int64), ((reach + 1, reach), (reach + 1, reach))).cumsum(axis=0).cumsum(axis=1)
    wide = 2 * reach + 1
    inside = sums[wide:, wide:] - sums[:-wide, wide:] - sums[wide:, :-wide] + sums[:-wide, :-wide]
    spread: np.ndarray = inside > 0
    return spread
