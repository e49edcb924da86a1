"""The command `look`: where to look next for vine that nobody knows of."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

import spreadsim
from spreadsim.cli_options import experiment_argument, seed_option, units_option, workers_option
from spreadsim.cli_screen import make_folder, progress_bar, say

_SHOWN = 20  # pieces on the screen; all are in the file


@click.command("look")
@experiment_argument
@click.option("--hours", type=float, required=True, metavar="HOURS", help="Of looking at hand, of all people together.")
@click.option("--learned", type=click.Path(path_type=Path), metavar="FOLDER", help="What `spreadsim learn` wrote.")
@click.option("--after", type=int, metavar="YEARS", help="Since the map, if nothing is learned; 1 if not given.")
@click.option("--strategy", metavar="NAME", help="The one that stands for the work since the map, if there are more.")
@click.option("--done", type=float, default=1.0, show_default=True, help="Share of the crews' hours that were worked.")
@click.option("--then", default="no action", show_default=True, metavar="NAME", help="What goes on in the years after.")
@click.option("--horizon", type=int, default=5, show_default=True, metavar="YEARS", help="That harm is counted for.")
@click.option("--season", default="winter", show_default=True, metavar="SEASON", help="Of the looking.")
@click.option("--size", type=float, default=50.0, show_default=True, help="Side of a piece of ground, m.")
@click.option("--visit", type=float, default=10.0, show_default=True, help="Least minutes that anybody is sent for.")
@click.option("--goals", type=click.Path(path_type=Path), metavar="FILE", help="A TOML file with a table [goals].")
@click.option("--replicates", type=int, default=200, show_default=True, help="Random worlds.")
@seed_option
@workers_option
@units_option
@click.option("--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="Where the files go.")
def look(
    experiment: Path,
    hours: float,
    learned: Path | None,
    after: int | None,
    strategy: str | None,
    done: float,
    then: str,
    horizon: int,
    season: str,
    size: float,
    visit: float,
    goals: Path | None,
    replicates: int,
    seed: int | None,
    workers: int | None,
    units: str | None,
    out: Path,
) -> None:
    """Say where to look next on EXPERIMENT's site for vine that nobody knows of, by the harm that finding it avoids."""
    from spreadsim.analysis.own_goals import goals_for
    from spreadsim.analysis.sentences import LIMITS
    from spreadsim.guarded import renamed_when_whole
    from spreadsim.learning.next_look.rows import look_table, table_words
    from spreadsim.learning.next_look.words import cautions, first_sentence, other_sentences
    from spreadsim.views.description import fill
    from spreadsim.views.look_map import look_alt, look_map
    from spreadsim.views.style import save
    from spreadsim.views.tables import table

    inputs = spreadsim.read_experiment(experiment)
    wanted = goals_for(inputs, goals)
    system = units or inputs.units
    with progress_bar("runs") as progress:
        found = spreadsim.look_next(
            inputs,
            hours,
            learned=learned,
            after=after,
            strategy=strategy,
            done=done,
            then=then,
            horizon=horizon,
            season=season,
            size=size,
            visit=visit,
            goals=wanted,
            replicates=replicates,
            seed=seed,
            workers=workers,
            progress=progress,
        )
    folder = make_folder(out)
    notices = [found.attrs["notice"]] if found.attrs["notice"] else []
    parts = [*(fill(text) for text in notices), fill(first_sentence(found, system))]
    header, rows = look_table(found, system)
    if rows:
        parts += [table(header, rows[:_SHOWN]), fill(table_words(found))]
        if len(rows) > _SHOWN:
            parts.append(fill(f"{len(rows) - _SHOWN} more pieces that get hours are in look.csv."))
    parts += [fill(text) for text in other_sentences(found)]
    parts.append("Before anyone goes out:\n" + "\n".join(fill(f"- {text}", "  ") for text in cautions(found)))
    parts.append(fill(LIMITS))
    told = "\n\n".join(parts)
    say(told)
    with renamed_when_whole(folder / "look.txt") as file:
        file.write(f"{told}\n".encode())
    for name, frame in _frames(found):
        with renamed_when_whole(folder / name) as file:
            file.write(frame.to_csv(index=False, lineterminator="\n").encode())
    with renamed_when_whole(folder / "look.nc") as file:
        file.write(bytes(found.to_netcdf(engine="h5netcdf")))
    pictures = save(look_map(found, inputs.site, system=system), folder, "look", look_alt(found))
    written = ["look.txt", "look.csv", "look-curve.csv", "look.nc", *(path.name for path in pictures)]
    written += _places(found, inputs.site, folder)
    say(fill(f"\nFiles in {folder}: {', '.join(written)}", "  "))


def _frames(found: Any) -> Iterator[tuple[str, Any]]:
    """Give tables by the names of their files: all pieces in order of going, and the curve."""
    of_piece = [name for name in found.data_vars if found[name].dims == ("piece",)]
    frame = found[of_piece].to_dataframe().reset_index()
    for name in ("harm", "avoided"):
        for measure in found["measure"].values:
            frame[f"{name}_{measure}"] = found[name].sel(measure=measure).to_numpy()
    order = frame["rank"].where(frame["rank"] > 0, len(frame) + 1)
    frame = frame.assign(place=order).sort_values(["place", "rate"], ascending=[True, False], kind="stable")
    yield "look.csv", frame.drop(columns="place")
    yield "look-curve.csv", found[["curve_hours", "curve_avoided", "curve_gain_of_more"]].to_dataframe()


def _places(found: Any, site: Any, folder: Path) -> list[str]:
    """Write the pieces as a GeoPackage, and those to go to as GPX, where the site lies somewhere on earth."""
    from importlib.util import find_spec

    import numpy as np

    from spreadsim.exports.places import export_places, export_points
    from spreadsim.learning.next_look.rows import in_order, place

    if site.crs is None or not all(find_spec(name) for name in ("rasterio", "pyogrio", "shapely", "pyproj")):
        return []
    of_cell = found["piece_of_cell"].to_numpy().ravel()
    rows, cells, points = [], [], []
    for k in range(found.sizes["piece"]):
        one = found.isel(piece=k)
        row = {name: one[name].item() for name in ("unit", "rank", "hours", "chance", "rate", "area", "access")}
        rows.append({"piece": str(one["piece"].item())} | row)
        cells.append(np.flatnonzero(of_cell == k))
    for k in in_order(found):
        one = found.isel(piece=k)
        told = f"look {60 * float(one['hours']):.0f} min; chance of unknown vine {100 * float(one['chance']):.0f} %"
        name = f"{int(one['rank'])} {place(one)}"
        points.append((float(one["piece_x"]), float(one["piece_y"]), name, told))
    export_places(site, {"pieces": ("Polygon", cells, rows)}, folder / "look.gpkg")
    if points:
        export_points(site, points, folder / "look.gpx")
    return ["look.gpkg", *(["look.gpx"] if points else [])]
