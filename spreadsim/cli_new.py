"""The command `new`: from a few numbers to a whole experiment."""

import sys
from pathlib import Path
from typing import Any

import click

from spreadsim.cli_screen import say
from spreadsim.errors import InputError, show


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="", help="Name of the place.")
@click.option(
    "--boundary",
    type=click.Path(path_type=Path),
    help="The outline, to be filled: GeoJSON, GeoPackage, or GPX or KML of a phone that was carried around the site.",
)
@click.option("--vine", help="wintercreeper or english-ivy.")
@click.option("--area", help="Such as 2.5 ha or 40 ac.", metavar="AREA")
@click.option("--canopy", help="Share of the sky that leaves hide, such as 70 %.", metavar="SHARE")
@click.option("--trees", help="Trees that could be climbed: 200/ha, 80/ac.", metavar="DENSITY")
@click.option("--mat", help="Share of the ground under mat, such as 4 %.", metavar="SHARE")
@click.option("--climbed", help="Trees with vine on the trunk.", metavar="NUMBER")
@click.option("--fruiting", help="Those of them that fruit.", metavar="NUMBER")
@click.option("--volunteer-hours", help="Hours a year of volunteers.", metavar="HOURS")
@click.option("--paid-hours", help="Hours a year of staff or a contractor.", metavar="HOURS")
@click.option("--spray", help="Who may use herbicide: nobody, paid, everyone.", metavar="WHO")
@click.option("--spray-days", help="Days in a winter fit to spray.", metavar="DAYS")
@click.option("--protect", help="nothing, water, 'rare plants', both: no herbicide there.", metavar="WHAT")
@click.option("--beyond", help="Vine across the boundary: nothing, gardens, mat, both.", metavar="WHAT")
@click.option(
    "--units", type=click.Choice(["metric", "us"]), help="us: acres, feet and degrees F. Metric if not given."
)
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=1, help="Another seed invents another site; 1.")
@click.option("--yes", is_flag=True, help="Ask nothing: assume what is not given.")
def new(
    folder: Path, title: str, boundary: Path | None, units: str | None, seed: int, yes: bool, **given: str | None
) -> None:
    """Write a whole experiment into FOLDER from a few numbers, with an invented site.

    On a terminal it asks for the numbers that are not given as options; Enter takes the default.
    """
    from spreadsim.inputs.units import ACRE
    from spreadsim.starting.files import refuse_full, write_new
    from spreadsim.starting.invent import invent
    from spreadsim.starting.numbers import read_numbers
    from spreadsim.starting.outline import rectangle
    from spreadsim.starting.words import afterwards

    refuse_full(folder)
    outline = None if boundary is None else _outline(boundary)
    known: dict[str, Any] = dict(given)
    if outline is not None and known.get("area") is not None:
        raise InputError(
            f"--area: found {show(known['area'])}, allowed none beside --boundary, whose outline has "
            f"{outline.area / 1e4:,.3g} ha ({outline.area / ACRE:,.3g} acres)"
        )
    if not yes and on_terminal():
        units = _ask_all(known, units, outline is not None)
    numbers = read_numbers(known, system=units or _system_of(known), area=None if outline is None else outline.area)
    made = invent(numbers, outline or rectangle(numbers.area), seed)
    name = "" if boundary is None else boundary.name
    path = write_new(folder, numbers, made, seed=seed, boundary=name, title=title)
    say(afterwards(path, numbers, made, from_boundary=outline is not None))


def on_terminal() -> bool:
    """Tell whether there is somebody to ask."""
    return sys.stdin.isatty()


def _outline(path: Path) -> Any:
    from spreadsim.inputs.checks import Check
    from spreadsim.starting.outline import inside_boundary

    check = Check(str(path))
    outline = inside_boundary(path, check)
    check.done()
    return outline


def _system_of(known: dict[str, Any]) -> str:
    """Take people who type acres for people who want to read them."""
    from spreadsim.starting.numbers import in_acres

    return "us" if any(in_acres(known.get(name)) for name in ("area", "trees")) else "metric"


def _ask_all(known: dict[str, Any], units: str | None, bounded: bool) -> str:
    """Ask for what was not given, until each answer can be read."""
    from spreadsim.starting.numbers import QUESTIONS

    say("A few numbers about your site; a guess will do. Enter takes what is in brackets.\n")
    system = units or _system_of(known)
    for name in QUESTIONS:
        if known.get(name) is not None or (name == "area" and bounded):
            continue
        if name == "spray_days" and known.get("spray") == "nobody":
            continue
        answer = _ask(name, known, system)
        if answer is not None:
            known[name] = answer
        if name == "area" and units is None:
            system = _system_of(known)
    say("")
    return system


def _ask(name: str, known: dict[str, Any], system: str) -> str | None:
    """Ask one question; None where the default was taken."""
    from spreadsim.errors import InputError
    from spreadsim.starting.numbers import QUESTIONS, read_numbers

    question = QUESTIONS[name]
    usual = question.usual(system)
    if name == "fruiting" and str(known.get("climbed", "")).isdigit():
        usual = str(int(known["climbed"]) // 4)
    choices = f" [{', '.join(question.choices)}]" if question.choices else ""
    click.echo(f"  ({question.help})")
    while True:
        answer = click.prompt(f"{question.text}{choices}", default=usual, type=str).strip()
        answer = _in_full(answer, question.choices)
        try:
            read_numbers({**known, name: answer}, system=system)
        except InputError as error:
            about = [one for one in error.problems if f"--{name.replace('_', '-')}:" in one]
            if about:
                click.echo(f"  {about[0].split(': ', 1)[1]}")
                continue
        return None if answer == usual else answer


def _in_full(answer: str, choices: tuple[str, ...]) -> str:
    """Let the beginning of a choice stand for it."""
    fitting = [choice for choice in choices if answer and choice.startswith(answer.lower())]
    return fitting[0] if len(fitting) == 1 else answer
