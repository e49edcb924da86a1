"""The survey that a site names: read with it, held against it, and no part of what is run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from spreadsim.errors import InputError
from spreadsim.inputs.checks import Check
from spreadsim.inputs.file_models import SurveyTable
from spreadsim.inputs.paths import beside
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.survey import Survey
from spreadsim.inputs.survey_rows import read_events
from spreadsim.inputs.taking import take

if TYPE_CHECKING:
    from spreadsim.inputs.site import Site


def survey_of(context: Context) -> Survey | None:
    """Read the survey that a site table names; None if it names none, or what is wrong is noted.

    Parameters
    ----------
    context : Context
        With ``survey``: a file's name, or a table with ``file`` and any of ``sheet`` and ``species``. Plain ``x`` and
        ``y`` are in the unit of length of the site file.
    """
    value = context.values.survey
    if value is None:
        return None
    place = context.at("survey")
    given = value if isinstance(value, Mapping) else {"file": value}
    said, whole = take(SurveyTable, given, context.check, place)
    at = f"{place}.file" if isinstance(value, Mapping) else place
    path = beside(context.folder, said["file"], context.check, at) if whole else None
    if path is None:
        return None
    check = Check(str(path), context.check.problems)
    before, remarks = len(check.problems), len(check.problems.remarks)
    events = read_events(path, check, said["species"], said["sheet"], context.length)
    if len(check.problems) > before:
        return None
    corner = context.values.corner
    told = tuple(str(one) for one in check.problems.remarks[remarks:])
    return Survey(str(path), events, told, None if corner is None else (corner[0], corner[1]))


def with_survey(site: Site, survey: Survey | None, check: Check) -> Site:
    """Give a site its survey, noting records that can't be placed on it: unknown units, positions without a system."""
    if survey is None:
        return site
    try:
        survey.by_unit(site)
    except InputError as error:
        check.problems.absorb(error)
    return replace(site, survey=survey)
