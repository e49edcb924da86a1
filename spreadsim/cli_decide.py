"""The command `decide`."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_screen import say, say_files


@click.command()
@click.argument("results", type=click.Path(path_type=Path))
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals] (weights, order, limits), such as the experiment. If not given: the least "
    "seed leaving the site, then the least infested ground.",
)
@click.option(
    "--confidence", type=click.FloatRange(0, 1, min_open=True, max_open=True), default=0.9, help="Of all intervals."
)
def decide(results: Path, goals: Path | None, confidence: float) -> None:
    """Choose among the strategies of RESULTS, a folder that compare wrote, and say why and how surely."""
    from spreadsim.analysis.goals import read_goals
    from spreadsim.views.decision import decision_text, write_decision

    wanted = None if goals is None else read_goals(goals)
    # a folder of results holds outcomes.nc; a Zarr store is a folder itself
    path = results / "outcomes.nc" if results.is_dir() and not (results / "zarr.json").exists() else results
    with spreadsim.open_outcomes(path) as dataset:
        decision = spreadsim.decide(dataset, wanted, confidence=confidence)
        text = decision_text(dataset, decision)
        say(text)
        files = write_decision(dataset, decision, path.parent, text)
    say("")
    say_files(f"Written to {path.parent}", [file.name for file in files])
