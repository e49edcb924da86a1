"""The command `sweep`."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, units_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say


@click.command()
@experiment_argument
@click.option(
    "--design",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="File with the table [sweep]; that of EXPERIMENT if not given.",
)
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds at every point.")
@seed_option
@workers_option
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler whose workers run the points.")
@click.option(
    "--outcome", "outcomes", multiple=True, metavar="NAME", help="Outcome to keep, several times; all if not given."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where sweep.nc goes: the folder results beside the experiment if not given.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted sweep in the same folder.")
@units_option
def sweep(
    experiment: Path,
    design: Path | None,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    cluster: str | None,
    outcomes: tuple[str, ...],
    out: Path | None,
    resume: bool,
    units: str | None,
) -> None:
    """Run the strategies of EXPERIMENT at every point of a design, all in the same worlds."""
    inputs = spreadsim.read_experiment(experiment)
    chosen = spreadsim.read_design(experiment if design is None else design)
    folder = make_folder(experiment.parent / "results" if out is None else out)
    from spreadsim import runs
    from spreadsim.views.sweep_table import sweep_tables

    with progress_bar() as progress:
        dataset = runs.sweep(
            inputs,
            chosen,
            replicates=replicates,
            seed=seed,
            workers=workers,
            cluster=cluster,
            folder=folder,
            resume=resume,
            progress=progress,
            outcomes=outcomes or None,
        )
    say(sweep_tables(dataset, system=units or inputs.units))
    say(f"\nAll of it: {folder / runs.SWEEP_FILE}")
