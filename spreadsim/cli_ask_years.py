"""Questions about years and money: `ask grant`, `ask now`, `ask crews`, `ask skipped`."""

from pathlib import Path
from typing import Any

import click

import spreadsim
from spreadsim.cli_ask_options import (
    crew_option,
    goals_option,
    read_wanted,
    run_options,
    strategies_option,
    strategy_option,
    tell,
    working,
)
from spreadsim.cli_screen import progress_bar


@click.command()
@run_options
@strategies_option
@crew_option
@click.option("--lasts", type=click.IntRange(1), default=3, show_default=True, help="Years of the grant.")
@click.option("--year", type=click.IntRange(1), default=8, show_default=True, help="In which to look at what is left.")
def grant(experiment: Path, strategies: tuple[str, ...], out: Path | None, **how: Any) -> None:
    """Say what is left of a grant after it has ended.

    The gain of work that ends after some years, set against going on, in a later year.
    """
    from spreadsim.planning.questions import left_of_grant

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answers = [
            left_of_grant(inputs, name or None, progress=progress, **how) for name in working(inputs, strategies)
        ]
    tell(inputs, answers, out)


@click.command()
@run_options
@strategies_option
@crew_option
@goals_option
@click.option("--over", type=click.IntRange(2), help="Years whose hours are spent; 10 if not given, or all.")
@click.option(
    "--within", type=click.IntRange(1), multiple=True, help="Years to spend them in; 1, 2, 3, 5 if not given."
)
def now(
    experiment: Path,
    strategies: tuple[str, ...],
    within: tuple[int, ...],
    goals: Path | None,
    out: Path | None,
    **how: Any,
) -> None:
    """Say whether to spend all now or over years.

    The same hours in the first year, the first two and so on, or spread over all.
    """
    from spreadsim.planning.questions import now_or_spread

    inputs, wanted = spreadsim.read_experiment(experiment), read_wanted(goals)
    with progress_bar() as progress:
        answers = [
            now_or_spread(inputs, name or None, within=within or None, goals=wanted, progress=progress, **how)
            for name in working(inputs, strategies)
        ]
    tell(inputs, answers, out)


@click.command()
@run_options
@strategy_option
@goals_option
@click.option("--first", required=True, metavar="CREW", help="Such as a contractor.")
@click.option("--second", required=True, metavar="CREW", help="Such as volunteers.")
@click.option("--money", type=float, help="A year; what the first crew's planned hours cost if not given.")
@click.option(
    "--rate",
    "rates",
    type=(str, float),
    multiple=True,
    metavar="CREW MONEY",
    help="What an hour costs; a paid crew's price if not given.",
)
def crews(
    experiment: Path, rates: tuple[tuple[str, float], ...], goals: Path | None, out: Path | None, **how: Any
) -> None:
    """Say which of two crews to pay: contractor or volunteers.

    What each makes of the same money, and at which price of an hour the answer turns.
    """
    from spreadsim.planning.questions import contractor_or_volunteers

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answer = contractor_or_volunteers(inputs, rates=dict(rates), goals=read_wanted(goals), progress=progress, **how)
    tell(inputs, [answer], out)


@click.command()
@run_options
@strategies_option
@crew_option
@click.option(
    "--year", "years", type=click.IntRange(1), multiple=True, help="Missed; 1, 2 and the middle if not given."
)
def skipped(
    experiment: Path, strategies: tuple[str, ...], years: tuple[int, ...], out: Path | None, **how: Any
) -> None:
    """Say what a skipped year costs.

    In infested area, fruiting hosts, and hours to get back, for the first year, the second or any.
    """
    from spreadsim.planning.questions import skipped_year

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answers = [
            skipped_year(inputs, name or None, years=years or None, progress=progress, **how)
            for name in working(inputs, strategies)
        ]
    tell(inputs, answers, out)
