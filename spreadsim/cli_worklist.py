"""The commands `worklist` and `tally`: what to do in the coming seasons, and what was done."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, units_option, workers_option
from spreadsim.cli_screen import make_folder, say
from spreadsim.errors import InputError

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Session, WorkList


@click.command()
@experiment_argument
@click.option("--strategy", required=True, metavar="NAME", help="The strategy that was chosen.")
@click.option(
    "--seasons", type=click.IntRange(1, 12), default=2, show_default=True, help="From the first winter that is run."
)
@click.option("--session-hours", type=float, help="Hours of a session, all people together; as the crews if not given.")
@click.option("--replicates", type=click.IntRange(1), help="Random worlds; the experiment's, or 200, if not given.")
@seed_option
@workers_option
@units_option
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="Where the files go.")
def worklist(
    experiment: Path,
    strategy: str,
    seasons: int,
    session_hours: float | None,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    units: str | None,
    out: Path,
) -> None:
    """Write the work list of the coming seasons: tables, points for a phone, sheets to print."""
    from spreadsim.exports import write_rows
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.planning.worklist import Notes, sessions_of, tally_rows, work_list
    from spreadsim.planning.worklist.tables import line_rows, place_rows
    from spreadsim.views.description import fill
    from spreadsim.views.work_sheets import work_sheets

    inputs = spreadsim.read_experiment(experiment)
    if _is_filled(out / "tally.csv"):
        found = f"{out / 'tally.csv'}: found a tally that somebody wrote into"
        raise InputError(f"{found}, allowed another folder: it would be lost")
    work = work_list(inputs, strategy, seasons=seasons, replicates=replicates, seed=seed, workers=workers)
    sessions = sessions_of(work, hours=session_hours)
    folder, system = make_folder(out), units or inputs.units
    tables = {"worklist.csv": line_rows(work), "places.csv": place_rows(work), "tally.csv": tally_rows(work, sessions)}
    written = []
    for name, rows in tables.items():
        written.append(write_rows(folder / name, rows).name)
    with renamed_when_whole(folder / "sheets.html") as file:
        file.write(work_sheets(work, sessions, Notes(work, system), system=system).encode())
    written.append("sheets.html")
    more, left_out = _places(work, sessions, folder)
    say(fill(work.origin))
    for season in range(seasons):
        sheets = sum(session.season == season for session in sessions)
        say(fill(_season(work, season, sheets), "  "))
    for text in left_out:
        say(fill(f"Left out: {text}.", "  "))
    say(fill(f"Files in {folder}: {', '.join([*written, *more])}", "  "))


def _season(work: "WorkList", season: int, sheets: int) -> str:
    """Say the hours of each crew in a season, how much of its hours they are, and how many sessions."""
    crews = []
    for k, crew in enumerate(work.experiment.crews):
        middle, low, high = work.total(season, k)
        if high > 0:
            crews.append(
                f"{crew.name} {middle:.0f} h ({low:.0f} to {high:.0f}) of {work.planned_hours(season, k):.0f} h"
            )
    told = f"{', '.join(crews)}; {sheets} session{'s' if sheets != 1 else ''}" if crews else "no work"
    return f"{work.season_name(season).capitalize()}: {told}."


def _places(work: "WorkList", sessions: "list[Session]", folder: Path) -> tuple[list[str], list[str]]:
    """Write what needs GIS libraries; the names of the files, and what could not be written and why."""
    from spreadsim.exports import export_places, export_points
    from spreadsim.planning.worklist.tables import layers, points

    site = work.experiment.site
    written: list[str] = []
    left_out: list[str] = []
    for name in ("worklist.gpkg", "worklist.gpx"):
        try:
            if name == "worklist.gpkg":
                export_places(site, layers(work), folder / name)
            else:
                export_points(site, points(work, sessions), folder / name)
            written.append(name)
        except InputError as error:
            left_out.append(f"{name}: {error}")
    return written, left_out


def _is_filled(path: Path) -> bool:
    """Whether a tally is there that somebody wrote into; one that can't be read counts as such."""
    from spreadsim.planning.worklist import read_tally

    if not path.exists():
        return False
    try:
        return any(row.done or row.hours or row.date or row.notes for row in read_tally(path).rows)
    except InputError:
        return True


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def tally(file: Path) -> None:
    """Say how much of a work list is done, from its tally.csv that was filled in."""
    from spreadsim.planning.worklist import read_tally
    from spreadsim.views.description import fill

    say(fill(read_tally(file).sentence))
