"""Questions about hours and ground: `ask hold`, `ask ground`, `ask leave`, `ask other-first`."""

import math
from pathlib import Path
from typing import Any

import click

import spreadsim
from spreadsim.cli_ask_options import (
    crew_option,
    goals_option,
    read_wanted,
    run_options,
    share_option,
    strategies_option,
    strategy_option,
    tell,
    working,
)
from spreadsim.cli_screen import make_folder, progress_bar, say


@click.command()
@run_options
@strategies_option
@crew_option
@share_option
@click.option("--most", default=8.0, show_default=True, help="Largest number of times the hours planned to try.")
def hold(
    experiment: Path,
    strategies: tuple[str, ...],
    crews: tuple[str, ...],
    units: str | None,
    out: Path | None,
    **how: Any,
) -> None:
    """Say how many hours a year hold the line.

    The line holds where at the end neither infested area nor fruiting hosts are above those of the start.
    """
    from spreadsim.planning.questions import hours_to_hold

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answers = [
            hours_to_hold(inputs, name or None, crews=crews, progress=progress, **how)
            for name in working(inputs, strategies)
        ]
    answers.sort(key=lambda one: one.table.attrs["hours"] if one.table.attrs["holds"] else math.inf)  # least first
    tell(inputs, answers, out)


@click.command()
@run_options
@strategies_option
@share_option
@click.option("--unit", "order", multiple=True, metavar="NAME", help="In this order; the strategy's if not given.")
@click.option("--under", default=0.01, show_default=True, help="Cover of a unit's ground below which it is clear.")
@click.option("--lasting", type=click.IntRange(1), default=3, show_default=True, help="In so many last years.")
def ground(experiment: Path, strategies: tuple[str, ...], out: Path | None, **how: Any) -> None:
    """Say how much ground can be kept clear.

    Units are taken on one by one, in the strategy's order, with the hours that there are.
    """
    from spreadsim.planning.questions import ground_kept

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answers = [ground_kept(inputs, name or None, progress=progress, **how) for name in working(inputs, strategies)]
    tell(inputs, answers, out)


@click.command()
@run_options
@strategy_option
@goals_option
@click.option("--wait", type=click.IntRange(1), default=5, show_default=True, help="Years that a unit is left.")
def leave(experiment: Path, goals: Path | None, out: Path | None, **how: Any) -> None:
    """Say which unit to leave for now.

    And in which year to enter each; with --out also as a map.
    """
    from spreadsim.planning.questions import unit_to_leave
    from spreadsim.views.answers import entry_alt, entry_map
    from spreadsim.views.style import save

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answer = unit_to_leave(inputs, goals=read_wanted(goals), progress=progress, **how)
    tell(inputs, [answer], out)
    if out is not None:
        figure = entry_map(answer.table, inputs.site, system=how["units"] or inputs.units, notice=inputs.notice)
        files = save(figure, make_folder(out), answer.name, entry_alt(answer.table))
        say(f"Map: {', '.join(path.name for path in files)}")


@click.command("other-first")
@run_options
@strategy_option
@goals_option
@click.option(
    "--at",
    "places",
    type=(float, float, float),
    multiple=True,
    metavar="X Y RADIUS",
    help="A circle where the other invader stands, m from the south-west corner; may be given again.",
)
@click.option("--sooner", type=click.IntRange(1), help="Year of removal; the first that is run if not given.")
@click.option("--later", type=click.IntRange(2), help="Year to compare with; five years later if not given.")
@click.option("--hours", default=0.0, show_default=True, help="That the removal takes from the crews in its year.")
def other_first(experiment: Path, goals: Path | None, out: Path | None, **how: Any) -> None:
    """Say whether to remove the other invader first.

    As far as it matters to the vine: of the other invader itself the model knows nothing.
    """
    from spreadsim.planning.questions import other_invader_first

    inputs = spreadsim.read_experiment(experiment)
    with progress_bar() as progress:
        answer = other_invader_first(inputs, goals=read_wanted(goals), progress=progress, **how)
    tell(inputs, [answer], out)
