"""Arguments and options that several commands share."""

from pathlib import Path

import click

OUTCOMES_FILE = "outcomes.nc"


def outcomes_of(results: Path) -> Path:
    """Give what RESULTS names: a folder of results holds outcomes.nc; a Zarr store is a folder itself."""
    return results / OUTCOMES_FILE if results.is_dir() and not (results / "zarr.json").exists() else results


experiment_argument = click.argument("experiment", type=click.Path(path_type=Path))
units_option = click.option(
    "--units",
    type=click.Choice(["metric", "us"]),
    help="Units to show; those of the experiment if not given.",
)
seed_option = click.option("--seed", type=click.IntRange(0), help="Another seed gives other worlds.")
workers_option = click.option("--workers", type=click.IntRange(1), help="Cores to use; results do not depend on it.")
feet_option = click.option("--feet", is_flag=True, help="Lengths in feet, not metres.")
degrees_option = click.option("--degrees", is_flag=True, help="Places as longitude and latitude, not x and y.")
