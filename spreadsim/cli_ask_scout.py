"""The question `ask scout`: is it worth scouting first, and for how many hours."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, workers_option
from spreadsim.cli_screen import progress_bar, say


@click.command("scout")
@experiment_argument
@click.option("--strategy", default="", metavar="NAME", help="Whose work follows; the last of the file if not given.")
@click.option(
    "--hours",
    type=click.FloatRange(0, min_open=True),
    multiple=True,
    metavar="HOURS",
    help="Of scouting to try, as often as wanted; 10, 20, 40, 80 if not given.",
)
@click.option(
    "--season",
    type=click.Choice(["winter", "spring", "summer", "autumn"]),
    default="winter",
    show_default=True,
    help="Of the first year.",
)
@click.option("--replicates", type=click.IntRange(2), default=200, show_default=True, help="Worlds.")
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals]; if not given: the experiment's, else least seed leaving the site.",
)
@seed_option
@workers_option
def scout(
    experiment: Path,
    strategy: str,
    hours: tuple[float, ...],
    season: str,
    replicates: int,
    goals: Path | None,
    seed: int | None,
    workers: int | None,
) -> None:
    """Say whether to scout before the first work season of EXPERIMENT, and for how many hours."""
    from spreadsim.analysis.decision_words import number
    from spreadsim.analysis.own_goals import goals_for
    from spreadsim.analysis.sentences import LIMITS
    from spreadsim.analysis.wording import percent
    from spreadsim.planning.scouting import HOURS, scout_first
    from spreadsim.views.description import fill
    from spreadsim.views.tables import table

    inputs = spreadsim.read_experiment(experiment)
    wanted = goals_for(inputs, goals)
    with progress_bar() as progress:
        found = scout_first(
            inputs,
            strategy,
            hours=hours or HOURS,
            season=season,
            goals=wanted,
            replicates=replicates,
            seed=seed,
            workers=workers,
            progress=progress,
        )
    say(fill(str(found.attrs["sentence"])))
    rows = []
    for at in range(found.sizes["hours"]):
        row = found.isel(hours=at)
        told = [f"{float(row['hours']):g} h", number(float(row["mean"])), "-", "-"]
        if at:
            gain, low, high = (number(float(row[name])) for name in ("gain", "gain_low", "gain_high"))
            told[2:] = [f"{gain} ({low} to {high})", percent(float(row["better"]))]
        rows.append(told)
    say("\n" + table(["scouting first", "score", "less by", "better in"], rows))
    say("\n" + fill(LIMITS))
