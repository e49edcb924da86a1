"""The texts of a new experiment: its files with comments, and a page that says what is invented."""

from __future__ import annotations

import textwrap

import numpy as np

from spreadsim.inputs.units import ACRE, FOOT, HECTARE
from spreadsim.starting import ground as laid
from spreadsim.starting.invent import OLD, YOUNG, Invented
from spreadsim.starting.numbers import QUESTIONS, Numbers
from spreadsim.starting.strategies import crew_lines, plans, strategy_lines

YEARS, WORLDS = 30, 100
BACKGROUND = 10  # seeds a hectare and year from farther off; assumed
_LEAST_EDGE = 20.0  # m that the site must run along its grid for mat to be put across
_CAUTIONS = (
    "It compares strategies under stated assumptions; it does not forecast a place.",
    "Be sure of the plant before you treat it. Poison ivy climbs too, and it must never be burned.",
    "Herbicide: the label of the product is the law where it is used. Read it, wear what it says, follow local rules, "
    "leave it to licensed people where that is required; keep off water edges and rare plants. No rates are given.",
    "At trees: never pull cut stems down, don't cut into the bark, keep away from dead trees, work in pairs, mind "
    "falling limbs, storms, heat, ticks and nests, and know how an ambulance gets in.",
)


def notice_of(numbers: Numbers) -> str:
    """Say that the site is invented, of which numbers."""
    told = len(numbers.asked & set(QUESTIONS))
    return (
        f"Invented from {told} numbers given and {len(QUESTIONS) - told} assumed: trees, mats and units are not mapped."
    )


def experiment_text(numbers: Numbers, title: str, seed: int) -> str:
    """Give experiment.toml."""
    lines = [
        "# One file says what is compared: the ground, the vine, the people and what they might do.",
        f"# Written by spreadsim new (--seed {seed}); change it as you like. README.md says what was assumed.",
        f"title = {quoted(_title(title))}",
        f"notice = {quoted(notice_of(numbers))}  # shown with results: say here what is mapped by now",
        f"years = {YEARS}",
        f"replicates = {WORLDS}  # random worlds; more of them make differences surer, and take longer",
        f"seed = {seed}",
        f'units = "{numbers.system}"  # "metric": metres, hectares, degrees C; "us": feet, acres, degrees F',
        f'vine = "{numbers.vine}"',
        "",
        "[site]",
        'file = "site.toml"',
        "",
        "[weather]",
        "# Days fit to spray, on average. Only the winter's number was asked for; the others are assumed.",
        f"fit_days = {{ winter = {numbers.spray_days:g}, spring = 6, summer = 8, autumn = 5 }}",
        "",
        "# Who works: hours by season, and what they may do.",
        *crew_lines(numbers),
        "# What is compared. Tasks come in order of priority: hours that one does not need go to the next.",
        *strategy_lines(numbers),
    ]
    return "\n".join(lines).rstrip() + "\n"


def site_text(numbers: Numbers, made: Invented, title: str, seed: int) -> str:
    """Give site.toml."""
    us = numbers.system == "us"
    per = HECTARE / ACRE if us else 1.0
    names = ", ".join(quoted(name) for name in made.ground.unit_names)
    area = numbers.area / (ACRE if us else HECTARE)
    lines = [
        f"# The ground, invented from a few numbers (--seed {seed}). Replace the files by your own as you map them.",
        f"title = {quoted(_title(title))}",
        f"notice = {quoted(notice_of(numbers))}  # the same, on maps",
        f'units = "{numbers.system}"  # of this file and its CSV files',
        'layers = "ground.nc"  # canopy, plantable, mat, access, sensitive and unit on a grid, in metres',
        f"unit_names = [{names}]",
        'hosts = "hosts.csv"  # one line a tree: x and y from the south-west corner; bare, climbing or fruiting',
        *(['sources = "sources.csv"  # planted vine across the boundary'] if len(made.sources) else []),
        f"background_seed = {BACKGROUND / per:.3g}  # seeds {'an acre' if us else 'a hectare'} and year; assumed",
        *_boundary_mat(numbers, made),
        "",
        "# Your own totals: spreadsim check compares the map with them and warns where they are more than 10 % apart.",
        "[totals]",
        f'area = "{area:.6g} {"acre" if us else "ha"}"',
        f'mat_area = "{numbers.mat * area:.6g} {"acre" if us else "ha"}"',
        f"hosts = {numbers.tree_count}",
        f"climbed = {numbers.climbed}  # the fruiting ones included",
        f"fruiting = {numbers.fruiting}",
    ]
    return "\n".join(lines) + "\n"


def readme_text(numbers: Numbers, made: Invented, title: str, seed: int, boundary: str) -> str:
    """Give README.md of the folder."""
    parts = [
        f"# {_title(title)}",
        _wrapped(
            """**This site is invented.** Nobody mapped these trees, mats and units: they were drawn at random so that
            they have the numbers below. It is there to begin with: read the answer as one for a place of this kind,
            then replace the files by your own map."""
        ),
        "## What was given, and what was assumed\n" + _table(numbers, boundary),
        "Assumed besides, without a source:\n" + "\n".join(_wrapped(f"- {text}") for text in _assumed(numbers, made)),
        "## What is compared\n" + "\n".join(_wrapped(f"- **{plan.name}**: {plan.why}") for plan in plans(numbers)),
        "## Next\n"
        "    spreadsim check experiment.toml      # draws the site as it was understood: results/site.png\n"
        "    spreadsim compare experiment.toml    # runs it; the first sentence says where to start, and how sure",
        _wrapped(
            f"""The same numbers with another `--seed` (this one: {seed}) give another site: if the answer changes with
            it, it hangs on where things stand, and a map of your own is worth the walk."""
        ),
        "## Cautions\n" + "\n".join(_wrapped(f"- {text}") for text in _CAUTIONS),
        "Written by spreadsim new.",
    ]
    return "\n\n".join(parts) + "\n"


def _wrapped(text: str) -> str:
    plain = " ".join(text.split())
    return textwrap.fill(plain, 110, subsequent_indent="  " if plain.startswith("- ") else "", break_on_hyphens=False)


def _table(numbers: Numbers, boundary: str) -> str:
    rows = ["| what | value | |", "|---|---|---|"]
    for name, question in QUESTIONS.items():
        outlined = name == "area" and boundary
        value = f"{_said(numbers, name)}, inside {boundary.replace('|', ' ')}" if outlined else _said(numbers, name)
        rows.append(
            f"| {question.text} | {value} | {'given' if name in numbers.asked or outlined else '**assumed**'} |"
        )
    return "\n".join(rows)


def _assumed(numbers: Numbers, made: Invented) -> list[str]:
    """Say what no number was asked for."""
    texts = [
        "mats are closed and lie in lobed patches about trees, two fifths of which began near the edge;",
        "trees stand at random with some room between them, more of them where the canopy is closed;",
        "climbed trees are in the mats or near them, and those of them in the best light fruit;",
        f"fruiting trees have been climbed for {OLD[0]:g} to {OLD[1]:g} years, the others for {YOUNG[0]:g} to "
        f"{YOUNG[1]:g}; the steward knows of all of them;",
        f"units are equal parts of about {laid.UNIT_AREA / HECTARE:g} ha ({laid.UNIT_AREA / ACRE:.0f} acres);",
        "work takes more hours with the way from an entrance in the south: by 0.3 for each 500 m;",
        f"{BACKGROUND} seeds a hectare and year come from farther off;",
        f"cells of the map are {made.ground.outline.cell:.3g} m wide."
        if numbers.system == "metric"
        else f"cells of the map are {made.ground.outline.cell / FOOT:.3g} ft wide.",
    ]
    return [*_of_water(numbers), *_of_neighbours(numbers, made), *texts]


def quoted(text: str) -> str:
    """Give a text as TOML has it."""
    plain = "".join(char if char >= " " and char != "\x7f" else " " for char in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _title(title: str) -> str:
    return " ".join(title.split()) or "A site invented from a few numbers"


def _said(numbers: Numbers, name: str) -> str:
    """Give a number as people read it."""
    us = numbers.system == "us"
    unit, word = (ACRE, "acres") if us else (HECTARE, "ha")
    values = {
        "area": f"{numbers.area / unit:.3g} {word}",
        "canopy": f"{100 * numbers.canopy:.3g} %",
        "trees": f"{numbers.trees * unit:.3g} {'an acre' if us else 'a hectare'}, {numbers.tree_count:,} in all",
        "mat": f"{100 * numbers.mat:.3g} %, {numbers.mat * numbers.area / unit:.3g} {word}",
    }
    plain = getattr(numbers, name)
    return values.get(name, f"{plain:g}" if isinstance(plain, float) else str(plain))


def _of_water(numbers: Numbers) -> list[str]:
    lines = []
    if numbers.protect in ("water", "both"):
        lines.append(
            f"a stream of {laid.STREAM_WIDTH:g} m crosses the site; no herbicide within {laid.KEEP_OFF:g} m of it;"
        )
    if numbers.protect in ("rare plants", "both"):
        lines.append(f"rare plants stand on {100 * laid.RARE_SHARE:g} % of the site, in one place: no herbicide there;")
    return lines


def _of_neighbours(numbers: Numbers, made: Invented) -> list[str]:
    lines = []
    if len(made.sources):
        lines.append(f"{len(made.sources)} gardens beyond the north edge, each worth one fruiting host;")
    if numbers.beyond in ("mat", "both"):
        side, first, last = _stretch(made)
        what = f"mat stands across {last - first:.0f} m of the {side} edge"
        if last <= first:
            what = "no edge runs along the grid, so no mat was put across it: map what stands there"
        lines.append(f"{what};")
    return lines


def _boundary_mat(numbers: Numbers, made: Invented) -> list[str]:
    if numbers.beyond not in ("mat", "both"):
        return []
    side, first, last = _stretch(made)
    if last <= first:
        return ["# Mat stands across the boundary, but no part of the outline runs along the grid to put it."]
    unit = FOOT if numbers.system == "us" else 1.0
    ends = f"from = {first / unit:.1f}, to = {last / unit:.1f}"
    return [f'boundary_mat = [{{ side = "{side}", {ends} }}]  # mat across it; where is assumed']


def _stretch(made: Invented) -> tuple[str, float, float]:
    """Give the side of the grid along which the site runs farthest, and the middle half of that run, m."""
    free, cell = made.ground.free, made.ground.outline.cell
    edges = {"north": free[0], "south": free[-1], "west": free[::-1, 0], "east": free[::-1, -1]}
    side = max(edges, key=lambda name: int(edges[name].sum()))
    places = np.flatnonzero(edges[side])
    if len(places) * cell < _LEAST_EDGE:
        return side, 0.0, 0.0
    first, last = float(places[0]), float(places[-1] + 1)
    quarter = (last - first) / 4
    return side, (first + quarter) * cell, (last - quarter) * cell
