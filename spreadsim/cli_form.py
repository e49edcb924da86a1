"""The command `form`: a page to print and take into the field."""

from pathlib import Path

import click

from spreadsim.cli_options import degrees_option, feet_option
from spreadsim.cli_screen import say


@click.command("form")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.html")
@click.option("--site", default="", metavar="NAME", help="Name of the site, at the top of the page.")
@feet_option
@degrees_option
def form(file: Path, site: str, feet: bool, degrees: bool) -> None:
    """Write a one-page form to print: where you looked, mats, climbed hosts, crews and hours.

    It has the columns of the spreadsheet that `spreadsim template` writes, to type it into.
    """
    from spreadsim.starting.form import write_form

    path = write_form(file, site=site, feet=feet, degrees=degrees)
    options = " --feet" * feet + " --degrees" * degrees
    say(f"{path}: open it in a browser and print it, one page on A4 or letter paper.")
    say(f"To type it in: spreadsim template survey.xlsx{options}")
