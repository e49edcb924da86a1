"""The command `brief`: two pages for a board, with appendices."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import outcomes_of, units_option, workers_option
from spreadsim.cli_screen import say

if TYPE_CHECKING:
    import numpy as np

    from spreadsim.inputs.experiment import Experiment
    from spreadsim.planning.briefing import Beginning, Stopped

_BEGINNING, _STOPPED = 20, 40  # worlds that are run again; what they tell is in the brief with their number


@click.command("brief")
@click.argument("results", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="brief.html if not given.")
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals], such as a changed experiment. If not given: the goals that the experiment "
    "had when it was run; without any: the least seed leaving the site, then the least infested ground.",
)
@click.option(
    "--under", type=click.IntRange(1), help="Fruiting hosts to stay under; a quarter of today's if not given."
)
@click.option(
    "--money-until",
    type=click.IntRange(1),
    metavar="YEAR",
    help="Last year of the paid crews, for what is left five years later; the third of the runs if not given.",
)
@click.option("--no-reruns", is_flag=True, help="Only what RESULTS hold: no units by year, no stop of money.")
@workers_option
@units_option
def brief(
    results: Path,
    out: Path | None,
    goals: Path | None,
    under: int | None,
    money_until: int | None,
    no_reruns: bool,
    workers: int | None,
    units: str | None,
) -> None:
    """Write the brief of RESULTS, a folder that compare wrote: what to do first, why, and how sure that is.

    The file is a page for a board, a second page with what it rests on, and appendices; it needs no network, and any
    browser prints it on A4 or Letter. A few of the worlds are run again for what RESULTS don't hold.
    """
    from spreadsim.analysis.goals import read_goals
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.views.brief import brief_page

    wanted = None if goals is None else read_goals(goals)
    file = outcomes_of(results)
    page = out or (results if results.is_dir() else results.parent) / "brief.html"
    with spreadsim.open_outcomes(file) as dataset, ThreadPoolExecutor(1) as pool:
        experiment = spreadsim.experiment_of(dataset)
        numbers = dataset["replicate"].to_numpy()
        # kernels hold no lock: what is run again goes on beside the statistics
        stopping = None if no_reruns else pool.submit(_stopped, experiment, numbers, money_until, workers)
        decision = spreadsim.decide(dataset, wanted)
        started = None if no_reruns else _begun(experiment, decision.choice, numbers, workers)
        text = brief_page(
            dataset,
            experiment,
            decision,
            beginning=started,
            stopped=stopping.result() if stopping else None,
            under=under,
            system=units or experiment.units,
        )
    page.parent.mkdir(parents=True, exist_ok=True)
    with renamed_when_whole(page) as written:
        written.write(text.encode())
    say(f"{page} ({len(text.encode()) / 1e6:.1f} MB): open it in a browser and print it; it needs no network.")


def _begun(experiment: "Experiment", choice: str, numbers: "np.ndarray", workers: int | None) -> "Beginning | None":
    from spreadsim.planning.briefing import beginning, has_work

    strategy = has_work(experiment, choice)
    if strategy is None or not experiment.crews:
        return None
    return beginning(experiment, strategy, [int(one) for one in numbers[:_BEGINNING]], workers=workers)


def _stopped(
    experiment: "Experiment", numbers: "np.ndarray", after: int | None, workers: int | None
) -> "Stopped | None":
    from spreadsim.planning.briefing import if_money_stops

    return if_money_stops(experiment, [int(one) for one in numbers[:_STOPPED]], after=after, workers=workers)
