"""The command `export`: outcomes for other programs."""

from pathlib import Path

import click

import spreadsim
from spreadsim.cli_options import outcomes_of
from spreadsim.cli_screen import make_folder, say

_KINDS = ("tables", "maps", "ground", "zarr")
_USUAL = ("tables", "maps", "ground")


@click.command("export")
@click.argument("results", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Where files go: export in RESULTS if not given.",
)
@click.option(
    "--what",
    "kinds",
    multiple=True,
    type=click.Choice(_KINDS),
    help="Tables (CSV), maps (GeoTIFF), ground (GeoPackage of hosts, units and likely mat); "
    "these three if not given. zarr: all outcomes as outcomes.zarr.",
)
@click.option("--strategy", "strategies", multiple=True, metavar="NAME", help="Of maps and ground; all if not given.")
@click.option("--year", "years", multiple=True, type=int, help="Of maps and ground; start and last if not given.")
@click.option(
    "--share",
    type=click.FloatRange(0, 1, min_open=True),
    default=0.5,
    show_default=True,
    help="Ground has likely mat where at least this share of the worlds has.",
)
def export(
    results: Path,
    out: Path | None,
    kinds: tuple[str, ...],
    strategies: tuple[str, ...],
    years: tuple[int, ...],
    share: float,
) -> None:
    """Write RESULTS, a folder that compare wrote, an outcomes.nc or an outcomes.zarr, as files for other programs."""
    from spreadsim.analysis.outcomes import check_strategy, check_year, first_year, strategy_names
    from spreadsim.exports import TABLES, export_ground, export_map, export_table, export_zarr, map_names
    from spreadsim.views.description import fill

    path = outcomes_of(results)
    kinds = kinds or _USUAL
    files: list[Path] = []
    with spreadsim.open_outcomes(path) as dataset:
        names = [check_strategy(dataset, name, "--strategy") for name in strategies] or list(strategy_names(dataset))
        labels = [check_year(dataset, year) for year in years or (first_year(dataset), -1)]
        folder = make_folder(path.parent / "export" if out is None else out)
        if "tables" in kinds:
            files += [export_table(dataset, folder / f"{name}.csv", name) for name in TABLES]
        if "zarr" in kinds:
            files.append(export_zarr(dataset, folder / "outcomes.zarr"))
        for number, strategy in enumerate(strategy_names(dataset)):
            for year in labels if strategy in names else ():
                # a strategy's name may hold signs that no file may
                at = f"strategy-{number}-year-{year}"
                if "maps" in kinds:
                    for name in map_names(dataset):
                        where = folder / f"{name}-{at}.tif"
                        files.append(export_map(dataset, where, name, strategy=strategy, year=year))
                if "ground" in kinds:
                    where = folder / f"ground-{at}.gpkg"
                    files.append(export_ground(dataset, where, strategy=strategy, year=year, share=share))
        told = [
            fill(f"  strategy-{number}: {name}", "    ")
            for number, name in enumerate(strategy_names(dataset))
            if name in names
        ]
    say(f"{len(files)} {'file' if len(files) == 1 else 'files'} in {folder}")
    if {"maps", "ground"} & set(kinds):
        say("\n".join(["Strategies by the numbers in the names of files:", *told]))
