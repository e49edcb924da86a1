"""The decision grid as a picture: colour and sign tell the winner, paleness and hatching that it is not sure."""

import textwrap

import numpy as np
import xarray as xr
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from spreadsim.analysis.flip_words import score_words, value_words
from spreadsim.views.style import GREY, RC, Line, ink_on, lines_of, put_title

_NO_SIGN = "*"
_PALE = 0.62  # how far towards white what is not sure goes


def flips_map(grid: xr.Dataset, *, notice: str = "") -> Figure:
    """Draw which strategy wins at each point of a decision grid.

    Parameters
    ----------
    grid
        From `planning.flips`.
    notice
        What must be said wherever it is shown.

    Returns
    -------
    matplotlib.figure.Figure
        Each point has the colour and the sign of its winner, and its chance of being the best in a world in per cent;
        where the winner is not told from all others, the colour is pale and hatched.
    """
    import matplotlib as mpl

    names = [str(name) for name in grid["strategy"].values]
    choice, sure = grid["choice"].to_numpy(), grid["sure"].to_numpy() > 0
    lines = lines_of(names)
    rows, columns = choice.shape
    with mpl.rc_context(RC | {"axes.grid": False}):
        figure = Figure(figsize=(max(11.5, 3.0 + 0.85 * columns), max(5.5, 3.2 + 0.7 * rows)), layout="constrained")
        axes = figure.add_subplot()
        for row in range(rows):
            for column in range(columns):
                winner = names[int(choice[row, column])]
                chance = float(grid["best"][row, column, int(choice[row, column])])
                _point(axes, row, column, lines[winner], bool(sure[row, column]), chance)
        axes.set_xlim(-0.5, columns - 0.5)
        axes.set_ylim(-0.5, rows - 0.5)
        axes.set_aspect("auto")
        for side, place in (("x", "along"), ("y", "against")):
            values = grid[place].values
            unit = str(grid.attrs[f"{place}_unit"])
            plain = [value if isinstance(value, str) else f"{float(value):.3g}" for value in values]
            getattr(axes, f"set_{side}ticks")(np.arange(len(values)), plain)
            title = str(grid.attrs[f"{place}_title"])
            unit = "" if unit in ("", "1", "times", "year") else f" ({unit})"
            getattr(axes, f"set_{side}label")("\n".join(textwrap.wrap(title + unit, 46)))
        handles = [
            Rectangle((0, 0), 1, 1, facecolor=_colour(lines[name], True), label=f"{_sign(lines[name])}  {name}")
            for at, name in enumerate(names)
            if (choice == at).any()
        ]
        handles.append(Rectangle((0, 0), 1, 1, facecolor="#f2f2f2", edgecolor=GREY, hatch="////", label="not sure"))
        figure.legend(handles=handles, loc="outside lower left", ncols=1, handlelength=1.6)
        put_title(figure, grid, "Which strategy wins where", notice)
        score = score_words(grid)
        share = "in so many per cent of worlds the winner is the best"
        axes.set_title("\n".join(textwrap.wrap(f"Least {score}; numbers: {share}", 70)), fontsize=12)
    return figure


def flips_alt(grid: xr.Dataset) -> str:
    """Say what the picture shows, for those who cannot see it."""
    sides = [value_words(grid[place].values[0], str(grid.attrs[f"{place}_unit"])) for place in ("along", "against")]
    return (
        f"Winner at each point of a grid: {grid.attrs['along_title']} from {sides[0]} on, "
        f"{grid.attrs['against_title']} from {sides[1]} on; what is not sure is hatched"
    )


def _colour(line: Line, sure: bool) -> tuple[float, ...]:
    colour = np.array(to_rgb(line.colour if line.marker else GREY))
    return tuple(colour if sure else colour + (1.0 - colour) * _PALE)


def _sign(line: Line) -> str:
    return {"o": "●", "s": "■", "^": "▲", "D": "◆", "v": "▼", "P": "✚", "X": "✖"}.get(line.marker, _NO_SIGN)


def _point(axes: object, row: int, column: int, line: Line, sure: bool, chance: float) -> None:
    colour = _colour(line, sure)
    patch = Rectangle((column - 0.5, row - 0.5), 1, 1, facecolor=colour, edgecolor="white", linewidth=1.5)
    if not sure:
        patch.set_hatch("////")
        patch.set_edgecolor(GREY)
    axes.add_patch(patch)  # type: ignore[attr-defined]
    box = {"facecolor": colour, "edgecolor": "none", "pad": 1.5}
    axes.text(  # type: ignore[attr-defined]
        column,
        row,
        f"{_sign(line)}\n{100 * chance:.0f}",
        ha="center",
        va="center",
        color=ink_on(colour),
        fontsize=12,
        bbox=box,
    )
