"""The command `learn`: what a new survey says of the parameters, and where vine stands today."""

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, feet_option, seed_option, units_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say
from spreadsim.cli_second_map import second_map_options, survey_given

if TYPE_CHECKING:
    from spreadsim import Experiment
    from spreadsim.log import Log


@click.command("learn")
@experiment_argument
@click.option("--survey", type=click.Path(path_type=Path), metavar="FILE", help="The new survey: records.")
@second_map_options
@click.option("--strategy", metavar="NAME", help="The one that stands for the work that was done, if there are more.")
@click.option("--done", type=float, default=1.0, show_default=True, help="Share of the crews' hours that were worked.")
@click.option("--without-log", is_flag=True, help="Leave the log beside EXPERIMENT alone; go by --strategy and --done.")
@click.option("--since", metavar="DATE", help="Of the map, if the site names no survey with dates.")
@click.option("--date", "on", metavar="DATE", help="Of the new survey, if its records have none.")
@click.option("--everywhere", is_flag=True, help="Visits that name neither unit nor plots went over the whole site.")
@click.option("--only-new", is_flag=True, help="The survey notes only vine that nobody knew of, not all that was met.")
@click.option("--lacked-patches", nargs=2, type=float, help="Fewest and most patches that the map may have lacked.")
@click.option("--lacked-hosts", nargs=2, type=float, help="Fewest and most climbed hosts that it may have lacked.")
@click.option("--model-error", type=float, default=0.2, show_default=True, help="How far off a world's numbers may be.")
@click.option("--hours-per-hectare", type=float, help="Of visits that say an area looked at and no hours.")
@click.option("--species", metavar="NAME", help="Whose records are wanted, if the survey has several.")
@click.option("--sheet", metavar="NAME", help="Of a spreadsheet.")
@feet_option
@click.option("--replicates", type=click.IntRange(20), default=5000, show_default=True, help="Random worlds.")
@seed_option
@workers_option
@units_option
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="Where the files go.")
def learn(
    experiment: Path,
    survey: Path | None,
    whole: Path | None,
    mats: Path | None,
    hosts: Path | None,
    looked: tuple[tuple[str, float], ...],
    strategy: str | None,
    done: float,
    without_log: bool,
    since: str | None,
    on: str | None,
    everywhere: bool,
    only_new: bool,
    lacked_patches: tuple[float, float] | None,
    lacked_hosts: tuple[float, float] | None,
    model_error: float,
    hours_per_hectare: float | None,
    species: str | None,
    sheet: str | None,
    feet: bool,
    replicates: int,
    seed: int | None,
    workers: int | None,
    units: str | None,
    out: Path,
) -> None:
    """Learn from a new survey of EXPERIMENT's site: ranges before and after, and a map of where vine stands."""
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.learning.folder import LEARNED_FILE, START_FILE
    from spreadsim.learning.words import FIT_HEADER, RANGE_HEADER, as_read, fit_rows, learned_sentences, range_rows
    from spreadsim.views.description import fill
    from spreadsim.views.learned_map import learned_alt, learned_map
    from spreadsim.views.style import save
    from spreadsim.views.tables import table

    inputs = spreadsim.read_experiment(experiment)
    log = None if without_log else _log_of(inputs, strategy, done)
    reading = {"name": species, "sheet": sheet, "units": "us" if feet else "metric"}
    records = survey_given(inputs.site, survey, whole, mats, hosts, looked, **reading)
    system = units or inputs.units
    said: dict[str, Any] = {
        "strategy": strategy,
        "done": done,
        "log": log,
        "since": since,
        "on": on,
        "everywhere": everywhere or "everywhere" in dict(looked),
        "only_new": only_new,
        "overlooked_patches": lacked_patches,
        "overlooked_hosts": lacked_hosts,
        "model_error": model_error,
        "hours_per_hectare": hours_per_hectare,
    }
    with progress_bar() as progress:
        learned = spreadsim.learn(
            inputs,
            records,
            **said,
            replicates=replicates,
            seed=seed,
            workers=workers,
            progress=progress,
        )
    start = spreadsim.start_of(inputs, records, learned, workers=workers, **said)
    folder = make_folder(out)
    if log is not None:
        say(fill(f"The work is that of the log beside {experiment}: {len(log.counting):,} lines.") + "\n")
    notices = [learned.attrs["notice"]] if learned.attrs["notice"] else []
    say(
        "\n\n".join(
            fill(text) for text in (*notices, as_read(records), *learned_sentences(learned, inputs.site, system=system))
        )
    )
    for title, header, rows in (
        ("Parameters that moved, 90 % ranges", RANGE_HEADER, range_rows(learned)),
        ("Found and expected, 90 % ranges", FIT_HEADER, fit_rows(learned)),
    ):
        if rows:
            say(f"\n{title}\n{table(header, rows)}")
    written = []
    frames = {
        "ranges.csv": learned[["range_before", "range_after", "range_error"]],
        "parameters.csv": learned[["moved", "learned"]],
        "found.csv": learned[["observed", "chance_before", "chance_after"]],
        "weights.csv": learned["weight"].to_dataset(),
    }
    for name, part in frames.items():
        with renamed_when_whole(folder / name) as file:
            file.write(part.to_dataframe().reset_index().to_csv(index=False, lineterminator="\n").encode())
        written.append(name)
    with renamed_when_whole(folder / LEARNED_FILE) as file:
        file.write(bytes(learned.to_netcdf(engine="h5netcdf")))
    written.append(spreadsim.write_start(start, folder / START_FILE).name)
    pictures = save(learned_map(learned, inputs.site, system=system), folder, "learned", learned_alt(learned))
    written += [LEARNED_FILE, *(path.name for path in pictures)]
    say(fill(f"\nFiles in {folder}: {', '.join(written)}", "  "))
    again = f"spreadsim again {shlex.quote(str(experiment))} --learned {shlex.quote(str(folder))} --out FOLDER"
    say(f"\nPlan again from here, and see whether you are ahead:\n  {again}")


def _log_of(inputs: "Experiment", strategy: str | None, done: float) -> "Log | None":
    """Give the log that lies beside the experiment, if there is one with lines."""
    from spreadsim.errors import InputError
    from spreadsim.log.kept import folder_of

    if inputs.path is None:  # read from outcomes, beside which no log is
        return None
    log = spreadsim.read_log(inputs)
    if not log.entries:
        return None
    if strategy is not None or done != 1.0:
        given = f"--strategy {strategy}" if strategy is not None else f"--done {done:g}"
        found = f"{given}, and a log of what was really worked, {folder_of(inputs)}"
        raise InputError(f"--strategy: found {found}, allowed one of them: --without-log leaves the log alone")
    return log
