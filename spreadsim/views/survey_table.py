"""The survey of a site beside what its map has, by unit."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from spreadsim.analysis.wording import Scale, percent
from spreadsim.inputs.site import Site
from spreadsim.inputs.survey import Survey
from spreadsim.inputs.survey_places import UNKNOWN, UnitRecords, by_cell, by_unit, grounds_of
from spreadsim.inputs.survey_remarks import vine_of_units
from spreadsim.views.tables import table


def survey_text(site: Site, *, system: str = "metric") -> str:
    """Say what the survey of a site holds, with a table of its units; empty if it has no survey.

    Parameters
    ----------
    site
        The site, with its survey.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        Lines of at most 80 characters.
    """
    survey = site.survey
    if survey is None:
        return ""
    if not survey.events:
        return f"Survey {Path(survey.path).name}: no records, so all of the ground is unknown, not clean."
    found = sum(record.found for record in survey.records)
    visits = _count(len(survey.events), "visit")
    head = f"{_count(len(survey), 'record')} of {visits}{_dates(survey)}, {found:,} of vine"
    grounds = grounds_of(survey, site, None)
    units = by_unit(survey, site, grounds)
    lines = [f"Survey {Path(survey.path).name}: {head}.", "", _by_unit(site, units, system), ""]
    ground = site.plantable.sum()
    if ground:
        unknown = float((site.plantable * by_cell(survey, site, grounds).unknown).sum() / ground)
        lines.append(f"Nobody looked at {percent(unknown)} of the ground: that is unknown, not clean.")
    return "\n".join(lines)


def _by_unit(site: Site, units: Mapping[str, UnitRecords], system: str) -> str:
    has = vine_of_units(site)
    looked = Scale([one.area for one in units.values()], "area", system)
    mats = Scale([has[name][0] for name in units], "area", system)
    rows = [_row(name, one, looked, mats, has[name], bool(site.unit_names)) for name, one in units.items()]
    header = ["unit", "visits", "hours", f"area ({looked.unit})", "found", "absent", "last"]
    header += [f"mat ({mats.unit})", "climbed"]
    said = [k for k in range(len(header)) if k < 2 or any(row[k] not in ("-", "") for row in rows)]
    words = "  visits, found, absent: of the survey; mat, climbed: what the map has."
    return table([header[k] for k in said], [[row[k] for k in said] for row in rows]) + "\n" + words


def _row(name: str, one: UnitRecords, looked: Scale, mats: Scale, has: tuple[float, int], units: bool) -> list[str]:
    title = name or ("in no unit" if units else "the site")
    area = looked.text(one.area) if one.area else "-"
    row = [title, f"{one.visits:,}", f"{one.hours:.3g}" if one.hours else "-", area]
    if one.status == UNKNOWN:
        row += ["unknown", "", ""]
    else:
        row += [f"{one.found:,}", f"{one.absent:,}", str(one.last) if one.last else "-"]
    return [*row, mats.text(has[0]), f"{has[1]:,}"]


def _dates(survey: Survey) -> str:
    spans = [record.dates for record in survey.records if record.dates is not None]
    if not spans:
        return ""
    first, last = min(span[0] for span in spans), max(span[1] for span in spans)
    return f" on {first}" if first == last else f" from {first} to {last}"


def _count(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
