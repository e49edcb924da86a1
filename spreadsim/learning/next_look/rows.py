"""Where to look next as rows of a table: pieces in the order of going."""

from __future__ import annotations

import numpy as np
import xarray as xr

from spreadsim.analysis.outcomes import Measure
from spreadsim.analysis.wording import Scale, percent
from spreadsim.learning.next_look.paired import MEASURED

SHOWN = ("seeds_exported", "infested_area")  # always in the table, whatever is weighed


def in_order(found: xr.Dataset) -> list[int]:
    """Give the pieces that get hours, the one that is worth most an hour first."""
    rank = found["rank"].to_numpy()
    order = np.argsort(rank, kind="stable")
    return [int(k) for k in order[rank[order] > 0]]


def place(one: xr.Dataset) -> str:
    """Name a piece: its unit and its square."""
    unit = str(one["unit"].item())
    return f"{unit} {one['piece'].item()}" if unit else str(one["piece"].item())


def hours_words(hours: float) -> str:
    """Say hours, below one in minutes."""
    return f"{60 * hours:.0f} min" if hours < 0.995 else f"{hours:.1f} h".replace(".0 h", " h")


def look_table(found: xr.Dataset, system: str, most: int | None = None) -> tuple[list[str], list[list[str]]]:
    """Give the header and the rows of pieces that get hours, in order; no more rows than said."""
    shown = [next(one for one in MEASURED if one.name == name) for name in SHOWN]
    scales = [_scale(found, one, system) for one in shown]
    header = ["where", "hours", "chance", "found", *(scale.unit for scale in scales), "an hour", "first"]
    rows = []
    for rank, k in enumerate(in_order(found)[:most], 1):
        one = found.isel(piece=k)
        amounts = [
            scale.text(float(one["avoided"].sel(measure=m.name))) for m, scale in zip(shown, scales, strict=True)
        ]
        rows.append(
            [
                f"{rank} {place(one)}",
                hours_words(float(one["hours"])),
                _chance(float(one["chance"]), found.attrs["worlds"]),
                percent(float(one["chance_found"])),
                *amounts,
                _digits(float(one["rate"])),
                percent(float(one["among_first"])),
            ]
        )
    return header, rows


def table_words(found: xr.Dataset) -> str:
    """Say what the columns are."""
    about = found.attrs
    weighed = "by presence" if not about["weighed"] else ("as weighed" if not about["ordered"] else "of the first goal")
    return (
        "In order of going. Chance: that vine which nobody knows of is there; found: that the hours find some of it if "
        "it is; then seed leaving the site and infested area that they avoid on average; an hour: harm that an hour of "
        f"the visit avoids, {weighed}; first: share of resampled worlds in which it is among the first "
        f"{max(about['many_first'], 1)}. Squares are {about['size']:g} m wide, A in the west, 1 in the north."
    )


def _digits(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.2g}"


def _chance(chance: float, worlds: int) -> str:
    """Give a chance; one that no world shows is not nil, but below what three in so many would be."""
    return percent(chance) if chance > 0 else f"<{percent(min(3 / worlds, 1.0))}"


def _scale(found: xr.Dataset, measure: Measure, system: str) -> Scale:
    return Scale(found["avoided"].sel(measure=measure.name).to_numpy(), measure.kind, system)
