"""The command `draw`: figures of results, by name."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim
from spreadsim.cli_options import outcomes_of, units_option
from spreadsim.cli_screen import make_folder, progress_bar, say_files
from spreadsim.errors import InputError

if TYPE_CHECKING:
    import xarray as xr

# in the order of spreadsim.views.figures, which is loaded only when something is drawn
NAMES = ("site", "outcomes", "differences", "hours", "maps", "changes", "series")


@click.command()
@click.argument("results", type=click.Path(path_type=Path))
@click.option(
    "--what",
    "whats",
    multiple=True,
    type=click.Choice(NAMES),
    metavar="NAME",
    help="site: the map. outcomes: through time, with bands. differences: from no action. hours: by season and task. "
    "maps: where mat stands. changes: where there is less or more of it than with no action. series: the maps as a "
    "moving picture. All if not given.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With one --what, a file: .svg or .pdf for paper, .png or .webp for a screen; a series: .gif, .webp, .png, or "
    ".pdf with a page for each year. Or a folder; figures in RESULTS if not given.",
)
@click.option("--strategy", "strategies", multiple=True, metavar="NAME", help="Which to draw; all if not given.")
@click.option(
    "--year",
    "years",
    multiple=True,
    type=int,
    help="Of maps, changes and series: which to draw. Of hours: from the first to the last. Of differences: which.",
)
@click.option("--pixels", type=click.IntRange(200, 8000), help="Width of a bitmap.")
@units_option
def draw(
    results: Path,
    whats: tuple[str, ...],
    out: Path | None,
    strategies: tuple[str, ...],
    years: tuple[int, ...],
    pixels: int | None,
    units: str | None,
) -> None:
    """Draw figures of RESULTS, a folder that compare wrote, an outcomes.nc or an outcomes.zarr."""
    from spreadsim.analysis.outcomes import check_strategy, strategy_names

    path = outcomes_of(results)
    file = out if out is not None and out.suffix and not out.is_dir() else None
    _check(whats, file, years)
    with spreadsim.open_outcomes(path) as dataset:
        names = tuple(check_strategy(dataset, name, "--strategy") for name in strategies) or strategy_names(dataset)
        wanted = whats or tuple(name for name in NAMES if _can(dataset, name))
        folder = make_folder(file.parent if file else path.parent / "figures" if out is None else out)
        files = []
        with progress_bar("figures") as progress:
            for done, what in enumerate(wanted):
                if callable(progress):
                    progress(done, len(wanted))
                files += _draw(dataset, what, names, years, file, folder, pixels, units)
    say_files("Written" if file else f"Written to {folder}", files)


def _check(whats: tuple[str, ...], file: Path | None, years: tuple[int, ...]) -> None:
    """Say what cannot be, before anything is drawn."""
    from spreadsim.views.figures import FIGURES

    problems = []
    if file is not None and len(whats) != 1:
        problems.append(f"--out: found the file {file} with {len(whats)} --what, allowed with one, or a folder")
    elif file is not None and file.suffix.lower() not in (endings := FIGURES[whats[0]].endings):
        problems.append(f'--out: found the ending "{file.suffix}", allowed {", ".join(endings)} for {whats[0]}')
    for what in whats if years else ():
        if not FIGURES[what].by_year:
            problems.append(f"--year: found {years[0]} with --what {what}, allowed with those that choose years")
    if years and not whats:
        problems.append(f"--year: found {years[0]} without --what, allowed with those that choose years")
    if problems:
        raise InputError(*problems)


def _draw(
    dataset: "xr.Dataset",
    what: str,
    names: tuple[str, ...],
    years: tuple[int, ...],
    file: Path | None,
    folder: Path,
    pixels: int | None,
    units: str | None,
) -> list[str]:
    """Draw one figure on as many pages as it needs; the names of its files."""
    from spreadsim.views.figures import FIGURES, save_figure

    named = FIGURES[what]
    usual = (".gif",) if what == "series" else (".png", ".svg")
    written = []
    for number, page in enumerate(named.pages(dataset, names) or [names], start=1):
        more = {"strategies": page} if what != "site" else {}
        figure = named.draw(dataset, **more, **({"years": years} if years else {}), system=units)
        for suffix in usual if file is None else (file.suffix,):
            stem = what if file is None else file.stem
            path = folder / f"{stem}{'' if number == 1 else f'-{number}'}{suffix}"
            save_figure(figure, path, description=named.description, pixels=pixels)
            written.append(path.name if file is None else str(path))
    return written


def _can(dataset: "xr.Dataset", name: str) -> bool:
    """Whether the dataset has what a figure needs; those that are asked for by name say what is missing."""
    from spreadsim.analysis.outcomes import strategy_names
    from spreadsim.analysis.summary import NO_ACTION

    strategies = strategy_names(dataset)
    compared = NO_ACTION in strategies and len(strategies) > 1
    return {
        "site": "input_experiment" in dataset,
        "differences": compared,
        "hours": "hours" in dataset and any(title for title in dataset["task_name"].to_numpy().ravel()),
        "maps": "occupancy" in dataset,
        "changes": "occupancy" in dataset and compared,
        "series": "occupancy" in dataset,
    }.get(name, True)
