"""Taking a file of work into the log: everything checked, then kept as new lines; older ones are never changed."""

from __future__ import annotations

import dataclasses
from collections import Counter
from datetime import date
from pathlib import Path
from typing import NamedTuple

from spreadsim.errors import InputError, Said, show
from spreadsim.inputs import Experiment
from spreadsim.inputs.checks import Check
from spreadsim.inputs.seasons import date_of_map, first_season, season_called
from spreadsim.inputs.site_mark import is_same_site, site_mark
from spreadsim.log.days import check_days, check_hours, with_days
from spreadsim.log.entry import Entry, Log
from spreadsim.log.kept import folder_of, keep, next_name, read_log
from spreadsim.log.naming import NO_UNIT, Names
from spreadsim.log.reading import read_lines
from spreadsim.log.same import Sorted, sorted_out

_MOST_NAMED = 4


class Added(NamedTuple):
    """What was taken into the log.

    Attributes
    ----------
    path : Path or None
        The new file; None where it was only checked.
    entries : tuple of Entry
        The new lines.
    known : int
        Lines of the file that were in the log as they are.
    remarks : tuple of str
        What should be looked at.
    """

    path: Path | None
    entries: tuple[Entry, ...]
    known: int
    remarks: tuple[str, ...]


def add_to_log(
    experiment: Experiment,
    file: str | Path,
    *,
    folder: str | Path | None = None,
    since: date | str | None = None,
    sheet: str | None = None,
    today: date | None = None,
    only_check: bool = False,
) -> Added:
    """Take the lines of a file into the log, as a new file of it.

    Parameters
    ----------
    experiment
        Whose site was worked, by its crews.
    file
        A work list's tally that was filled in, or sessions as people note them; CSV or a spreadsheet. A line that is
        in the log as it is, is left out; one of a work list that stood empty in the log is filled in; one that names
        a line under `corrects` takes its place, and both stay.
    folder
        Of the log; None: `log` beside the experiment's file.
    since
        Day of the map, from which years count; None: what the log says, or the site's survey.
    sheet
        Of a spreadsheet.
    today
        No day of work lies after it; None: the day it is.
    only_check
        Whether nothing is to be written.

    Returns
    -------
    Added

    Raises
    ------
    InputError
        Everything that is wrong, by line and column: another site, days before the map or to come, more hours than
        a day has, units, hosts, crews, tasks or treatments that are not known, lines that are all in the log. Nothing
        is changed then.
    """
    if not isinstance(experiment, Experiment):
        raise InputError(f"experiment: found {show(experiment)}, allowed an Experiment, as read_experiment gives it")
    place, path, now = folder_of(experiment, folder), Path(file), today or date.today()
    log = read_log(experiment, place)
    check = Check(str(path))
    mapped = _mapped(experiment, log, since, check)
    found = read_lines(path, check, sheet)
    if found is None:
        raise check.problems.error()
    _check_site(found[0], found[1], experiment, check)
    entries = Names(experiment, check).all_of(with_days(_completed(found[0], log), check))
    if mapped is not None:
        check_days(entries, mapped, now, check)
    new = sorted_out(entries, log, check)
    replaced = {entry.corrects for entry in new.entries}
    older = [entry for entry in log.counting if entry.line not in replaced]
    check_hours(new.entries, older, experiment, check)
    _check_work(new.entries, experiment, check)
    if not new.entries and not len(check.problems):
        told = f"found no line that is not in the log already ({_when(new, log)}), allowed new lines or corrections"
        check.problems.say(check.thing, "", told)
    check.done()
    assert mapped is not None, "a missing day of the map was noted"
    remarks = tuple(": ".join(part for part in remark[1:] if part) for remark in check.problems.remarks)
    if only_check:
        return Added(None, tuple(new.entries), new.known, remarks)
    name = next_name(place, _year(new.entries, now))
    taken = f"{now} from {' '.join(path.name.split())}"
    kept = keep(experiment, place, name, new.entries, log.mapped or mapped, taken)
    return Added(place / f"{name}.csv", kept, new.known, remarks)


def _mapped(experiment: Experiment, log: Log, since: date | str | None, check: Check) -> date | None:
    """Give the day of the map, and note one that makes other years than those of the log."""
    if log.mapped is not None and since is None:
        return log.mapped
    mapped = date_of_map(experiment.site.survey, since, check)
    if mapped is not None and log.mapped is not None and first_season(mapped) != first_season(log.mapped):
        begins = season_called(first_season(log.mapped))
        allowed = f"{log.mapped}, as in the log, whose years begin with {begins}"
        check.add("since", Said(str(mapped)), allowed)
    return mapped


def _check_site(entries: list[Entry], marks: list[str], experiment: Experiment, check: Check) -> None:
    """Note lines that a work list of another site made, once for each such site."""
    for mark in dict.fromkeys(marks):
        if not mark or is_same_site(mark, experiment.site):
            continue
        at = [entry.at for entry, one in zip(entries, marks, strict=True) if one == mark]
        more = f" and {len(at) - 1} more lines" if len(at) > 1 else ""
        check.add(f"{at[0]}{more}, site", mark, f"{site_mark(experiment.site)}, this site")


def _completed(entries: list[Entry], log: Log) -> list[Entry]:
    """Fill in who, where and what of corrections from the lines that they correct; what came of it is their own."""
    by_name = {entry.line: entry for entry in log.entries}
    out = []
    for entry in entries:
        older = by_name.get(entry.corrects)
        if older is not None:
            groups: list[tuple[str, ...]] = [("place", "host", "x", "y", "unit"), ("task", "treatment"), ("crew",)]
            groups += [("date",), ("session", "season", "year", "planned_hours", "strategy")]
            for group in groups:
                if all(getattr(entry, name) in ("", None) for name in group):
                    entry = dataclasses.replace(entry, **{name: getattr(older, name) for name in group})
            entry = entry if entry.where else dataclasses.replace(entry, unit=NO_UNIT[0])
        out.append(entry)
    return out


def _check_work(entries: list[Entry], experiment: Experiment, check: Check) -> None:
    """Remark what is odd: treatments by crews that may not do them, work that nobody says was done."""
    crews = {crew.name: crew for crew in experiment.crews}
    barred: Counter[tuple[str, str]] = Counter()
    silent = [entry.at for entry in entries if entry.worked and not entry.done]
    for entry in entries:
        said = entry.worked and entry.crew and entry.treatment and " or " not in entry.treatment
        if said and not crews[entry.crew].may_do(experiment.treatment(entry.treatment)):
            barred[entry.crew, entry.treatment] += 1
    for (crew, treatment), count in barred.items():
        lines = "1 line" if count == 1 else f"{count} lines"
        check.remark("crew", f"in {lines} {crew} did {treatment}, which the experiment does not let them do")
    if silent:
        named = ", ".join(silent[:_MOST_NAMED]) + (" and more" if len(silent) > _MOST_NAMED else "")
        check.remark("done", f"empty where hours were worked ({named}): yes, part or no would say how far it got")


def _when(new: Sorted, log: Log) -> str:
    """Say when the lines that are in the log were taken."""
    files = list(dict.fromkeys(name.partition(":")[0] for name in new.matched))
    return "; ".join(f"{name}.csv was taken on {log.taken[name]}" for name in files)


def _year(entries: list[Entry], now: date) -> int:
    """Calendar year of the newest work; of today where no line has a day."""
    days = [entry.date for entry in entries if entry.date is not None]
    return max(days).year if days else now.year
