"""A sweep as plain text: what every strategy leaves at each design point."""

from string import ascii_lowercase, ascii_uppercase

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import MEASURES, Measure, strategy_names
from spreadsim.analysis.wording import Scale
from spreadsim.views.description import fill
from spreadsim.views.tables import table

_MOST_POINTS = 40
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
        first; means over worlds at the end of the last year, the best marked.
    """
    count = dataset.sizes["design"]
    worlds = dataset.sizes["replicate"]
    shown = dataset.isel(design=slice(0, _MOST_POINTS))
    factors = [str(name) for name, values in shown.coords.items() if values.dims == ("design",) and name != "design"]
    names = strategy_names(dataset)
    keys = [_letter(k, ascii_lowercase) for k in range(len(factors))]
    marks = [_letter(k, ascii_uppercase) for k in range(len(names))]
    lines = [f"{key}: {name} ({shown[name].attrs['units']})" for key, name in zip(keys, factors, strict=True)]
    lines += [f"{mark}: {name}" for mark, name in zip(marks, names, strict=True)]
    parts = ["\n".join(fill(line, "   ") for line in lines)]
    columns = [[_plain(value) for value in shown[name].values] for name in factors]
    points = [str(int(point)) for point in shown["design"].values]
    for measure in _measures(shown):
        cells, unit = _cells(shown, measure, system)
        title = f"{measure.title[0].upper()}{measure.title[1:]}, end of the last year{unit}"
        told = fill(f"{title}: mean of {worlds:,} worlds, * the best of the point")
        rows = [list(row) for row in zip(points, *columns, *cells, strict=True)]
        parts.append(told + "\n" + table(["point", *keys, *marks], rows))
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


def _letter(k: int, letters: str) -> str:
    """Give a, b, ... z, a1, b1 and so on."""
    return letters[k % len(letters)] + (str(k // len(letters)) if k >= len(letters) else "")


def _plain(value: object) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)
