"""The command `template`: a spreadsheet to fill in."""

from pathlib import Path

import click

from spreadsim.cli_options import degrees_option, feet_option
from spreadsim.cli_screen import say


@click.command("template")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE.xlsx")
@feet_option
@degrees_option
def template(file: Path, feet: bool, degrees: bool) -> None:
    """Write a spreadsheet to fill in: mats, climbed hosts, crews and hours.

    Each sheet has headings, a row that explains them and an example, which is passed over when it is read.
    """
    from spreadsim.starting.template import write_template

    path = write_template(file, feet=feet, degrees=degrees)
    lines = [
        f"{path}: fill in its sheets from row 4 on; a sheet that you don't need stays empty.",
        "Put it beside your files, and name it in them:",
        f'  in the site:        mats = "{path.name}"',
        f'                      hosts = "{path.name}"',
        f'  in the experiment:  crews = "{path.name}"  (in place of [[crews]])',
    ]
    if degrees:
        lines += [
            "So that places in degrees can be found, the site also says where its south-west corner lies:",
            "                      corner = [longitude, latitude]",
        ]
    say("\n".join(lines))
