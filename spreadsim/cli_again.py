"""The command `again`: plan again from what a survey taught."""

import os
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, outcomes_of, units_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say

if TYPE_CHECKING:
    from spreadsim.learning.again import Again


@click.command("again")
@experiment_argument
@click.option(
    "--learned",
    type=click.Path(path_type=Path),
    required=True,
    metavar="FOLDER",
    help="What spreadsim learn wrote after the survey.",
)
@click.option(
    "--before",
    type=click.Path(path_type=Path),
    metavar="RESULTS",
    help="Last year's comparison, a folder that compare wrote; it is run again if not given.",
)
@workers_option
@units_option
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="Where the files go.")
def again(
    experiment: Path, learned: Path, before: Path | None, workers: int | None, units: str | None, out: Path
) -> None:
    """Plan again from what was learned: EXPERIMENT for the years that remain, what changed, and are we ahead."""
    from spreadsim.learning.again import read_learned
    from spreadsim.views import report
    from spreadsim.views.description import fill

    inputs = spreadsim.read_experiment(experiment)
    known = read_learned(learned, inputs)
    last = None if before is None else spreadsim.open_outcomes(outcomes_of(before))
    folder, system = make_folder(out), units or inputs.units
    try:
        with progress_bar() as progress:
            found = spreadsim.plan_again(inputs, known, before=last, folder=folder, workers=workers, progress=progress)
        story = "\n\n".join(fill(text) for text in found.story(system))
    finally:
        if last is not None:
            last.close()
    text = report.findings(found.outcomes, found.experiment, system=system, story=story)
    say(text)
    files = report.write_files(found.outcomes, found.experiment, folder, text, system=system)
    files += _write(found, folder, system)
    say("\n" + report.closing(found.outcomes, found.experiment, folder, files))
    say(_go_on(experiment, learned, folder, found.strategy))


def _write(found: "Again", folder: Path, system: str) -> list[Path]:
    """Write tables and the picture."""
    from spreadsim.exports import write_rows
    from spreadsim.learning.ahead_words import ahead_rows
    from spreadsim.learning.changed_words import changed_rows
    from spreadsim.views.ahead_chart import ahead_alt, ahead_chart
    from spreadsim.views.style import save

    files = [write_rows(folder / "ahead.csv", ahead_rows(found.ahead))]
    if found.changed is not None:
        files.append(write_rows(folder / "changed.csv", changed_rows(found.changed)))
    return files + save(ahead_chart(found.ahead, system=system), folder, "ahead", ahead_alt(found.ahead))


def _go_on(experiment: Path, learned: Path, folder: Path, strategy: str) -> str:
    """Say how other commands go on from the same state."""
    from spreadsim.learning.folder import START_FILE

    place = os.path.relpath(learned / START_FILE, experiment.parent).replace(os.sep, "/")
    list_of = f"spreadsim worklist {shlex.quote(str(folder))} --strategy {shlex.quote(strategy)} --out FOLDER"
    copied = ""
    if place.startswith("..") or os.path.isabs(place):  # an experiment names no file outside its folder
        copied, place = f"copy {learned / START_FILE} beside {experiment.name} and ", START_FILE
    line = f'start = "{place}"'
    return (
        f"\nThe work of the coming seasons:\n  {list_of}\nFor commands that run again, {copied}put this line at the "
        f"top of {experiment.name}:\n  {line}"
    )
