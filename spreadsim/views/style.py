"""How figures look: colours and lines of strategies, letters for a projector, repeatable files."""

import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.colors import LinearSegmentedColormap, ListedColormap, to_rgb
from matplotlib.figure import Figure

from spreadsim.analysis.summary import NO_ACTION
from spreadsim.errors import InputError
from spreadsim.guarded import renamed_when_whole

# Found by search for the largest least distance under colour blindness among colours of 3:1 on white; black is no
# action. tests/views/test_colours.py holds them to it. None is a red or a green of a traffic light.
COLOURS = ("#3a94d0", "#5c0f52", "#8f9217", "#1f2fe0", "#a8506e", "#2c4208")
GREY = "#6b6b6b"  # what is of no account: outlines, what breaks a limit
# evenly less light from white to both sides
_CHANGES = ("#7a3f05", "#d9822b", "#fbd7a3", "#ffffff", "#d3cfe8", "#8676b4", "#35105c")
SLIDE = (1280 / 96, 720 / 96)  # inches: a projector's picture at 96 dots an inch
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
    "axes.axisbelow": True,
    "grid.color": "#dddddd",
    "legend.frameon": False,
    "legend.fontsize": 13,
    "svg.hashsalt": "spreadsim",
    "svg.fonttype": "none",
    "figure.dpi": 100,
    "figure.constrained_layout.w_pad": 0.09,  # letters are wider in some formats than in others
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
        dashes = _DASHES[(place + place // len(COLOURS)) % len(_DASHES)]
        lines[name] = Line(COLOURS[place % len(COLOURS)], dashes, _MARKERS[place % len(_MARKERS)])
        place += 1
    return lines


def put_title(figure: Figure, dataset: xr.Dataset, otherwise: str, notice: str) -> None:
    """Put the dataset's title on top, and below it what must be said."""
    title = textwrap.shorten(str(dataset.attrs.get("title", "") or otherwise), 90, placeholder="...")
    if notice:
        title += "\n" + "\n".join(textwrap.wrap(notice, 120)[:2])
    figure.suptitle(title, fontsize=15, x=0.01, ha="left")


def shares() -> ListedColormap:
    """Give the colours of a share of worlds: the mat's blue, from pale for few to dark for all."""
    return ListedColormap(mpl.colormaps["Blues"](np.linspace(0.12, 1.0, 256)), name="shares")


def changes() -> LinearSegmentedColormap:
    """Give the colours of a difference: brown for less, white for none, purple for more."""
    return LinearSegmentedColormap.from_list("changes", _CHANGES, N=255)


def ink_on(colour: Any) -> str:
    """Give black or white, whichever stands out more on a colour (WCAG 2.2, relative luminance)."""
    parts = np.array(to_rgb(colour))
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    light = float(linear @ (0.2126, 0.7152, 0.0722))
    return "black" if (light + 0.05) ** 2 > 1.05 * 0.05 else "white"


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
        What it shows, for those who cannot see it; kept in the files.

    Returns
    -------
    list of pathlib.Path
        The two files.
    """
    return [write(figure, folder / f"{name}{suffix}", description) for suffix in (".png", ".svg")]


STILLS = (".png", ".webp", ".svg", ".pdf")


def write(figure: Figure, path: Path, description: str, *, pixels: int | None = None) -> Path:
    """Write a figure in the format that the file's ending says.

    Parameters
    ----------
    figure
        The figure.
    path
        Ends in one of `STILLS`; an older file is replaced once the new one is whole.
    description
        What it shows, for those who cannot see it; kept in the file where the format has a place for it.
    pixels
        Width of a bitmap; 150 dots an inch if not given.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    InputError
        Another ending.
    """
    kind = path.suffix.lower()
    if kind not in STILLS:
        raise InputError(f'{path}: found the ending "{kind}", allowed {", ".join(STILLS)}')
    more: dict[str, Any] = {"dpi": 150 if pixels is None else pixels / figure.get_figwidth()}
    if kind == ".webp":
        more["pil_kwargs"] = {"lossless": True, "method": 6}
    else:
        more["metadata"] = {
            ".png": {"Software": None, "Description": description},
            ".svg": {"Date": None, "Creator": None, "Title": path.stem, "Description": description},
            ".pdf": {"CreationDate": None, "Creator": None, "Producer": None, "Subject": description},
        }[kind]
    content = io.BytesIO()
    with mpl.rc_context(RC):
        layout = figure.get_layout_engine()
        if layout is not None:  # once for all files: it takes as long as drawing them
            layout.execute(figure)
            figure.set_layout_engine(None)
        figure.savefig(content, format=kind[1:], facecolor="white", **more)
    with renamed_when_whole(path) as file:
        file.write(content.getvalue())
    return path
