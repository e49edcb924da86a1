"""The command `ask`: what stewards ask, a question each."""

import click

from spreadsim.cli_screen import say


@click.group()
def ask() -> None:
    """Answer a steward's question in a sentence."""


@ask.command()
@click.option("--unit", default="the unit", help="Its name, for the answer.")
@click.option("--searches", type=int, required=True, help="Whole searches of the unit that found nothing.")
@click.option(
    "--finding",
    type=(float, float),
    required=True,
    help="Lowest and highest chance that one search finds vine that is there.",
)
@click.option("--prior", default=0.5, show_default=True, help="Chance that it was there before the searches.")
@click.option("--accepted", default=0.05, show_default=True, help="Chance of leaving vine behind that is accepted.")
def clear(unit: str, searches: int, finding: tuple[float, float], prior: float, accepted: float) -> None:
    """Tell whether a unit may be called clear after searches that found nothing."""
    from spreadsim.planning import may_be_called_clear
    from spreadsim.views.description import fill

    say(fill(may_be_called_clear(searches, finding, prior=prior, accepted=accepted, unit=unit).sentence))
