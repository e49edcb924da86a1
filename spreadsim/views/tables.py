"""Tables of outcomes as plain text, 80 columns wide at most."""

import textwrap
from collections.abc import Sequence

import xarray as xr

from spreadsim.analysis.outcomes import MEASURES, Measure
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.verdict import judge
from spreadsim.analysis.wording import Scale, percent, scale_of, title_in

WIDTH = 80
_GAP = "  "
_LEAST = 10  # of the first column
_MOST_PAIRS = 6
_COMPARED = ("seeds_exported", "fruiting_hosts", "infested_area")


def outcome_tables(summary: xr.Dataset, *, system: str = "metric") -> str:
    """Give a table for each measure: every strategy's mean and range, and how it differs from no action.

    Parameters
    ----------
    summary
        From `analysis.summary.summarise`.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        Lines of at most `WIDTH` characters.
    """
    confidence = percent(float(summary.attrs["confidence"]))
    names = [str(name) for name in summary["strategy"].values]
    compared = NO_ACTION in names and len(names) > 1
    header = ["", "mean", f"{confidence} of worlds"]
    if compared:
        header += ["minus no action", f"{confidence} interval", "better"]
    tables = []
    for measure in _measures(summary):
        scale = scale_of(summary, measure, system)
        rows = [_level(summary, measure, name, scale, compared) for name in names]
        tables.append(_titled(summary, measure, scale, table(header, rows)))
    return "\n\n".join(tables)


def pair_tables(summary: xr.Dataset, *, system: str = "metric") -> str:
    """Give the strategies compared with each other, world by world, on seed and on infested area.

    Parameters
    ----------
    summary
        From `analysis.summary.summarise`.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        Lines of at most `WIDTH` characters; empty where there are fewer than two strategies beside
        no action. Where the pairs would be many, only those with the best are given.
    """
    names = [str(name) for name in summary["strategy"].values if str(name) != NO_ACTION]
    confidence = percent(float(summary.attrs["confidence"]))
    header = ["first / second", "first minus second", f"{confidence} interval", "first better in"]
    tables = []
    for measure in _measures(summary):
        if measure.name not in _COMPARED or len(names) < 2:
            continue
        scale = scale_of(summary, measure, system)
        pairs = [(first, second) for place, first in enumerate(names) for second in names[place + 1 :]]
        if len(pairs) > _MOST_PAIRS:
            best = judge(summary.sel(strategy=names, other=names), measure.name).best
            pairs = [(best, name) for name in names if name != best]
        rows = [_pair(summary, measure, pair, scale) for pair in pairs]
        tables.append(_titled(summary, measure, scale, table(header, rows)))
    return "\n\n".join(tables)


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out rows of text: the first column wrapped to the room that is left, the others to the right.

    Columns that the page has no room for are told in a table of their own below, with the first column again.
    """
    cells = [list(header), *[list(row) for row in rows]]
    heads = [textwrap.wrap(name, 14) or [""] for name in header]
    widths = [
        max(max(map(len, heads[column])), *(len(row[column]) for row in cells[1:])) for column in range(len(header))
    ]
    groups = _groups(widths)
    if len(groups) > 1:
        # the last column of some tables is empty for every row
        parts = [[0, *group] for group in groups if any(row[k] for row in cells[1:] for k in group)]
        return "\n\n".join(table([header[k] for k in part], _picked(rows, part)) for part in parts)
    widths[0] = max(_LEAST, min(widths[0], WIDTH - sum(widths[1:]) - len(_GAP) * len(header)))
    lines = []
    deepest = max(map(len, heads))
    for depth in range(deepest):
        row = [(head if len(head) == deepest else [""] * (deepest - len(head)) + head)[depth] for head in heads]
        lines.append(_line(row, widths))
    for row in cells[1:]:
        first, *more = textwrap.wrap(row[0], widths[0], subsequent_indent="  ", break_on_hyphens=False) or [""]
        lines.append(_line([first, *row[1:]], widths))
        lines += [_line([part], widths[:1]) for part in more]
    return "\n".join(lines)


def _groups(widths: Sequence[int]) -> list[list[int]]:
    """Share the columns behind the first out over tables that the page has room for."""
    groups: list[list[int]] = [[]]
    taken = _LEAST + len(_GAP)
    for column, width in enumerate(widths[1:], start=1):
        if groups[-1] and taken + len(_GAP) + width > WIDTH:
            groups.append([])
            taken = _LEAST + len(_GAP)
        groups[-1].append(column)
        taken += len(_GAP) + width
    return groups


def _picked(rows: Sequence[Sequence[str]], columns: Sequence[int]) -> list[list[str]]:
    return [[row[column] for column in columns] for row in rows]


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = [
        row[0].ljust(widths[0]),
        *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)),
    ]
    return (_GAP + _GAP.join(cells)).rstrip()


def _measures(summary: xr.Dataset) -> list[Measure]:
    present = [str(name) for name in summary["measure"].values]
    return [measure for measure in MEASURES if measure.name in present]


def _titled(summary: xr.Dataset, measure: Measure, scale: Scale, body: str) -> str:
    title = f"{title_in(summary, measure)} ({scale.unit})"
    return "\n".join([*textwrap.wrap(title, WIDTH), body])


def _level(summary: xr.Dataset, measure: Measure, name: str, scale: Scale, compared: bool) -> list[str]:
    row = summary.sel(measure=measure.name, strategy=name)
    several = int(summary.attrs["worlds"]) > 1
    span = scale.span(float(row["world_low"]), float(row["world_high"])) if several else "-"
    cells = [name, scale.text(float(row["mean"])), span]
    if not compared:
        return cells
    if name == NO_ACTION:
        return [*cells, "", "", ""]
    pair = row.sel(other=NO_ACTION)
    interval = scale.span(float(pair["difference_low"]), float(pair["difference_high"]), sign=True)
    chance = "-"
    if measure.kind in ("hours", "money"):  # spending less is no aim in itself
        chance = ""
    elif several:
        chance = percent(float(pair["better"]))
    return [*cells, scale.text(float(pair["difference"]), sign=True), interval, chance]


def _pair(summary: xr.Dataset, measure: Measure, names: tuple[str, str], scale: Scale) -> list[str]:
    first, second = names
    pair = summary.sel(measure=measure.name, strategy=first, other=second)
    interval = scale.span(float(pair["difference_low"]), float(pair["difference_high"]), sign=True)
    difference = scale.text(float(pair["difference"]), sign=True)
    chance = "-"
    if int(summary.attrs["worlds"]) > 1:
        low, high = (round(100 * float(pair[f"better_{end}"])) for end in ("low", "high"))
        chance = f"{percent(float(pair['better']))} ({low} to {high})"
    return [f"{first} / {second}", difference, interval, chance]
