"""The command line: parse, call one public function, print.

Everything heavy is imported where it is used, so that help and version answer at once.
"""

import contextlib
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import spreadsim
from spreadsim import cli_lesson

if TYPE_CHECKING:
    import xarray as xr

    from spreadsim.inputs.experiment import Experiment
    from spreadsim.runs.until import Until

DONE, FAILED, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130

_experiment = click.argument("experiment", type=click.Path(path_type=Path))
_units = click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    help="Units to show; those of the experiment if not given.",
)
_seed = click.option("--seed", type=click.IntRange(0), help="Another seed gives other worlds.")
_workers = click.option("--workers", type=click.IntRange(1), help="Cores to use; results do not depend on it.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(spreadsim.__version__, prog_name="spreadsim", message="%(prog)s %(version)s")
def cli() -> None:
    """Compare ways of managing a climbing, creeping vine on your own site.

    Write the site, the crews and the strategies into an experiment file, check it, then compare.
    """


@cli.command()
@_experiment
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds.")
@_seed
@_workers
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
@_units
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
    units: str | None,
) -> None:
    """Run the strategies of EXPERIMENT over the same worlds and say which did best."""
    from spreadsim.cli_until import widths_of
    from spreadsim.views import report
    from spreadsim.views.description import fill

    widths = widths_of(until, {"--until-year": until_year, "--most": most}, replicates)
    inputs = spreadsim.read_experiment(experiment)
    system = units or inputs.units
    folder = _make_folder(experiment.parent / "results" if out is None else out)
    told = ""
    if widths is None:
        dataset = _run(inputs, folder, replicates, seed, workers, resume, cluster)
    else:
        given = {"year": until_year, "most": most, "seed": seed, "workers": workers, "cluster": cluster}
        found = _run_until(inputs, folder, widths, resume, {key: one for key, one in given.items() if one is not None})
        dataset, told = found.outcomes, "\n\n".join(fill(text) for text in found.story(system)) + "\n\n"
    text = told + report.findings(dataset, inputs, system=system)
    _say(text)
    files = report.write_files(dataset, inputs, folder, text, system=system)
    _say("\n" + report.closing(dataset, inputs, folder, files))


@cli.command()
@_experiment
@_units
def check(experiment: Path, units: str | None) -> None:
    """Read EXPERIMENT and all its files, and say what is wrong, all of it, without running."""
    from spreadsim.inputs import bind, find_design
    from spreadsim.views.description import describe

    inputs = spreadsim.read_experiment(experiment)
    design = find_design(experiment)
    _say(describe(inputs, system=units or inputs.units))
    if design is not None:
        names = ", ".join(factor.name for factor in design.factors)
        _say(f"\nSweep: {design.kind}, {len(bind(inputs, design)):,} points, of {names}")
    _say("\nNothing is wrong with it.")


@cli.command()
@_experiment
@click.option(
    "--design",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="File with the table [sweep]; that of EXPERIMENT if not given.",
)
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds at every point.")
@_seed
@_workers
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler whose workers run the points.")
@click.option(
    "--outcome", "outcomes", multiple=True, metavar="NAME", help="Outcome to keep, several times; all if not given."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where sweep.nc goes: the folder results beside the experiment if not given.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted sweep in the same folder.")
@_units
def sweep(
    experiment: Path,
    design: Path | None,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    cluster: str | None,
    outcomes: tuple[str, ...],
    out: Path | None,
    resume: bool,
    units: str | None,
) -> None:
    """Run the strategies of EXPERIMENT at every point of a design, all in the same worlds."""
    inputs = spreadsim.read_experiment(experiment)
    chosen = spreadsim.read_design(experiment if design is None else design)
    folder = _make_folder(experiment.parent / "results" if out is None else out)
    from spreadsim import runs
    from spreadsim.views.sweep_table import sweep_tables

    with _progress() as progress:
        dataset = runs.sweep(
            inputs,
            chosen,
            replicates=replicates,
            seed=seed,
            workers=workers,
            cluster=cluster,
            folder=folder,
            resume=resume,
            progress=progress,
            outcomes=outcomes or None,
        )
    _say(sweep_tables(dataset, system=units or inputs.units))
    _say(f"\nAll of it: {folder / runs.SWEEP_FILE}")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments
        Without the name of the program; those of the process if not given.

    Returns
    -------
    int
        0 done, 1 the machine failed, 2 the input is bad, 130 interrupted.
    """
    from spreadsim.errors import InputError

    try:
        code = cli.main(args=arguments, prog_name="spreadsim", standalone_mode=False)
        return code if isinstance(code, int) else DONE
    except InputError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except (click.Abort, KeyboardInterrupt):
        _complain("interrupted; what was finished is kept, --resume goes on from there")
        return INTERRUPTED
    except click.ClickException as error:
        error.show()
        return BAD_INPUT
    except (OSError, MemoryError) as error:
        what = " ".join(str(error).split()) or type(error).__name__
        _complain(f"the machine failed: {what}; what was finished is kept, --resume goes on from there")
        return FAILED


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
    with _progress() as progress:
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
        _complain("nothing was left to run: outcomes.nc was whole")
    return dataset


def _run_until(
    inputs: "Experiment", folder: Path, widths: float | dict[str, float | str], resume: bool, given: dict[str, Any]
) -> "Until":
    from spreadsim import runs

    with _progress() as progress:
        return runs.compare_until(inputs, widths, folder=folder, resume=resume, progress=progress, **given)


def _written(folder: Path) -> tuple[int, int] | None:
    """When outcomes.nc was written, and as which file; None without one."""
    try:
        found = (folder / "outcomes.nc").stat()
    except FileNotFoundError:
        return None
    return found.st_mtime_ns, found.st_ino


@contextlib.contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | bool]:
    """Show how far a run is, on a terminal only; a pipe gets nothing."""
    if not sys.stderr.isatty():
        yield False
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("worlds"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("worlds", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def _make_folder(folder: Path) -> Path:
    from spreadsim.errors import InputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise InputError(f"--out: found the file {error.filename}, allowed a folder") from error
    return folder


def _say(text: str) -> None:
    """Print; when the reader has gone away (a closed pipe) the work goes on in silence."""
    try:
        print(text, flush=True)
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115


def _complain(text: str) -> None:
    print(f"spreadsim: {text}", file=sys.stderr)


cli.add_command(cli_lesson.command(_progress, _say))
