"""The command `compare`."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, units_option, workers_option
from spreadsim.cli_screen import complain, make_folder, progress_bar, say
from spreadsim.cli_until import widths_of

if TYPE_CHECKING:
    import xarray as xr

    from spreadsim.inputs.experiment import Experiment
    from spreadsim.runs.until import Until


_FOLLOWING = ("brief.html", "lesson.html", "decide.txt", "decide.csv")  # made of outcomes, by their usual names


@click.command()
@experiment_argument
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds.")
@seed_option
@workers_option
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where results go: the folder results beside the experiment if not given.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted run in the same folder.")
@click.option(
    "--until",
    multiple=True,
    metavar="WIDTH",
    help="Go on until differences are known to this share of no action (0.05), or by outcome: infested_area=500, "
    "fruiting_hosts=5%; or until the best is settled. May be given several times.",
)
@click.option("--until-year", type=int, help="With --until: year whose end counts; the last if not given.")
@click.option("--most", type=click.IntRange(1), help="With --until: number of worlds to stop at; 10000 if not given.")
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler whose workers run it; they must share the folder.")
@click.option("--zarr", is_flag=True, help="Write the outcomes as outcomes.zarr too, beside outcomes.nc.")
@units_option
def compare(
    experiment: Path,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    out: Path | None,
    resume: bool,
    until: tuple[str, ...],
    until_year: int | None,
    most: int | None,
    cluster: str | None,
    zarr: bool,
    units: str | None,
) -> None:
    """Run the strategies of EXPERIMENT over the same worlds and say which did best."""
    from spreadsim.views import report
    from spreadsim.views.description import fill

    widths = widths_of(until, {"--until-year": until_year, "--most": most}, replicates)
    inputs = spreadsim.read_experiment(experiment)
    system = units or inputs.units
    folder = make_folder(experiment.parent / "results" if out is None else out)
    told = ""
    replaced = not resume and (folder / "outcomes.nc").is_file()
    if widths is None:
        dataset = _run(inputs, folder, replicates, seed, workers, resume, cluster)
    else:
        given = {"year": until_year, "most": most, "seed": seed, "workers": workers, "cluster": cluster}
        found = _run_until(inputs, folder, widths, resume, {key: one for key, one in given.items() if one is not None})
        dataset, told = found.outcomes, "\n\n".join(fill(text) for text in found.story(system))
    extra = [spreadsim.export_zarr(dataset, folder / "outcomes.zarr")] if zarr else []
    text = report.findings(dataset, inputs, system=system, story=told)
    say(text)
    files = report.write_files(dataset, inputs, folder, text, system=system) + extra
    if replaced:
        older = _of_older_run(folder)
        still = f"; of the older run still: {', '.join(older)}" if older else ""
        complain(f"the outcomes that {folder} held were replaced{still}")
    say("\n" + report.closing(dataset, inputs, folder, files))


def _run(
    inputs: "Experiment",
    folder: Path,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    resume: bool,
    cluster: str | None,
) -> "xr.Dataset":
    from spreadsim import runs

    before = _written(folder) if resume else None
    with progress_bar() as progress:
        dataset: xr.Dataset = runs.compare(
            inputs,
            replicates=replicates,
            seed=seed,
            workers=workers,
            progress=progress,
            folder=folder,
            resume=resume,
            cluster=cluster,
        )
    if before is not None and _written(folder) == before:
        complain("nothing was left to run: outcomes.nc was whole")
    return dataset


def _run_until(
    inputs: "Experiment", folder: Path, widths: float | dict[str, float | str], resume: bool, given: dict[str, Any]
) -> "Until":
    from spreadsim import runs

    with progress_bar() as progress:
        return runs.compare_until(inputs, widths, folder=folder, resume=resume, progress=progress, **given)


def _of_older_run(folder: Path) -> list[str]:
    """Name the files that other commands made of the outcomes in a folder."""
    return [name for name in _FOLLOWING if (folder / name).exists()]


def _written(folder: Path) -> tuple[int, int] | None:
    """When outcomes.nc was written, and as which file; None without one."""
    try:
        found = (folder / "outcomes.nc").stat()
    except FileNotFoundError:
        return None
    return found.st_mtime_ns, found.st_ino
