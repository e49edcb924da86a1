"""The command `flips`: where the answer changes."""

import dataclasses
from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say, say_files

_SEED = ("seeds_exported",)
_NAMES = "hours, budget, start, outside-seed, spray, share-fruiting, front-speed, or a place as in a sweep"


@click.command("flips")
@experiment_argument
@click.option("--along", required=True, metavar="WHAT[=LOW:HIGH]", help=f"From left to right: {_NAMES}.")
@click.option("--against", required=True, metavar="WHAT[=LOW:HIGH]", help="From below upwards: likewise.")
@click.option("--steps", type=click.IntRange(2, 64), default=8, show_default=True, help="Values of each.")
@click.option("--replicates", type=click.IntRange(2), default=100, show_default=True, help="Worlds at each point.")
@click.option("--strategy", "strategies", multiple=True, metavar="NAME", help="To choose among; all if not given.")
@click.option(
    "--goals",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A TOML file with a table [goals]; if not given: the experiment's, else least seed leaving the site.",
)
@seed_option
@workers_option
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="The folder results if not given.")
def flips(
    experiment: Path,
    along: str,
    against: str,
    steps: int,
    replicates: int,
    strategies: tuple[str, ...],
    goals: Path | None,
    seed: int | None,
    workers: int | None,
    out: Path | None,
) -> None:
    """Say which strategy of EXPERIMENT wins where, over a grid of two facts that nobody knows for sure."""
    from spreadsim.analysis.flip_words import flip_sentences
    from spreadsim.analysis.own_goals import goals_for
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.planning.axes import read_axis
    from spreadsim.planning.flips import flips as run
    from spreadsim.views.description import fill
    from spreadsim.views.flips_map import flips_alt, flips_map
    from spreadsim.views.style import save

    inputs = spreadsim.read_experiment(experiment)
    sides = [read_axis(inputs, text, steps) for text in (along, against)]
    wanted = goals_for(inputs, goals)
    unused = () if wanted is None else wanted.limits
    if wanted is not None:
        wanted = dataclasses.replace(wanted, limits=(), order=wanted.order if wanted.order or wanted.weights else _SEED)
    folder = make_folder(experiment.parent / "results" if out is None else out)
    with progress_bar("points") as progress:
        grid = run(
            inputs,
            *sides,
            goals=wanted,
            strategies=strategies,
            replicates=replicates,
            seed=seed,
            workers=workers,
            progress=progress,
        )
    sentences = [fill(sentence) for sentence in flip_sentences(grid)]
    if unused:
        words = "; ".join(limit.words(inputs.units) for limit in unused)
        sentences.append(fill(f"Limits do not count on a grid, only the score does; for decide there are: {words}."))
    say("\n\n".join(sentences))
    frame = grid.to_dataframe().reset_index()
    files = [folder / "flips.nc", folder / "flips.csv"]
    with renamed_when_whole(files[1]) as file:
        file.write(frame.to_csv(index=False, lineterminator="\n").encode())
    with renamed_when_whole(files[0]) as file:
        file.write(bytes(grid.to_netcdf(engine="h5netcdf")))
    notice = " ".join(text for text in (inputs.notice,) if text)
    files += save(flips_map(grid, notice=notice), folder, "flips", flips_alt(grid))
    say("")
    say_files(f"Files in {folder}", [path.name for path in files])
