"""The command `lesson`: the class page of results or of an experiment."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import OUTCOMES_FILE, units_option
from spreadsim.cli_screen import progress_bar, say
from spreadsim.errors import InputError

if TYPE_CHECKING:
    import xarray as xr

    from spreadsim.inputs.experiment import Experiment
    from spreadsim.views.class_page import Reel

_CELLS_AT_ONCE = 400_000  # a film takes two bytes for each cell and season


@click.command("lesson")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="The page.")
@click.option("--handout", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="A page to print.")
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds, if SOURCE has to be run.")
@click.option("--lucks", type=click.IntRange(1, 7), default=4, show_default=True, help="Runs of luck to show.")
@units_option
def lesson(
    source: Path, out: Path | None, handout: Path | None, replicates: int | None, lucks: int, units: str | None
) -> None:
    """Write the class page: two strategies side by side, with a path of 45 minutes for a class.

    SOURCE is a folder of results, an outcomes.nc, or an experiment file, which is then run. The page is one HTML
    file, lesson.html beside SOURCE if --out is not given, and works without a network.
    """
    from spreadsim.views.description import fill

    said = _write(source, out, handout, replicates, lucks, units)
    say("\n".join(fill(line, "  ") if line.startswith("Left out") else line for line in said.splitlines()))  # no path


def _write(
    source: Path, out: Path | None, handout: Path | None, replicates: int | None, lucks: int, units: str | None
) -> str:
    """Write the class page, and the handout if it is asked for; say where they are."""
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.views import class_page as pages

    experiment, outcomes = _outcomes(source, replicates)
    system = units or experiment.units
    reels = _reels(experiment, pages.choose_lucks(outcomes, lucks))
    page = out or (source if source.is_dir() else source.parent) / "lesson.html"
    texts = {page: pages.class_page(experiment, outcomes, reels, system=system)}
    if handout is not None:
        texts[handout] = pages.handout(experiment, system=system)
    told = []
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        with renamed_when_whole(path) as file:
            file.write(text.encode())
        told.append(f"{path} ({len(text.encode()) / 1e6:.1f} MB)")
    steps, missing = pages.choose_steps(experiment)
    told.append(f"{len(steps)} steps, {len(reels)} strategies; open it in a browser, it needs no network.")
    told += [f"Left out: step {key}, because {reason}." for key, reason in missing.items()]
    return "\n".join(told)


def _outcomes(source: Path, replicates: int | None) -> "tuple[Experiment, xr.Dataset]":
    """The experiment and its outcomes: opened, or run now."""
    file = source / OUTCOMES_FILE if source.is_dir() else source
    if file.suffix == ".nc":
        if replicates is not None:
            raise InputError(f"--replicates: found {replicates} with results, allowed with an experiment file only")
        return spreadsim.read_experiment(file), spreadsim.open_outcomes(file)
    experiment = spreadsim.read_experiment(file)
    with progress_bar() as report:
        return experiment, spreadsim.compare(experiment, replicates=replicates, progress=report)


def _reels(experiment: "Experiment", lucks: list[int]) -> "list[Reel]":
    """Film strategy by strategy, and as many runs of luck at once as memory is meant for."""
    from spreadsim.views import class_page as pages

    wanted = pages.films_wanted(experiment)
    cells = experiment.site.ny * experiment.site.nx
    step = max(1, _CELLS_AT_ONCE // cells)
    reels = []
    with progress_bar("films") as report:
        for done, strategy in enumerate(wanted.strategies):
            if callable(report):
                report(done, len(wanted.strategies))
            parts = []
            for first in range(0, len(lucks), step):
                film = spreadsim.film(wanted, replicates=lucks[first : first + step], strategies=[strategy.name])
                parts.append(pages.reel_of(film, strategy.name, wanted))
            reels.append(pages.joined(parts))
    return reels
