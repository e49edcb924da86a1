"""The single values of an experiment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.units import SYSTEMS

MOST_YEARS = 400
LARGEST_SEED = 2**32 - 1
SETTINGS = (
    "title",
    "years",
    "replicates",
    "seed",
    "fixed_parameters",
    "map_years",
    "units",
    "currency",
    "price_year",
    "notice",
)


def check_settings(check: Check, settings: Mapping[str, Any]) -> None:
    """Check those single values of an experiment that are there, by the names that `Experiment` has."""
    for name, low, high in (
        ("years", 1, MOST_YEARS),
        ("replicates", 1, 1_000_000),
        ("price_year", 1900, 2200),
    ):
        if settings.get(name) is not None or (name in settings and name != "price_year"):
            check.whole(name, settings[name], low, high)
    if "seed" in settings:
        check.whole("seed", settings["seed"], 0, LARGEST_SEED)
    for name in ("title", "currency", "notice"):
        if name in settings:
            check.text(name, settings[name], empty=name == "notice")
    if "fixed_parameters" in settings:
        check.flag("fixed_parameters", settings["fixed_parameters"])
    if settings.get("map_years") is not None:
        _check_map_years(check, settings["map_years"], settings.get("years", MOST_YEARS))
    if "units" in settings:
        check.choice("units", settings["units"], SYSTEMS)


def _check_map_years(check: Check, found: object, years: object) -> None:
    most = years if isinstance(years, int) else MOST_YEARS
    named = list(found) if isinstance(found, Iterable) and not isinstance(found, str | bytes) else []
    right = all(isinstance(year, int) and not isinstance(year, bool) and 0 <= year <= most for year in named)
    if not named or not right or len(set(named)) < len(named):
        check.add("map_years", found, f"a list of different years, each 0 (the start) to {most}")
