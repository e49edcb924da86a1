"""A sweep as plain text: what every strategy leaves at each design point."""

from string import ascii_lowercase, ascii_uppercase

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import MEASURES, Measure, strategy_names
from spreadsim.analysis.wording import Scale
from spreadsim.views.description import fill
from spreadsim.views.tables import WIDTH, table

_MOST_POINTS = 40
_LONGEST = 30
_SHOWN = ("infested_area", "fruiting_hosts")
_DIMS = ("design", "strategy", "replicate", "year")


def sweep_tables(dataset: xr.Dataset, *, system: str = "metric") -> str:
    """Give a table for infested area and fruiting hosts, or for the first outcome there is.

    Parameters
    ----------
    dataset
        What `sweep` returned.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        A row for each point, at most `_MOST_POINTS` of them, with factors and strategies under letters that are told
        first; means over worlds at the end of the last year, the best marked. Where factors and strategies together
        are too wide, factors have a table of their own; lines are of at most `WIDTH` characters.
    """
    count = dataset.sizes["design"]
    worlds = dataset.sizes["replicate"]
    shown = dataset.isel(design=slice(0, _MOST_POINTS))
    factors = [str(name) for name, values in shown.coords.items() if values.dims == ("design",) and name != "design"]
    names = strategy_names(dataset)
    keys = [_letter(k, ascii_lowercase) for k in range(len(factors))]
    marks = [_letter(k, ascii_uppercase) for k in range(len(names))]
    lines = [f"{key}: {name}{_unit(shown[name])}" for key, name in zip(keys, factors, strict=True)]
    lines += [f"{mark}: {name}" for mark, name in zip(marks, names, strict=True)]
    parts = ["\n".join(fill(line, "   ") for line in lines)]
    columns = [[_plain(value) for value in shown[name].values] for name in factors]
    points = [str(int(point)) for point in shown["design"].values]
    told = [(measure, *_cells(shown, measure, system)) for measure in _measures(shown)]
    beside = all(len(_groups([points, *columns, *cells])) == 1 for _, cells, _ in told)
    if not beside:
        parts.append("What differs between the points\n" + _tables(["point", *keys], [points, *columns]))
        keys, columns = [], []
    for measure, cells, unit in told:
        title = f"{measure.title[0].upper()}{measure.title[1:]}, end of the last year{unit}"
        above = fill(f"{title}: mean of {worlds:,} worlds, * the best of the point")
        parts.append(above + "\n" + _tables(["point", *keys, *marks], [points, *columns, *cells]))
    if count > _MOST_POINTS:
        parts.append(f"{count - _MOST_POINTS:,} more points are in the file.")
    return "\n\n".join(parts)


def _measures(dataset: xr.Dataset) -> list[Measure]:
    """Give what to show: the usual outcomes, else the first state that the sweep kept."""
    known = [one for one in MEASURES if one.name in dataset and dataset[one.name].dims == _DIMS and one.span == "end"]
    return [one for one in known if one.name in _SHOWN] or known[:1]


def _cells(dataset: xr.Dataset, measure: Measure, system: str) -> tuple[list[list[str]], str]:
    """Texts by strategy and point, and the unit."""
    values = dataset[measure.outcome].to_numpy().astype(float)
    # points may have fewer years than others; the last that a point has counts
    last = np.isfinite(values[:, 0, 0, :]).sum(axis=1) - 1
    means = values[np.arange(len(values)), :, :, last].mean(axis=-1)
    best = means.max(axis=1) if measure.better == "higher" else means.min(axis=1)
    scale = Scale(means.ravel(), measure.kind, system)
    texts = [
        [scale.text(float(mean)) + ("*" if mean == best[p] else " ") for p, mean in enumerate(column)]
        for column in means.T
    ]
    return texts, f" ({scale.unit})" if scale.unit else ""


def _groups(columns: list[list[str]]) -> list[list[int]]:
    """Share columns out over tables that fit the page, the first column in each."""
    widths = [max(map(len, column), default=0) for column in columns]
    room, groups = WIDTH, list[list[int]]()
    for k, width in enumerate(widths[1:], start=1):
        if room + 2 + max(3, width) > WIDTH:
            groups.append([0])
            room = 2 + max(10, widths[0])
        groups[-1].append(k)
        room += 2 + max(3, width)  # letters of columns have up to three signs
    return groups


def _tables(header: list[str], columns: list[list[str]]) -> str:
    """Lay out columns of text as one table, or as several below each other."""
    chosen = [([header[k] for k in group], [columns[k] for k in group]) for group in _groups(columns)]
    return "\n\n".join(table(heads, [list(row) for row in zip(*some, strict=True)]) for heads, some in chosen)


def _letter(k: int, letters: str) -> str:
    """Give a, b, ... z, a1, b1 and so on."""
    return letters[k % len(letters)] + (str(k // len(letters)) if k >= len(letters) else "")


def _unit(values: xr.DataArray) -> str:
    unit = str(values.attrs["units"])
    return "" if unit == "1" else f" ({unit})"


def _plain(value: object) -> str:
    if isinstance(value, float):
        return f"{float(f'{value:.3g}'):,.10g}"
    text = str(value)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
