"""How figures look: colours and lines of strategies, letters for a projector, repeatable files."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import xarray as xr
from matplotlib.figure import Figure

from spreadsim.analysis.summary import NO_ACTION

# Okabe and Ito's colours that are dark enough for a line on white. Green and red are as far apart
# in the list as can be: few strategies never look like a traffic light.
_COLOURS = ("#0072b2", "#e69f00", "#56b4e9", "#cc79a7", "#009e73", "#d55e00")
_DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (4, 1.5, 1, 1.5)), (0, (1.5, 1.5)))
_MARKERS = ("o", "s", "^", "D", "v", "P", "X")

RC: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 13,
    "axes.titlesize": 14,
    "axes.labelsize": 13,
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "legend.frameon": False,
    "legend.fontsize": 13,
    "svg.hashsalt": "spreadsim",
    "svg.fonttype": "none",
    "figure.dpi": 100,
}


@dataclass(frozen=True)
class Line:
    """Colour, dashes and marker of a strategy: any one of them tells it from its neighbours."""

    colour: str
    dashes: Any
    marker: str


def lines_of(names: Sequence[str]) -> dict[str, Line]:
    """Give each strategy its line, by its place in the list; no action is black and dotted."""
    lines = {}
    place = 0
    for name in names:
        if name == NO_ACTION:
            lines[name] = Line("#000000", (0, (1, 1.5)), "")
            continue
        dashes = _DASHES[(place + place // len(_COLOURS)) % len(_DASHES)]
        lines[name] = Line(_COLOURS[place % len(_COLOURS)], dashes, _MARKERS[place % len(_MARKERS)])
        place += 1
    return lines


def put_title(figure: Figure, dataset: xr.Dataset, otherwise: str, notice: str) -> None:
    """Put the dataset's title on top, and below it what must be said."""
    title = textwrap.shorten(str(dataset.attrs.get("title", "") or otherwise), 90, placeholder="...")
    if notice:
        title += "\n" + "\n".join(textwrap.wrap(notice, 120)[:2])
    figure.suptitle(title, fontsize=15, x=0.01, ha="left")


def save(figure: Figure, folder: Path, name: str, description: str) -> list[Path]:
    """Write a figure as PNG and SVG; the same figure gives the same bytes.

    Parameters
    ----------
    figure
        The figure.
    folder
        Where to; must be there.
    name
        File name without its ending.
    description
        What it shows, for those who cannot see it; kept in the SVG.

    Returns
    -------
    list of pathlib.Path
        The two files.
    """
    png, svg = folder / f"{name}.png", folder / f"{name}.svg"
    with mpl.rc_context(RC):
        layout = figure.get_layout_engine()
        if layout is not None:  # once for both files: it takes as long as drawing them
            layout.execute(figure)
            figure.set_layout_engine(None)
        figure.savefig(png, dpi=150, facecolor="white", metadata={"Software": None})
        information = {"Date": None, "Creator": None, "Title": name, "Description": description}
        figure.savefig(svg, facecolor="white", metadata=information)
    return [png, svg]
