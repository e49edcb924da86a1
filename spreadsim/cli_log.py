"""The command `log`: take what was worked into the log, and hold it against the plan."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import experiment_argument
from spreadsim.cli_screen import make_folder, say, say_files
from spreadsim.errors import InputError

if TYPE_CHECKING:
    from spreadsim import Experiment
    from spreadsim.log import Added, Log
    from spreadsim.log.planned import Row


@click.command("log")
@experiment_argument
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--since", metavar="DATE", help="Day of the map, if the site names no survey with dates; once is enough.")
@click.option("--sheet", metavar="NAME", help="Of a spreadsheet.")
@click.option("--only-check", is_flag=True, help="Say what would be taken, and write nothing.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the table and the picture there.")
def log(experiment: Path, file: Path | None, since: str | None, sheet: str | None, only_check: bool, out: Path) -> None:
    """Take FILE, a tally that was filled in or sessions as noted, into the log beside EXPERIMENT.

    Without FILE, planned against done from all years of the log. A line is never changed: a correction is a new line
    that names the one it corrects, such as 2027-1:14, under "corrects".
    """
    from spreadsim.views.description import fill

    inputs = spreadsim.read_experiment(experiment)
    if file is None:
        for name, given in (("--since", since), ("--sheet", sheet), ("--only-check", only_check or None)):
            if given is not None:
                raise InputError(f"{name}: found it without a FILE, allowed with one: it is about taking lines")
        _show(inputs, out)
        return
    if out is not None:
        raise InputError(
            "--out: found it with a FILE, allowed without one: first take the file, then ask for the table"
        )
    added = spreadsim.add_to_log(inputs, file, since=since, sheet=sheet, only_check=only_check)
    for text in _told(added, file):
        say(fill(text, "  "))


def _told(added: "Added", file: Path) -> list[str]:
    """Say what was taken."""
    count = f"{len(added.entries):,} line{'s' * (len(added.entries) != 1)}"
    if added.path is None:
        told = f"{file} is in order: {count} would be taken; nothing was written."
    else:
        names = [entry.line for entry in added.entries]
        span = f"{names[0]} to {names[-1]}" if len(names) > 1 else names[0]
        told = f"Taken: {count} of {file}, as {span}, in {added.path}."
    replaced = sum(bool(entry.corrects) for entry in added.entries)
    if replaced:
        told += f" {replaced:,} of them take{'s' * (replaced == 1)} the place of older lines, which stay."
    if added.known:
        told += f" {added.known:,} more {'is' if added.known == 1 else 'are'} in the log already."
    return [told, *(f"To be looked at: {remark}." for remark in added.remarks)]


def _show(inputs: "Experiment", out: Path | None) -> None:
    from spreadsim.log.planned import planned_against_done
    from spreadsim.log.words import HEADER, LEGEND, log_sentences, season_tables
    from spreadsim.views.description import fill, notices
    from spreadsim.views.tables import table

    log = spreadsim.read_log(inputs)
    rows = planned_against_done(inputs, log)
    say("\n\n".join(fill(text) for text in (*notices(inputs), *log_sentences(log, rows))))
    if rows:
        say("\n" + fill(LEGEND))
    for title, lines in season_tables(rows):
        say(f"\n{title}\n{table(HEADER, lines)}")
    if out is not None and log.entries:
        _write(inputs, log, rows, out)


def _write(inputs: "Experiment", log: "Log", rows: "list[Row]", out: Path) -> None:
    from spreadsim.exports import write_rows
    from spreadsim.log.planned import found_rows
    from spreadsim.log.words import csv_rows
    from spreadsim.views.description import notices
    from spreadsim.views.log_chart import log_alt, log_chart
    from spreadsim.views.style import save

    folder = make_folder(out)
    written = [write_rows(folder / "planned-against-done.csv", csv_rows(rows))]
    found = found_rows(inputs, log)
    if len(found) > 1:
        written.append(write_rows(folder / "found.csv", found))
    if rows:
        chart = log_chart(rows, title=inputs.title, notice=" ".join(notices(inputs)))
        written += save(chart, folder, "planned-against-done", log_alt(rows))
    say("")
    say_files(f"Files in {folder}", [path.name for path in written])
