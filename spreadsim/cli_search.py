"""The command `search`: a better strategy than those given, if one is found."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say, say_files


@click.command("search")
@experiment_argument
@click.option("--tries", type=click.IntRange(1), default=150, show_default=True, help="Strategies to try.")
@click.option(
    "--hours-of-search",
    type=click.FloatRange(0, min_open=True),
    metavar="HOURS",
    help="Instead of --tries: for how long. What is found then depends on the machine.",
)
@click.option("--replicates", type=click.IntRange(2), default=40, show_default=True, help="Worlds of each try.")
@click.option(
    "--judging", type=click.IntRange(2), default=200, show_default=True, help="Fresh worlds of the last comparison."
)
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals]; if not given: the experiment's, else least seed leaving the site.",
)
@seed_option
@workers_option
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="The folder results if not given.")
def search(
    experiment: Path,
    tries: int,
    hours_of_search: float | None,
    replicates: int,
    judging: int,
    goals: Path | None,
    seed: int | None,
    workers: int | None,
    out: Path | None,
) -> None:
    """Look for a better strategy than those of EXPERIMENT, with the same crews, hours, money and rules."""
    from spreadsim.analysis.own_goals import goals_for
    from spreadsim.planning.search import search as run
    from spreadsim.views.found import found_text, write_found

    inputs = spreadsim.read_experiment(experiment)
    wanted = goals_for(inputs, goals)
    folder = make_folder(experiment.parent / "results" if out is None else out)
    with progress_bar("tries" if hours_of_search is None else "per cent of the time") as progress:
        found = run(
            inputs,
            goals=wanted,
            tries=tries,
            seconds=None if hours_of_search is None else 3600 * hours_of_search,
            replicates=replicates,
            judging=judging,
            seed=seed,
            workers=workers,
            progress=progress,
        )
    say(found_text(found, system=inputs.units))
    files = write_found(found, folder)
    say("")
    say_files(f"Files in {folder}", [path.name for path in files])
