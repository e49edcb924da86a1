"""The folder of the log: one file for each that was taken, never written again."""

from __future__ import annotations

import csv
import dataclasses
import io
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from spreadsim.errors import InputError, Problems, Said
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs import Experiment
from spreadsim.inputs.checks import Check
from spreadsim.inputs.formulas import marked, unmarked
from spreadsim.inputs.site_mark import is_same_site, site_mark
from spreadsim.inputs.toml import read_text
from spreadsim.log.entry import FIELDS, Entry, Log, digest
from spreadsim.log.reading import read_lines

FOLDER = "log"
_NAME = re.compile(r"(\d{4})-(\d+)")
_HEAD = ("site", "map", "taken", "lines")
_FIRST = "# A log of work. Never change it: a correction is a new line that names the one it corrects."


def folder_of(experiment: Experiment, folder: str | Path | None = None) -> Path:
    """Give the folder of the log: the one that is said, or `log` beside the experiment's file."""
    if folder is not None:
        return Path(folder)
    if experiment.path is None:
        raise InputError("folder: found nothing, allowed the folder of the log, since the experiment has no file")
    return experiment.path.parent / FOLDER


def read_log(experiment: Experiment, folder: str | Path | None = None) -> Log:
    """Read the log of an experiment's site.

    Parameters
    ----------
    experiment
        Its site must be the one that the log was written on; hosts may have been added to its list since.
    folder
        Where the log is; None: the folder `log` beside the experiment's file.

    Returns
    -------
    Log
        Without lines where there is no such folder.

    Raises
    ------
    InputError
        A log of another site, a file that was changed since it was taken, or that can't be read.
    """
    place = folder_of(experiment, folder)
    problems = Problems()
    paths = sorted(
        (path for path in place.glob("*.csv") if _NAME.fullmatch(path.stem)), key=lambda path: _number(path.stem)
    )
    for path in place.glob("*.csv"):
        if path not in paths:
            problems.add(str(path), "", Said("a file that is no part of the log"), "files as 2027-1.csv alone")
    entries: list[Entry] = []
    taken: dict[str, str] = {}
    mapped: date | None = None
    for path in paths:
        found = _read(path, experiment, problems)
        if found is not None:
            lines, mapped, taken[path.stem] = found
            entries += lines
    problems.raise_if_any()
    return Log(tuple(entries), mapped, taken)


def next_name(folder: Path, year: int) -> str:
    """Give the name of the next file of a year, without its ending."""
    numbers = [_number(path.stem)[1] for path in folder.glob(f"{year:04d}-*.csv") if _NAME.fullmatch(path.stem)]
    return f"{year:04d}-{max(numbers, default=0) + 1}"


def keep(
    experiment: Experiment, folder: Path, name: str, entries: Sequence[Entry], mapped: date, taken: str
) -> tuple[Entry, ...]:
    """Write lines as a new file of the log, whole or not at all.

    Parameters
    ----------
    experiment
        Whose site is marked in it.
    folder, name
        Where to; the folder is made if need be.
    entries
        Without names of their own; they get them.
    mapped
        Day of the map.
    taken
        When, and from which file.

    Returns
    -------
    tuple of Entry
        With their names.
    """
    named = tuple(dataclasses.replace(entry, line=f"{name}:{k}") for k, entry in enumerate(entries, start=1))
    path = folder / f"{name}.csv"
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    head = dict(zip(_HEAD, (site_mark(experiment.site), mapped.isoformat(), taken, digest(named)), strict=True))
    writer.writerow([_FIRST])
    for key, value in head.items():
        writer.writerow([f"# {key}: {value}"])
    writer.writerow(FIELDS)
    for entry in named:
        writer.writerow([_field(getattr(entry, field)) for field in FIELDS])
    folder.mkdir(parents=True, exist_ok=True)
    if path.exists():
        raise InputError(f"{path}: found a file of that name, allowed a new one: somebody else has just written it")
    with renamed_when_whole(path) as file:
        file.write(text.getvalue().encode())
    return named


def _field(value: object) -> object:
    if isinstance(value, float):
        return repr(value)
    return marked(value) if isinstance(value, str) else value


def _number(stem: str) -> tuple[int, int]:
    year, number = stem.split("-")
    return int(year), int(number)


def _read(path: Path, experiment: Experiment, problems: Problems) -> tuple[list[Entry], date, str] | None:
    """Read a file of the log; None if something is wrong with it."""
    check = Check(str(path), Problems())
    head: dict[str, str] = {}
    try:
        head = _head(path)
    except InputError as error:
        problems.absorb(error)
        return None
    mapped = _day(head.get("map", ""))
    whole = mapped is not None and all(key in head for key in _HEAD)
    if not whole:
        check.add("", Said("no lines with #, as every file of the log begins"), "a file as spreadsim log writes it")
    elif not is_same_site(head["site"], experiment.site):
        check.add("", Said(f"a log of {_title(head['site'])}"), f"one of {site_mark(experiment.site)}, this site")
    found = read_lines(path, check) if whole and not len(check.problems) else None
    if found is not None and not len(check.problems) and digest(found[0]) != head["lines"]:
        allowed = "lines as they were taken: put them back; a correction is a new line that names the one it corrects"
        check.add("", Said("other lines than were taken"), allowed)
    if len(check.problems) or found is None or mapped is None:
        problems.absorb(InputError(*check.problems.found))
        return None
    return found[0], mapped, head["taken"]


def _head(path: Path) -> dict[str, str]:
    """Read what stands above the headings."""
    lines = [line for line in read_text(path).splitlines()[:20] if line.lstrip('"').startswith("#")]
    head = {}
    for row in csv.reader(lines):
        key, colon, value = row[0].removeprefix("#").strip().partition(":")
        if colon and key in _HEAD:
            head[key] = unmarked(value.strip())
    return head


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _title(mark: str) -> str:
    return mark or "a site that is not named"
