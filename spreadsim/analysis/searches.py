"""How many searches of a unit found nothing, from survey records."""

from spreadsim.errors import InputError, one_of, show
from spreadsim.inputs.survey import Survey


def searches_without_find(survey: Survey, unit: str) -> int:
    """Count the days on which a unit was searched since vine was last found in it.

    Parameters
    ----------
    survey
        From `read_survey`. An event counts by the unit that its records name; several on one day count once, since they
        are hardly independent; one without a date counts by itself, and as the earliest if it found any.
    unit
        Its name.

    Returns
    -------
    int
        0 if the last search found some.

    Raises
    ------
    InputError
        No record names the unit.
    """
    known = dict.fromkeys(record.unit for record in survey.records if record.unit)
    if unit not in known:
        allowed = one_of(known) if known else "a survey whose records name units"
        raise InputError(f"{survey.path}: found no record of unit {show(unit)}, allowed {allowed}")
    last, clean, undated = None, set(), 0
    for event in survey.events:
        here = [record for record in event.records if record.unit == unit]
        if not here:
            continue
        day = max((record.dates[1] for record in here if record.dates), default=None)
        if any(record.found for record in here):
            last = day if last is None or (day is not None and day > last) else last
        elif day is None:
            undated += 1
        else:
            clean.add(day)
    return undated + sum(last is None or day > last for day in clean)
