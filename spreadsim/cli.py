"""The command line: parse, call one public function, print.

Everything heavy is imported where it is used, so that help and version answer at once.
"""

import contextlib
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

import spreadsim

if TYPE_CHECKING:
    import xarray as xr

    from spreadsim.inputs.experiment import Experiment

DONE, FAILED, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130

_experiment = click.argument("experiment", type=click.Path(path_type=Path))
_units = click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    help="Units to show; those of the experiment if not given.",
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(spreadsim.__version__, prog_name="spreadsim", message="%(prog)s %(version)s")
def cli() -> None:
    """Compare ways of managing a climbing, creeping vine on your own site.

    Write the site, the crews and the strategies into an experiment file, check it, then compare.
    """


@cli.command()
@_experiment
@click.option("--replicates", type=click.IntRange(1), help="Number of random worlds.")
@click.option("--seed", type=click.IntRange(0), help="Another seed gives other worlds.")
@click.option("--workers", type=click.IntRange(1), help="Cores to use; results do not depend on it.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where results go: the folder results beside the experiment if not given.",
)
@click.option("--resume", is_flag=True, help="Go on with an interrupted run in the same folder.")
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler whose workers run it; they must share the folder.")
@_units
def compare(
    experiment: Path,
    replicates: int | None,
    seed: int | None,
    workers: int | None,
    out: Path | None,
    resume: bool,
    cluster: str | None,
    units: str | None,
) -> None:
    """Run the strategies of EXPERIMENT over the same worlds and say which did best."""
    from spreadsim.views import report

    inputs = spreadsim.read_experiment(experiment)
    system = units or inputs.units
    folder = _make_folder(experiment.parent / "results" if out is None else out)
    dataset = _run(inputs, folder, replicates, seed, workers, resume, cluster)
    text = report.findings(dataset, inputs, system=system)
    _say(text)
    files = report.write_files(dataset, inputs, folder, text, system=system)
    _say("\n" + report.closing(dataset, inputs, folder, files))


@cli.command()
@_experiment
@_units
def check(experiment: Path, units: str | None) -> None:
    """Read EXPERIMENT and all its files, and say what is wrong, all of it, without running."""
    from spreadsim.views.description import describe

    inputs = spreadsim.read_experiment(experiment)
    _say(describe(inputs, system=units or inputs.units))
    _say("\nNothing is wrong with it.")


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
