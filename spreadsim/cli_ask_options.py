"""Options of questions that are answered by running, and how an answer is told."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spreadsim.cli_options import experiment_argument, seed_option, units_option, workers_option
from spreadsim.cli_screen import make_folder, say

if TYPE_CHECKING:
    from spreadsim.analysis.answer import Answer
    from spreadsim.inputs import Experiment

strategy_option = click.option(
    "--strategy", metavar="NAME", help="One with tasks; may be left out if there is only one."
)
strategies_option = click.option(
    "--strategy", "strategies", multiple=True, metavar="NAME", help="All with tasks if not given."
)
crew_option = click.option(
    "--crew", "crews", multiple=True, metavar="NAME", help="Whose hours; all crews if not given."
)
goals_option = click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals]; if not given: the least seed leaving the site.",
)
share_option = click.option(
    "--in-worlds",
    "share",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    default=0.8,
    show_default=True,
    help="Share of worlds in which it must be so.",
)


def run_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add what every question that runs takes: the experiment, worlds, seed, threads, units and a folder."""
    options = [
        experiment_argument,
        click.option(
            "--replicates", type=click.IntRange(2), default=100, show_default=True, help="Worlds of each case."
        ),
        seed_option,
        workers_option,
        units_option,
        click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="Also write files there."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


def working(experiment: "Experiment", names: Sequence[str]) -> list[str]:
    """Give the strategies asked about: those named, else all that have tasks."""
    return list(names) or [strategy.name for strategy in experiment.strategies if strategy.tasks] or [""]


def read_wanted(goals: Path | None) -> Any:
    """Give the goals of a file, or None."""
    from spreadsim.analysis.goals import read_goals

    return None if goals is None else read_goals(goals)


def tell(experiment: "Experiment", answers: Sequence["Answer"], out: Path | None) -> None:
    """Print answers, and write them where --out says."""
    from spreadsim.views.answers import answer_text, write_answer
    from spreadsim.views.description import notices

    said = notices(experiment)
    say("\n\n".join(answer_text(answer, said) for answer in answers))
    if out is None:
        return
    folder = make_folder(out)
    files = []
    for number, answer in enumerate(answers, start=1):
        files += write_answer(answer, folder, answer.name if len(answers) == 1 else f"{answer.name}-{number}", said)
    say(f"\nFiles in {folder}: {', '.join(path.name for path in files)}")
