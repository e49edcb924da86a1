"""What was learned in sentences and rows of tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.wording import Scale
from spreadsim.inputs import Site, Survey
from spreadsim.learning.finding import FEW
from spreadsim.learning.ranges import quantiles

RANGE_HEADER = ("parameter", "before", "after", "width, of before", "error")
FIT_HEADER = ("what was found", "found", "expected before", "expected after", "chance after")
_MOST_UNITS = 3


def learned_sentences(learned: xr.Dataset, site: Site, *, system: str = "metric") -> Iterator[str]:
    """Say what was run, what has to be said before anything is believed, and where vine stands.

    Parameters
    ----------
    learned
        From `learn`.
    site
        The map.
    system
        Units to show, "metric" or "us".
    """
    about = learned.attrs
    seasons = "1 season" if about["seasons"] == 1 else f"{about['seasons']} seasons"
    hours = "" if about["hours_done"] == 1 else f" with {about['hours_done']:.0%} of its hours".replace("%", " %")
    yield (
        f"{about['worlds']:,} worlds were run for {seasons}, from the map of {about['mapped']} to the survey of "
        f'{about["surveyed"]}, through "{about["strategy"]}"{hours}.{_of_stages(learned)} Weighted by how well they '
        f"explain the survey they count for {about['effective_worlds']:,.0f}."
    )
    yield from about["warnings"].splitlines()
    for remark in about["remarks"].splitlines():
        yield f"To be looked at: {remark}."
    yield _of_assumptions(learned)
    yield _of_parameters(learned)
    yield from _of_unknown(learned, site, system)


def _of_stages(learned: xr.Dataset) -> str:
    if np.ptp(learned["weight_before"].to_numpy()) == 0.0:
        return ""
    return " The second half was drawn near those that explain the survey, and weighted so that this favours nothing."


def as_read(survey: Survey) -> str:
    """Say how a survey was read, so that columns that were called otherwise show at once."""
    events = survey.events
    records = [record for event in events for record in event.records]
    mats, hosts = (sum(r.found and r.on_host == on_host for r in records) for on_host in (False, True))
    absent = sum(not record.found for record in records)
    timed, placed = sum(bool(event.hours) for event in events), sum(any(r.unit for r in e.records) for e in events)
    return (
        f"The survey as it was read: finds of mat {mats:,}, of vine on a host {hosts:,}, absences {absent:,}; visits "
        f"{len(events):,}, with hours {timed:,}, with a unit {placed:,}."
    )


def _of_assumptions(learned: xr.Dataset) -> str:
    about = learned.attrs
    lacked = [
        f"{float(low):,.3g} to {float(high):,.3g} {what}" if high else f"no {what}"
        for (low, high), what in (
            (about["overlooked_patches"], "patches"),
            (about["overlooked_hosts"], "climbed hosts"),
        )
    ]
    noted = (
        "only what nobody knew of is noted"
        if about["only_new"]
        else f"what is known is noted again with a chance of {about['found_again']:.0%}, and mats are outlined to "
        f"within {about['outline_error']:.0%}"
    )
    small = f"{FEW * about['model_error']:.2g} where they are small"
    return (
        f"Assumed, with no source: numbers in a world stand for those on the ground to within "
        f"{about['model_error']:.0%} (a standard error; {small}); {noted}; the map may have lacked {lacked[0]} and "
        f"{lacked[1]}."
    ).replace("%", " %")


def _of_parameters(learned: xr.Dataset) -> str:
    count, moved = learned.sizes["parameter"], int(learned["learned"].sum())
    if not count:
        return "All parameters are fixed, so that nothing is learned about them."
    if not moved:
        return f"None of the {count} parameters that differ between worlds moved by more than chance makes."
    some = "1 moved" if moved == 1 else f"{moved} moved"
    return (
        f"Of {count} parameters that differ between worlds {some} by more than chance makes (weights shuffled among "
        "worlds move none as far in 99 of 100 shuffles); for the others the ranges before stand."
    )


def _of_unknown(learned: xr.Dataset, site: Site, system: str) -> Iterator[str]:
    weights = learned["weight"].to_numpy()
    patches, hosts = (_mean_and_range(learned[name].to_numpy(), weights) for name in ("missed_patches", "missed_hosts"))
    yield f"After the survey nobody knows of some {patches} new patches and of vine on some {hosts} hosts."
    looked = learned["looked"].to_numpy() > 0
    open_ground = site.plantable > 0
    share = float((looked & open_ground).sum() / max(open_ground.sum(), 1))
    left = "" if share >= 0.995 else "; what nobody looked at is unknown, not clean"
    yield f"People looked at {share:.0%} of the ground that the vine can grow on{left}.".replace("%", " %")
    area = learned["unknown_mat"].to_numpy() * site.plantable * site.cell_size**2
    sums = np.bincount(site.unit.ravel(), weights=area.ravel(), minlength=len(site.unit_names) + 1)
    order = [k for k in np.argsort(-sums, kind="stable").tolist() if sums[k] > 0][:_MOST_UNITS]
    if order and site.unit_names:
        scale = Scale([float(sums[k]) for k in order], "area", system)
        names = ["outside the units", *site.unit_names]
        parts = [f"{names[k]} ({scale.with_unit(scale.text(float(sums[k])))})" for k in order]
        yield f"Most ground under mat that nobody knows of, on average: {', '.join(parts)}."


def _mean_and_range(values: Any, weights: Any) -> str:
    low, high = quantiles(values, weights, (0.05, 0.95))
    return f"{float(values @ weights):.1f} ({low:.1f} to {high:.1f} in 90 % of worlds)"


def range_rows(learned: xr.Dataset) -> list[list[str]]:
    """Give a row for each parameter that moved by more than chance, the one that moved most first."""
    rows = []
    for k in np.argsort(-learned["moved"].to_numpy(), kind="stable").tolist():
        one = learned.isel(parameter=k)
        if not int(one["learned"]):
            continue
        before, after = one["range_before"].to_numpy(), one["range_after"].to_numpy()
        width = (after[-1] - after[0]) / (before[-1] - before[0])
        unit = str(one["parameter_units"].item())
        name = str(one["parameter"].item()) + ("" if unit == "1" else f" ({unit})")
        error = float(one["range_error"].to_numpy()[[0, -1]].max())
        rows.append([name, _span(before), _span(after), f"{width:.0%}".replace("%", " %"), f"{error:.2g}"])
    return rows


def moved_rows(learned: xr.Dataset) -> list[tuple[str, str, str]]:
    """Give name, range before and range after of the parameters that moved by more than chance, most first."""
    return [(row[0], row[1], row[2]) for row in range_rows(learned)]


def fit_rows(learned: xr.Dataset) -> list[list[str]]:
    """Give a row for each number that the survey gave: what was found, and what the worlds expected."""
    rows = []
    for k in range(learned.sizes["statistic"]):
        one = learned.isel(statistic=k)
        before, after = (one[f"predicted_{when}"].to_numpy() for when in ("before", "after"))
        chance = float(one["chance_after"])
        told = "under 0.001" if chance < 0.001 else f"{chance:.2g}"
        rows.append(
            [str(one["statistic"].item()), f"{float(one['observed']):,.0f}", _counts(before), _counts(after), told]
        )
    return rows


def _span(levels: Any) -> str:
    return f"{levels[0]:.3g} to {levels[-1]:.3g}"


def _counts(levels: Any) -> str:
    return f"{levels[0]:,.0f} to {levels[-1]:,.0f}"
