"""The command `sensitivity`: what outcomes, and differences between strategies, hang on."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import outcomes_of, seed_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say

if TYPE_CHECKING:
    import xarray as xr

_SCREENED = 8


@click.command("sensitivity")
@click.argument("results", type=click.Path(path_type=Path))
@click.option("--outcome", "outcomes", multiple=True, metavar="NAME", help="As in goals; all if not given.")
@click.option("--strategy", "strategies", multiple=True, metavar="NAME", help="All if not given.")
@click.option("--year", type=int, default=-1, help="At whose end; the last if not given.")
@click.option(
    "--method",
    type=click.Choice(["variance", "delta"]),
    default="variance",
    show_default=True,
    help="Of what was run: shares of variance, or how far whole distributions move (slow).",
)
@click.option("--design", is_flag=True, help="Run again at points designed for it (Saltelli): sharper, but takes long.")
@click.option(
    "--parameter",
    "parameters",
    multiple=True,
    metavar="NAME",
    help=f"Of a design, such as mat.front_speed; if not given, the {_SCREENED} that count most in what was run.",
)
@click.option("--samples", type=click.IntRange(2), default=64, show_default=True, help="Of a design: a power of two.")
@click.option("--replicates", type=click.IntRange(1), default=4, show_default=True, help="Worlds at each point of it.")
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Of a design: a TOML file with a table [goals], whose score is looked at; the experiment's if not given.",
)
@seed_option
@workers_option
def sensitivity(
    results: Path,
    outcomes: tuple[str, ...],
    strategies: tuple[str, ...],
    year: int,
    method: str,
    design: bool,
    parameters: tuple[str, ...],
    samples: int,
    replicates: int,
    goals: Path | None,
    seed: int | None,
    workers: int | None,
) -> None:
    """Say which of the drawn facts outcomes and differences hang on, by RESULTS, a folder that compare wrote."""
    from spreadsim.analysis.all_sensitivity import sensitivities
    from spreadsim.analysis.own_goals import goals_for
    from spreadsim.analysis.sensitivity_words import designed_lines, given_lines
    from spreadsim.planning.designed import designed_sensitivity

    path = outcomes_of(results)
    folder = make_folder(path.parent)
    with spreadsim.open_outcomes(path) as dataset:
        if design:
            experiment = spreadsim.read_experiment(path)
            wanted = goals_for(experiment, goals)
            names = parameters or _foremost(dataset, strategies)
            with progress_bar() as progress:
                table = designed_sensitivity(
                    experiment,
                    names,
                    goals=wanted,
                    strategies=strategies,
                    samples=samples,
                    replicates=replicates,
                    seed=seed,
                    workers=workers,
                    progress=progress,
                )
            head = f"Of how the score varies over {table.attrs['points']:,} points, each in {replicates} worlds:"
            _told(table, designed_lines(table), head, folder / "sensitivity-design.csv")
            return
        with progress_bar() as bar:
            tell = bar if callable(bar) else lambda done, total: None
            table = sensitivities(
                dataset,
                outcomes=outcomes or None,
                strategies=strategies or None,
                year=year,
                method=method,
                progress=tell,
            )
    head = f"Of how each varies over {table.attrs['worlds']:,} worlds, at the end of year {table.attrs['year']}:"
    _told(table, given_lines(table), head, folder / "sensitivity.csv")


def _foremost(dataset: "xr.Dataset", strategies: tuple[str, ...]) -> list[str]:
    """Parameters that count most in what was run, for any strategy or difference, on seed and infested area."""
    from spreadsim.analysis.all_sensitivity import sensitivities
    from spreadsim.model.parameters import LINKS, SOLVED

    table = sensitivities(dataset, outcomes=["seeds_exported", "infested_area"], strategies=strategies or None)
    most = table["index"].max(["outcome", "target"])
    names = [str(name) for name in most.sortby(-most)["parameter"].values]
    return [name for name in names if name not in LINKS + SOLVED][:_SCREENED]


def _told(table: "xr.Dataset", lines: list[str], head: str, path: Path) -> None:
    from spreadsim.analysis.sentences import LIMITS
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.views.description import fill

    with renamed_when_whole(path) as file:
        file.write(table.to_dataframe().reset_index().to_csv(index=False, lineterminator="\n").encode())
    say("\n".join([fill(head), *(fill(line, "    ") for line in lines)]))
    method = str(table.attrs["method"])
    say("\n" + fill(f"± is one standard error. Method: {method}."))
    say("\n" + fill(LIMITS))
    say(f"\nWritten to {path}")
