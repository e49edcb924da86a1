"""The command `ask`: what stewards ask, a question each."""

from pathlib import Path

import click

from spreadsim.cli_ask_ground import ground, hold, leave, other_first
from spreadsim.cli_ask_scout import scout
from spreadsim.cli_ask_years import crews, grant, now, skipped
from spreadsim.cli_screen import say


@click.group()
def ask() -> None:
    """Answer a steward's question in a sentence."""


@ask.command()
@click.option("--unit", default="the unit", help="Its name, for the answer.")
@click.option("--searches", type=int, help="Whole searches of the unit that found nothing.")
@click.option(
    "--survey",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Instead of --searches: records in which days of search without a find are counted, those of --unit.",
)
@click.option(
    "--finding",
    type=(float, float),
    required=True,
    help="Lowest and highest chance that one search finds vine that is there.",
)
@click.option("--prior", default=0.5, show_default=True, help="Chance that it was there before the searches.")
@click.option("--accepted", default=0.05, show_default=True, help="Chance of leaving vine behind that is accepted.")
def clear(
    unit: str, searches: int | None, survey: Path | None, finding: tuple[float, float], prior: float, accepted: float
) -> None:
    """Tell whether a unit may be called clear.

    After searches that found nothing: their number is given, or counted from survey records.
    """
    from spreadsim.planning import may_be_called_clear
    from spreadsim.views.description import fill

    if (searches is None) == (survey is None):
        raise click.UsageError("either --searches or --survey is needed, and not both")
    done = _searched(survey, unit) if survey is not None else searches or 0
    say(fill(may_be_called_clear(done, finding, prior=prior, accepted=accepted, unit=unit).sentence))


def _searched(survey: Path, unit: str) -> int:
    from spreadsim.analysis.searches import searches_without_find
    from spreadsim.inputs import read_survey

    return searches_without_find(read_survey(survey), unit)


ask.add_command(hold)
ask.add_command(ground)
ask.add_command(leave)
ask.add_command(grant)
ask.add_command(now)
ask.add_command(crews)
ask.add_command(skipped)
ask.add_command(other_first)
ask.add_command(scout)
