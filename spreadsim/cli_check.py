"""The command `check`."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, units_option
from spreadsim.cli_screen import say


@click.command()
@experiment_argument
@units_option
def check(experiment: Path, units: str | None) -> None:
    """Read EXPERIMENT and all its files, and say what is wrong, all of it, without running."""
    from spreadsim.inputs import bind, find_design
    from spreadsim.views.description import describe

    inputs = spreadsim.read_experiment(experiment)
    design = find_design(experiment)
    say(describe(inputs, system=units or inputs.units))
    if design is not None:
        names = ", ".join(factor.name for factor in design.factors)
        say(f"\nSweep: {design.kind}, {len(bind(inputs, design)):,} points, of {names}")
    say("\nNothing is wrong with it.")
