"""Answers to stewards' questions on the terminal, as CSV, and the units by year of entry as a map."""

import textwrap
from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from spreadsim.analysis.answer import NEVER, Answer, entry_words
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.site import Site
from spreadsim.views.description import WIDTH, fill
from spreadsim.views.scale_bar import draw_scale_bar
from spreadsim.views.site_map import key_of, lay_site, name_units
from spreadsim.views.style import RC, put_title
from spreadsim.views.tables import table

_PALE = 0.55  # how far colours go towards white, so that what lies on them is seen


def answer_text(answer: Answer, notices: Sequence[str] = ()) -> str:
    """Give the answer, its table, what it rests on and what must be said, in lines of at most 80 characters."""
    parts = [fill(answer.sentence)]
    if answer.rows:
        parts.append(_narrow(list(answer.head), [list(row) for row in answer.rows]))
    worlds, confidence = answer.table.attrs["worlds"], answer.table.attrs["confidence"]
    notes = [*answer.notes, f"From {worlds:,} worlds; intervals at {100 * confidence:g} %."]
    notes.append("It compares strategies under stated assumptions; it does not forecast a place.")
    return "\n\n".join([*parts, fill(" ".join(notes)), *(fill(notice) for notice in notices)])


def write_answer(answer: Answer, folder: Path, name: str, notices: Sequence[str] = ()) -> list[Path]:
    """Write the numbers as CSV and the words as text.

    Returns
    -------
    list of pathlib.Path
        What was written.
    """
    frame = answer.table.to_dataframe().reset_index()
    texts = {
        f"{name}.csv": frame.to_csv(index=False, lineterminator="\n"),
        f"{name}.txt": answer_text(answer, notices) + "\n",
    }
    for file_name, text in texts.items():
        with renamed_when_whole(folder / file_name) as file:
            file.write(text.encode())
    return [folder / file_name for file_name in texts]


def entry_map(entries: xr.Dataset, site: Site, *, system: str = "metric", notice: str = "") -> Figure:
    """Draw the units by year of entry.

    Parameters
    ----------
    entries
        Table of `planning.questions.unit_to_leave`.
    site
        With the same units.
    system
        Units of the scale bar, "metric" or "us".
    notice
        What must be said above it.

    Returns
    -------
    matplotlib.figure.Figure
        Darker units are entered sooner; each is named with its year.
    """
    names = [str(name) for name in entries["unit"].values]
    years = [int(year) for year in entries["entry"].values]
    place = {year: at for at, year in enumerate(sorted({year for year in years if year != NEVER}))}
    colours = {year: _colour(at, len(place)) for year, at in place.items()} | {NEVER: "#ffffff"}
    height = float(np.clip(8.0 * site.height / site.width, 3.6, 11.0))
    with mpl.rc_context({**RC, "axes.grid": False}):
        figure = Figure(figsize=(11.5, height + 1.9), layout="constrained")
        axes = figure.add_subplot()
        lay_site(axes, site, False)
        _paint(axes, site, dict(zip(names, (colours[year] for year in years), strict=True)))
        name_units(axes, site, {name: entry_words(year) for name, year in zip(names, years, strict=True)})
        axes.set(xticks=[], yticks=[], xlim=(0, site.width), ylim=(0, site.height))
        axes.set_aspect("equal", anchor="NW")
        for spine in axes.spines.values():
            spine.set_visible(False)
        draw_scale_bar(axes, site.width, system)
        order = [*place, *([NEVER] if NEVER in years else [])]
        figure.legend(
            handles=[
                *(Patch(fc=colours[year], ec="#444444", label=f"enter {entry_words(year)}") for year in order),
                *(
                    one for one in key_of(site, False) if not str(one.get_label()).startswith("seed source")
                ),  # off the map
            ],
            loc="outside right upper",
        )
        put_title(figure, entries, "Units by year of entry", notice)
        title = f'Units by year of entry, "{entries.attrs["strategy"]}", least {entries.attrs["score"]}'
        axes.set_title("\n".join(textwrap.wrap(title, 90)), fontsize=12)
    return figure


def entry_alt(entries: xr.Dataset) -> str:
    """Say what the map shows, for those who cannot see it."""
    parts = [
        f"{name} {entry_words(int(year))}"
        for name, year in zip(entries["unit"].values, entries["entry"].values, strict=True)
    ]
    return f"Units by year of entry: {', '.join(parts)}"


def _narrow(head: list[str], rows: list[list[str]]) -> str:
    """Give the table; with numbers for headings, and their key, where it is too wide otherwise."""
    text = table(head, rows)
    if max(map(len, text.splitlines())) <= WIDTH:
        return text
    columns = [f"({at})" for at in range(1, len(head))]
    body = table([head[0], *columns], rows)
    key = "; ".join(f"{sign} {title}" for sign, title in zip(columns, head[1:], strict=True))
    return f"{body}\n{fill(key)}"


def _colour(at: int, count: int) -> str:
    shade = np.array(colormaps["cividis"](0.15 + 0.7 * at / max(1, count - 1))[:3])
    return str(to_hex(tuple(shade + (1 - shade) * _PALE)))


def _paint(axes: Axes, site: Site, colours: dict[str, str]) -> None:
    """Colour the ground of each unit below borders and hosts; barriers and mats stay as they are."""
    image = np.zeros((site.ny, site.nx, 4))
    for number, name in enumerate(site.unit_names, start=1):
        if name in colours:
            here = (site.unit == number) & (site.plantable > 0) & (site.mat == 0)
            image[here] = mpl.colors.to_rgba(colours[name])
    axes.imshow(image, extent=(0.0, site.width, 0.0, site.height), origin="upper", interpolation="nearest", zorder=0.5)
