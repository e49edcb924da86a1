"""What is said after a new experiment was written: what it is, and what to type next."""

from __future__ import annotations

import shlex
from pathlib import Path

from spreadsim.inputs.units import ACRE, HECTARE
from spreadsim.starting.invent import Invented
from spreadsim.starting.numbers import QUESTIONS, Numbers


def afterwards(path: Path, numbers: Numbers, made: Invented, *, from_boundary: bool) -> str:
    """Say what was written, what of it is assumed, and the exact next commands.

    Parameters
    ----------
    path : Path
        experiment.toml.
    numbers : Numbers
        What was asked.
    made : Invented
        The site.
    from_boundary : bool
        Whether the area is that of a boundary.

    Returns
    -------
    str
        Lines of at most 80 characters, but for paths.
    """
    us = numbers.system == "us"
    unit, word = (ACRE, "acres") if us else (HECTARE, "ha")
    states = made.hosts["state"]
    lines = [
        f"Wrote {path.parent}: an invented site of {numbers.area / unit:.3g} {word} with {len(states):,} trees,",
        f"{int((states != 'bare').sum()):,} climbed, {int((states == 'fruiting').sum()):,} of these fruiting, "
        f"and {numbers.mat * numbers.area / unit:.2g} {word} of mat, in {_units(made)}.",
    ]
    assumed = [q.text for name, q in QUESTIONS.items() if name not in numbers.asked]
    if from_boundary:
        assumed = [text for text in assumed if text != QUESTIONS["area"].text]
    if assumed:
        lines += ["", "Assumed, since nothing was said of it (an option of each name changes it):"]
        lines += [f"  - {text}" for text in assumed]
    name = shlex.quote(str(path))
    lines += [
        "",
        "Next, look at the site as it was understood, then compare:",
        f"  spreadsim check {name}",
        f"  spreadsim compare {name}",
    ]
    return "\n".join(lines)


def _units(made: Invented) -> str:
    count = len(made.ground.unit_names)
    return f"{count} unit{'' if count == 1 else 's'}"
