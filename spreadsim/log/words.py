"""Planned against done in sentences, and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from spreadsim.analysis.intervals import mean_interval
from spreadsim.analysis.wording import percent
from spreadsim.log.entry import Log
from spreadsim.log.planned import CREW_HOURS, Row, last_season

HEADER = ("task, unit", "planned", "worked", "done", "part", "not", "open", "found", "else")
LEGEND = (
    "Hours planned and worked, of all people together; places done, in part, not, and open (no entry); further hosts "
    "found, and what turned out to be something else."
)
CSV_HEADER = (
    *(
        "year",
        "season",
        "task",
        "unit",
        "planned_hours",
        "hours",
        "planned_places",
        "places",
        "done",
        "part",
        "not_done",
    ),
    *("no_entry", "found", "something_else"),
)
_FEWEST = 5  # places for which an interval says anything
_MOST_NAMED = 3


def log_sentences(log: Log, rows: Sequence[Row]) -> Iterator[str]:
    """Say how much of the plan was done, where most is left, how the hours compare, and what was found.

    Parameters
    ----------
    log
        From `read_log`.
    rows
        From `planned_against_done`.
    """
    if not log.entries:
        yield "The log has no lines yet."
        return
    until = last_season(log)
    past = [row for row in rows if row.season <= until]
    yield from _of_hours(past, rows)
    yield from _of_places(past)
    yield _of_pace(log)
    yield from _of_finds(past)
    corrected = len(log.entries) - len(log.counting)
    filled = sum(1 for entry in log.entries if log.newest[entry.line] != entry.line and not entry.filled)
    if corrected - filled:
        one = corrected - filled == 1
        told = "1 line is corrected by a newer one, which counts" if one else ""
        yield f"{told or f'{corrected - filled} lines are corrected by newer ones, which count'}; both stay."


def _of_hours(past: Sequence[Row], rows: Sequence[Row]) -> Iterator[str]:
    if not past:
        yield "No line has a day yet, so nothing counts as done."
        return
    planned, done = sum(row.planned_hours for row in past), sum(row.hours for row in past)
    # beside a list, what it did not plan is no part of the plan that was done
    besides = sum(row.unlisted for row in past) if any(row.listed for row in rows) else 0.0
    done -= besides
    more = f"; and {_h(besides)} on what no list planned" if besides else ""
    begin = next((row.season_name for row in past if row.season >= 0), past[0].season_name)
    when = begin if begin == past[-1].season_name else f"{begin} to {past[-1].season_name}"
    seasons = {row.season: 0 for row in past if row.task == CREW_HOURS}
    if planned > 0:
        yield f"{_capital(when)}: {_h(done)} worked of {_h(planned)} planned, {percent(done / planned)}{more}."
    else:
        yield f"{_capital(when)}: {_h(done + besides)} worked; nothing was planned."
    if seasons:
        count = "1 season" if len(seasons) == 1 else f"{len(seasons)} seasons"
        yield (
            f"For {count} no line says what was planned, so the hours that the experiment's crews plan stand for it; "
            "they say nothing of single tasks."
        )
    undone = sorted((row for row in past if row.left > 0 and row.task != CREW_HOURS), key=lambda row: -row.left)
    if undone:
        told = [
            f"{_place(row)}, {row.season_name} ({_h(row.left)} of {_h(row.planned_hours)})"
            for row in undone[:_MOST_NAMED]
        ]
        yield f"Most is left undone in: {'; '.join(told)}."
    later = sum(row.planned_hours for row in rows[len(past) :])
    if later:
        yield f"{_h(later)} are planned for seasons after the newest day of the log; they count for nothing here."


def _of_places(past: Sequence[Row]) -> Iterator[str]:
    answers = [row.places[place] for row in past for place in row.listed]
    if not answers:
        return
    done, part, no, nothing = (answers.count(one) for one in ("yes", "part", "no", ""))
    verb = "is" if done == 1 else "are"
    rest = f"{part} in part, {no} not; {nothing} {'has' if nothing == 1 else 'have'} no entry"
    yield f"Of {len(answers)} planned place{'s' * (len(answers) != 1)} {done} {verb} done, {rest}."


def pace(log: Log) -> tuple[Any, Any]:
    """Give planned hours and hours of all places of work lists that were done and timed, two arrays."""
    timed = [
        (entry.planned_hours, entry.hours)
        for entry in log.counting
        if entry.done == "yes" and entry.session is not None and entry.planned_hours and entry.hours
    ]
    return np.array([one[0] for one in timed], float), np.array([one[1] for one in timed], float)


def _of_pace(log: Log) -> str:
    planned, hours = pace(log)
    if not hours.size:
        return "No planned place that was done has its hours noted, so the plan's hours can't be checked."
    lines = "1 line" if hours.size == 1 else f"{hours.size} lines"
    ratio = hours.sum() / planned.sum()
    text = (
        f"Planned work that was done and timed ({lines}) took {_h(hours.sum())} where {_h(planned.sum())} were planned"
    )
    if hours.size < _FEWEST:
        return f"{text}, {ratio:.2g} times: too few to say whether the plan's hours are right."
    # a ratio of sums: the mean of what each place took beyond its part of it (Cochran 1977, Sampling Techniques, 6)
    low, high = (float(one[0]) for one in mean_interval((hours - ratio * planned)[:, None]))
    low, high = (max(0.0, ratio + one / planned.mean()) for one in (low, high))
    each = np.quantile(hours / planned, [0.05, 0.95])
    told = (
        f"{text}, {ratio:.2f} times (90 % interval {low:.2f} to {high:.2f}); nine lines in ten took {each[0]:.2g} to "
    )
    told += f"{each[1]:.2g} times theirs. "
    if low <= 1 <= high:
        return f"{told}The plan's hours may well be right."
    return f"{told}The plan's hours were too {'few' if low > 1 else 'many'}."


def _of_finds(past: Sequence[Row]) -> Iterator[str]:
    found, other = sum(row.found for row in past), sum(row.something_else for row in past)
    if found:
        hosts = "1 further host" if found == 1 else f"{found:,} further hosts"
        yield (
            f"{hosts} with vine {'was' if found == 1 else 'were'} found: put them at the end of the site's list of "
            "hosts, since numbers of hosts in the log must stay what they are. Learning takes nothing from them by "
            "itself."
        )
    if other:
        yield f"{other:,} of what was gone to turned out to be something else."


def season_tables(rows: Sequence[Row]) -> Iterator[tuple[str, list[list[str]]]]:
    """Give a title and rows of text (`HEADER`) for each season, its sum last."""
    for season in dict.fromkeys(row.season for row in rows):
        here = [row for row in rows if row.season == season]
        lines = [_cells(_place(row), [row]) for row in here]
        title = here[0].season_name
        yield _capital(title), lines if len(lines) == 1 else [*lines, _cells("together", here)]


def csv_rows(rows: Sequence[Row]) -> Iterator[tuple[object, ...]]:
    """Give the table for a file, headings first."""
    yield CSV_HEADER
    for row in rows:
        counts = (row.count(done) for done in ("yes", "part", "no", ""))
        hours = (round(row.planned_hours, 2), round(row.hours, 2))
        named = (row.year, row.season_name.split(" ")[0], row.task, row.unit)
        yield (*named, *hours, len(row.listed), len(row.places), *counts, row.found, row.something_else)


def _cells(name: str, rows: Sequence[Row]) -> list[str]:
    sums = [sum(values) for values in zip(*((row.planned_hours, row.hours) for row in rows), strict=True)]
    hours = [f"{value:,.1f}" if value else "-" for value in sums]
    counts = [sum(row.count(done) for row in rows) for done in ("yes", "part", "no", "")]
    found, other = sum(row.found for row in rows), sum(row.something_else for row in rows)
    return [name, *hours, *(str(number) if number else "-" for number in (*counts, found, other))]


def _place(row: Row) -> str:
    return f"{row.task}, {row.unit}" if row.unit else row.task


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _h(hours: float) -> str:
    return f"{hours:,.0f} h" if hours >= 100 else f"{hours:.3g} h"
