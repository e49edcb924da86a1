"""The command `decide`."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import outcomes_of, units_option
from spreadsim.cli_screen import say, say_files

if TYPE_CHECKING:
    import xarray as xr

_ABOVE = click.FloatRange(0, min_open=True)


@click.command()
@click.argument("results", type=click.Path(path_type=Path))
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals] (weights, order, limits), such as a changed experiment. If not "
    "given: the goals that the experiment had when it was run; without any: the least seed leaving the site, then the "
    "least infested ground.",
)
@click.option(
    "--confidence", type=click.FloatRange(0, 1, min_open=True, max_open=True), default=0.9, help="Of all intervals."
)
@click.option(
    "--survey-hours",
    type=_ABOVE,
    multiple=True,
    metavar="HOURS",
    help="Hours of measuring before the first work season to try, as often as wanted; 5, 10, 20, 40, 80 if not given.",
)
@click.option("--readings-an-hour", type=_ABOVE, default=1.0, help="How often a fact is read in an hour of measuring.")
@click.option(
    "--reading-error",
    type=_ABOVE,
    default=1.0,
    help="Standard error of a reading, as many times the spread of what is not known of the fact.",
)
@click.option(
    "--hour-worth",
    type=click.FloatRange(0),
    metavar="NUMBER",
    help="What an hour is worth, in units of the score; what the chosen work saves an hour if not given.",
)
@units_option
def decide(
    results: Path,
    goals: Path | None,
    confidence: float,
    survey_hours: tuple[float, ...],
    readings_an_hour: float,
    reading_error: float,
    hour_worth: float | None,
    units: str | None,
) -> None:
    """Choose among the strategies of RESULTS, a folder that compare wrote, and say why and how surely.

    Files are in m2, hours and the currency of the experiment, whatever is shown.
    """
    from spreadsim.analysis.goals import read_goals
    from spreadsim.analysis.own_goals import goals_in
    from spreadsim.analysis.surveys import Looking
    from spreadsim.views.decision import decision_text, write_decision
    from spreadsim.views.description import fill

    looking = Looking(readings_an_hour=readings_an_hour, error=reading_error, hour_worth=hour_worth)
    if survey_hours:
        looking = Looking(tuple(sorted(set(survey_hours))), readings_an_hour, reading_error, hour_worth)
    wanted = None if goals is None else read_goals(goals)
    path = outcomes_of(results)
    with spreadsim.open_outcomes(path) as dataset:
        own = goals_in(dataset) if wanted is None else None
        system = units or _own_units(dataset)
        decision = spreadsim.decide(dataset, wanted, confidence=confidence, looking=looking)
        text = decision_text(dataset, decision, system=system, looking=looking)
        if own is not None:
            text += "\n\n" + fill(
                "Goals are those that the experiment had when it was run; for changed ones: --goals FILE."
            )
        say(text)
        files = write_decision(dataset, decision, path.parent, text)
    say("")
    say_files(f"Written to {path.parent}", [file.name for file in files])


def _own_units(dataset: "xr.Dataset") -> str:
    """Units that the experiment of a dataset is shown in."""
    from spreadsim.inputs.embed import PREFIX, unembed

    return unembed(dataset).units if f"{PREFIX}experiment" in dataset else "metric"
