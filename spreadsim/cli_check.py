"""The command `check`."""

import contextlib
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, units_option
from spreadsim.cli_screen import make_folder, say

if TYPE_CHECKING:
    from spreadsim.analysis import Goals


@click.command()
@experiment_argument
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where the picture of the site goes: the folder results beside the experiment if not given.",
)
@units_option
def check(experiment: Path, out: Path | None, units: str | None) -> None:
    """Read EXPERIMENT and all its files, draw its site, and say what is wrong, all of it, without running.

    Errors have to be mended before it can run; warnings are worth a look.
    """
    from spreadsim.analysis.own_goals import goals_words
    from spreadsim.errors import InputError
    from spreadsim.inputs import bind, find_design
    from spreadsim.inputs.remarks import remarks_on
    from spreadsim.views.description import describe, fill, notices
    from spreadsim.views.site_table import totals_table, units_table
    from spreadsim.views.survey_table import survey_text

    try:
        inputs, wanted = _read(experiment)
        design = find_design(experiment)
        points = None if design is None else len(bind(inputs, design))
    except InputError as error:
        if error.remarks:
            told = "\n".join(f"  {remark}" for remark in error.remarks)
            print(f"Warnings, worth a look:\n{told}\nErrors, to be mended before it can run:", file=sys.stderr)
        raise
    system = units or inputs.units
    say(describe(inputs, system=system))
    if design is not None:
        names = ", ".join(factor.name for factor in design.factors)
        say(f"\nSweep: {design.kind}, {points:,} points, of {names}")
    if wanted is not None:
        say("\n" + fill(goals_words(wanted, system)))
    say(f"\nThe site as it was understood:\n{totals_table(inputs.site, system=system)}")
    by_unit = units_table(inputs.site, system=system)
    if by_unit:
        say(f"\n{by_unit}")
    looked = survey_text(inputs.site, system=system)
    if looked:
        say(f"\n{looked}")
    say(f"\nDrawn in {_draw(inputs, _folder(experiment, out), system, ' '.join(notices(inputs)))}.")
    remarks = remarks_on(inputs)
    if remarks:
        say("\nWarnings, worth a look before it is run:")
        say("\n".join(fill(f"- {remark}", "  ") for remark in remarks))
        say("\nNo errors: it can run.")
    else:
        say("\nNothing is wrong with it.")


def _read(experiment: Path) -> "tuple[spreadsim.Experiment, Goals | None]":
    """Read an experiment and its goals; what is wrong with either is told together."""
    from spreadsim.analysis.goals import read_goals
    from spreadsim.analysis.own_goals import goals_of
    from spreadsim.errors import InputError, Problems
    from spreadsim.inputs.toml import read_toml

    try:
        inputs = spreadsim.read_experiment(experiment)
    except InputError as error:
        problems = Problems()
        problems.absorb(error)
        told = None
        with contextlib.suppress(InputError):  # a file that is no TOML is told already
            told = read_toml(experiment).get("goals")
        if isinstance(told, dict) and told:
            try:
                read_goals(experiment)
            except InputError as other:
                problems.absorb(other)
        raise problems.error() from error
    return inputs, goals_of(inputs)


def _folder(experiment: Path, out: Path | None) -> Path:
    return make_folder(experiment.parent / "results" if out is None else out)


def _draw(inputs: "spreadsim.Experiment", folder: Path, system: str, notice: str) -> str:
    from spreadsim.views import style
    from spreadsim.views.site_map import site_map

    figure = site_map(inputs.site, system=system, title=inputs.site.title or inputs.title, notice=notice)
    files = style.save(figure, folder, "site", "The site as it was understood: mats, hosts by state, units, barriers")
    return " and ".join(str(path) for path in files)
