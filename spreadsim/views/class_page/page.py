"""The class page and its handout as text: what the templates are filled with."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from markupsafe import Markup

from spreadsim.analysis.sentences import LIMITS, trust
from spreadsim.errors import InputError
from spreadsim.inputs import Experiment, units
from spreadsim.schema import SEASONS
from spreadsim.views.class_page.averages import averages, shown_area
from spreadsim.views.class_page.changes import as_text, numbers
from spreadsim.views.class_page.reel import Reel, blocks, coarseness
from spreadsim.views.class_page.sketch import sketch
from spreadsim.views.class_page.steps import choose_steps
from spreadsim.views.class_page.words import OUTCOMES, STEPS, cautions, shows
from spreadsim.views.description import brief_cautions, notices, used_treatments
from spreadsim.views.pages import hash_of, templates

MOST_BYTES = 5_000_000
_HERE = Path(__file__).parent
_SCRIPTS = ("unpack", "world", "draw", "chart", "votes", "main")
_BARRIER = 255
_PLACE_STEPS = 16  # places of hosts are sent in sixteenths of a cell
_AREAS = ("mat_area", "unknown_area")


def class_page(experiment: Experiment, outcomes: xr.Dataset, reels: Sequence[Reel], *, system: str = "metric") -> str:
    """Make the class page: one HTML file that needs nothing else.

    Parameters
    ----------
    experiment
        What was compared.
    outcomes
        What `compare` returned, for the averages and the cautions about trust.
    reels
        One for each strategy of `films_wanted`, all of the same replicates.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        At most `MOST_BYTES` in UTF-8; runs of luck are left out from the last, until it fits.

    Raises
    ------
    InputError
        A single run of luck does not fit.
    """
    for lucks in range(len(reels[0].replicates), 0, -1):
        text = _page(experiment, outcomes, reels, lucks, system)
        if len(text.encode()) <= MOST_BYTES:
            return text
    raise InputError(
        f"class page: found {len(text.encode()) / 1e6:.1f} MB for one run of luck of {len(reels)} strategies over "
        f"{experiment.years - experiment.first_year} years, allowed 5 MB; fewer strategies or years make it smaller"
    )


def handout(experiment: Experiment, *, system: str = "metric") -> str:
    """Make the handout: one page to print, with the ground as it is, the questions, and what to do at home."""
    steps, _ = choose_steps(experiment)
    return _render(
        "handout.html",
        style=_source("handout.css"),
        title=experiment.title,
        site=experiment.site.title or experiment.title,
        notices=notices(experiment),
        map=sketch(experiment.site),
        when="As it was mapped" if experiment.first_year else "At the start",
        scale=_scale(experiment, system),
        questions=[STEPS[step.key].question for step in steps if step.key not in ("vote", "home")],
        cautions=brief_cautions(experiment),
        limits=LIMITS,
    )


def _page(experiment: Experiment, outcomes: xr.Dataset, reels: Sequence[Reel], lucks: int, system: str) -> str:
    script = Markup('(() => {\n"use strict";\n' + "\n".join(_source(f"{name}.js") for name in _SCRIPTS) + "})();\n")
    steps, missing = choose_steps(experiment)
    about = _about(experiment, outcomes, reels, lucks, system)
    parts = [json.dumps(about, separators=(",", ":")).encode(), *_ground(experiment)]
    parts += [part for reel in reels for one in reel.parts[:lucks] for part in one]
    worlds = f"{outcomes.sizes['replicate']:,}"
    version = outcomes.attrs.get("version", "")
    return _render(
        "lesson.html",
        script=script,
        script_hash=hash_of(script),
        style=_source("lesson.css"),
        title=experiment.title,
        site=experiment.site.title or experiment.title,
        notices=notices(experiment),
        worlds=worlds,
        scale=_scale(experiment, system),
        cautions=cautions(used_treatments(experiment)),
        steps=[STEPS[step.key] for step in steps],
        missing=[(STEPS[key].tab, reason) for key, reason in missing.items()],
        limits=f"{LIMITS} {trust(outcomes)}".strip(),
        made=f"Made by spreadsim {version} from {worlds} runs of luck, seed {experiment.seed}.",
        film=as_text(parts),
    )


def _about(
    experiment: Experiment, outcomes: xr.Dataset, reels: Sequence[Reel], lucks: int, system: str
) -> dict[str, Any]:
    by_name = {reel.strategy: reel for reel in reels}
    factor, unit = shown_area(system)
    side = coarseness(experiment.site.ny, experiment.site.nx)
    path = []
    for step in choose_steps(experiment)[0]:
        words = STEPS[step.key]
        path.append(
            {name: getattr(words, name) for name in _WORDS}
            | {name: getattr(step, name) for name in ("key", "left", "right", "years")}
            | {"shows": shows(step, by_name, system)[:lucks], "hides": step.key == "return"}
        )
    return {
        "nx": -(-experiment.site.nx // side),
        "ny": -(-experiment.site.ny // side),
        "years": experiment.years - experiment.first_year,
        "first": experiment.first_year,
        "lucks": lucks,
        "seasons": SEASONS,
        "strategies": [reel.strategy for reel in reels],
        "outcomes": {name: {"name": told, "unit": unit if name in _AREAS else ""} for name, told in OUTCOMES.items()},
        "series": [[_series(one, factor) for one in reel.series[:lucks]] for reel in reels],
        "averages": averages(outcomes, factor),
        "steps": path,
        "made": f"{experiment.title} {experiment.seed}",
    }


_WORDS = ("tab", "question", "watch", "options", "rounds", "charts", "minutes", "teacher")


def _series(series: Mapping[str, Any], factor: float) -> dict[str, list[int]]:
    return {
        name: np.rint(values * (factor if name in _AREAS else 1.0)).astype(int).tolist()
        for name, values in series.items()
    }


def _ground(experiment: Experiment) -> list[bytes]:
    """Barriers and canopy by cell of the page; where hosts stand, east and down."""
    site = experiment.site
    side = coarseness(site.ny, site.nx)
    cells = blocks(np.ones(site.mat.shape), side, np.add)
    open_ground = blocks((site.plantable > 0).astype("f8"), side, np.add) / cells
    canopy = blocks(site.canopy.astype("f8"), side, np.add) / cells
    code = np.where(open_ground < 0.5, _BARRIER, np.rint(np.clip(canopy, 0.0, 1.0) * 15)).astype("u1")
    pixel = side * site.cell_size / _PLACE_STEPS
    down = site.height - site.hosts.y
    places = [numbers(np.rint(values / pixel).astype("u8")) for values in (site.hosts.x, down)]
    return [code.tobytes(), *places]


def _scale(experiment: Experiment, system: str) -> str:
    width, unit = units.display(experiment.site.width, "length", system)
    height, _ = units.display(experiment.site.height, "length", system)
    return f"the map is {width:,.0f} {unit} by {height:,.0f} {unit}"


def _source(name: str) -> Markup:
    """One of our own files, as it is."""
    return Markup((_HERE / name).read_text(encoding="utf-8"))


def _render(name: str, *, style: Markup, **values: Any) -> str:
    page = templates(_HERE, keep_trailing_newline=True).get_template(name)
    return page.render(style=style, style_hash=hash_of(style), **values)
