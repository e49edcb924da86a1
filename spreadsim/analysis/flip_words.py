"""Where the answer flips, in sentences, from what `planning.flips` gives."""

from itertools import groupby

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import percent


def flip_sentences(grid: xr.Dataset) -> list[str]:
    """Say which strategy wins where, where it changes, and on how much of the grid that is sure.

    Parameters
    ----------
    grid
        From `planning.flips`.

    Returns
    -------
    list of str
        One sentence on how many points each wins, one for each row on where the winner changes (rows that say the same
        are put together), and one on how sure it is.
    """
    names = [str(name) for name in grid["strategy"].values]
    choice = grid["choice"].to_numpy()
    points = choice.size
    won = {name: int((choice == at).sum()) for at, name in enumerate(names)}
    winners = sorted((name for name in names if won[name]), key=lambda name: -won[name])
    score = score_words(grid)
    if len(winners) == 1:
        told = [f'"{winners[0]}" has the least {score} at all {points} points: the answer does not flip here.']
    else:
        parts = ", ".join(f'"{name}" at {won[name]}' for name in winners)
        told = [f"The least {score} has {parts} of {points} points: the answer flips."]
        told.append(f"Where, by {grid.attrs['along_title']}:")
        told += _rows(grid, names, choice)
    sure = int(grid["sure"].sum())
    worlds = int(grid.attrs["replicates"])
    level = percent(float(grid.attrs["confidence"]))
    rest = "" if sure == points else "; at the rest more worlds may change it"
    told.append(
        f"At {sure} of {points} points the winner is told from all others at {level} with {worlds:,} worlds{rest}."
    )
    fewest = int(grid["worlds"].min())
    if fewest < worlds:
        told.append(
            f"Where a strategy did worse in each of the first {fewest} worlds than the best of them, it was run in "
            "those alone."
        )
    return told


def score_words(grid: xr.Dataset) -> str:
    """What the score is made of, for people."""
    titles = {measure.name: measure.title for measure in MEASURES}
    parts = [part.partition(" x ") for part in str(grid.attrs["score"]).split(", ")]
    told = [(weight, titles.get(name or weight, (name or weight).replace("_", " "))) for weight, _, name in parts]
    return " + ".join(title if len(parts) == 1 else f"{weight} x {title}" for weight, title in told)


def value_words(value: object, unit: str) -> str:
    """Give a value of an axis with its unit."""
    if isinstance(value, str):
        return value
    number = f"{float(value):.3g}"  # type: ignore[arg-type]
    return {"times": f"{number} times", "year": f"year {number}", "1": number}.get(unit, f"{number} {unit}".strip())


def _rows(grid: xr.Dataset, names: list[str], choice: np.ndarray[tuple[int, int], np.dtype[np.int32]]) -> list[str]:
    along, against = grid["along"].values, grid["against"].values
    units = str(grid.attrs["along_unit"]), str(grid.attrs["against_unit"])
    said = []
    for row in range(len(against)):
        parts = []
        for winner, run in groupby(range(len(along)), key=lambda column, row=row: int(choice[row, column])):  # type: ignore[misc]
            columns = list(run)
            first, last = (value_words(along[at], units[0]) for at in (columns[0], columns[-1]))
            where = f"at {first}" if len(columns) == 1 else f"from {first} to {last}"
            parts.append(f'"{names[winner]}" {where}' if len(columns) < len(along) else f'"{names[winner]}" everywhere')
        said.append((value_words(against[row], units[1]), ", ".join(parts)))
    title = str(grid.attrs["against_title"])
    lines = []
    for text, alike in groupby(said, key=lambda one: one[1]):
        group = [one[0] for one in alike]
        where = group[0] if len(group) == 1 else f"{group[0]} to {group[-1]}"
        lines.append(f"{title[0].upper()}{title[1:]} {where}: {text}.")
    return lines
