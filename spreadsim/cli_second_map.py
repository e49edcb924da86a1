"""Options of `learn` for a survey that is given as a second map of the site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from spreadsim import Site, Survey

_OPTIONS = (
    click.option("--map", "whole", type=click.Path(path_type=Path), metavar="FILE", help="Survey: a second site file."),
    click.option("--mats", type=click.Path(path_type=Path), metavar="FILE", help="Survey: all mats of a second map."),
    click.option("--hosts", type=click.Path(path_type=Path), metavar="FILE", help="Survey: all climbed hosts of one."),
    click.option(
        "--looked",
        nargs=2,
        type=(str, float),
        multiple=True,
        metavar="GROUND HOURS",
        help='Of a second map: a unit, "everywhere" or a file of outlines, and hours of all people together.',
    ),
)


def second_map_options(command: Any) -> Any:
    """Add the options to a command."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def survey_given(
    site: Site,
    survey: Path | None,
    whole: Path | None,
    mats: Path | None,
    hosts: Path | None,
    looked: tuple[tuple[str, float], ...],
    **reading: Any,
) -> Survey:
    """Read the survey, from records or as a second map.

    Parameters
    ----------
    site
        The first map.
    survey, whole, mats, hosts
        Files; one of the first two, or any of the last two.
    looked
        Grounds and hours of a second map.
    reading
        As for `read_survey`: ``name``, ``sheet``, ``units``.

    Raises
    ------
    InputError
        Where no file is given or several that exclude each other, and for what is wrong with them.
    """
    from spreadsim import read_survey
    from spreadsim.errors import InputError
    from spreadsim.learning.second_files import read_second
    from spreadsim.learning.second_map import survey_of_map

    given = {"--survey": survey, "--map": whole, "--mats or --hosts": mats or hosts}
    said = [name for name, path in given.items() if path is not None]
    if len(said) != 1:
        found = " and ".join(said) or "no survey"
        raise InputError(f"survey: found {found}, allowed one of --survey, --map, --mats with or without --hosts")
    if survey is not None:
        if looked:
            raise InputError("--looked: found it beside --survey, allowed with a second map; records say theirs")
        return read_survey(survey, **reading)
    if looked and hosts is not None and mats is None:
        allowed = "--mats too: where people looked, mat that is not on the second map was not there"
        raise InputError(f"--looked: found it with --hosts and no --mats, allowed {allowed}")
    hours: dict[str, float] = {}
    for name, one in looked:
        hours[name] = hours.get(name, 0.0) + one
    second = read_second(site, whole, mats=mats, hosts=hosts, units=reading["units"])
    return survey_of_map(site, second, hours, path=str(whole or mats or hosts))
