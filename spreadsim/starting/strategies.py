"""Crews and strategies that a steward may choose from, by what the crews may do."""

from __future__ import annotations

from dataclasses import dataclass

from spreadsim.inputs.treatment_file import load_treatment
from spreadsim.starting.numbers import Numbers

HAND = ("scout", "cut", "clear-ring", "pull")
HERBICIDE = ("cut-and-treat", "foliar-spray", "spot-spray")
VOLUNTEER_PACE = 0.7  # of staff; assumed
# How a year's hours fall on winter, spring, summer and autumn; assumed: few work in the heat.
_VOLUNTEERS = (0.35, 0.15, 0.05, 0.45)
_PAID = (0.3, 0.25, 0.15, 0.3)
_FOLLOW_UP = "follow_up = { every = 4, clean = 2 }  # come back every 4 seasons until clean twice running"


@dataclass(frozen=True)
class Plan:
    """A strategy in TOML: what it is called, why, and its tasks as lines."""

    name: str
    why: str
    tasks: tuple[tuple[str, ...], ...]


def crew_lines(numbers: Numbers) -> list[str]:
    """Give the tables of the crews that have hours."""
    lines: list[str] = []
    if numbers.volunteer_hours > 0:
        may = HAND + (HERBICIDE if numbers.spray == "everyone" else ())
        lines += ["[[crews]]", 'name = "volunteers"', "volunteers = true", _hours(numbers.volunteer_hours, _VOLUNTEERS)]
        lines += [f"may = {_list(may)}", f"pace = {VOLUNTEER_PACE}  # work in an hour, staff's being 1; assumed"]
        lines += ["# turnout = 0.8  # if a fifth of the planned hours don't come", ""]
    if numbers.paid_hours > 0:
        may = HAND + (HERBICIDE if numbers.spray != "nobody" else ())
        lines += ["[[crews]]", 'name = "paid crew"', _hours(numbers.paid_hours, _PAID), f"may = {_list(may)}"]
        lines += ["# price = 35  # an hour: put in what you pay, to see the cost", ""]
    return lines


def plans(numbers: Numbers) -> list[Plan]:
    """Give the strategies that the crews may do; no action is always among those compared."""
    cut = ('treatment = "cut"', 'order = "fruiting first"', _FOLLOW_UP)
    rings = ('treatment = "clear-ring"', 'order = "fruiting first"', "share = 0.3  # of the hours at most")
    pull = ('treatment = "pull"', 'order = "largest first"', _FOLLOW_UP)
    small = ('treatment = "pull"', 'order = "outlying patches first"', _new_ground(numbers), _FOLLOW_UP)
    found = [
        Plan("cut climbing stems first", "Stems bear all the seed; mats get the hours that are left.", (cut, pull)),
        Plan("clear mats first", "Most of the vine is on the ground; stems get the hours that are left.", (pull, cut)),
        Plan(
            "scout first",
            "Half of the winter's hours go into finding what nobody knows of; then stems, then mats.",
            (_scout(0.5), cut, pull),
        ),
        Plan(
            "keep clear what is clear",
            "Fruiting stems, then outlying patches, and never more new ground than can be come back to.",
            (
                _scout(0.1),
                ('treatment = "cut"', 'targets = "fruiting"', 'order = "most fruit per hour"', _FOLLOW_UP),
                small,
                cut,
                rings,
            ),
        ),
    ]
    if numbers.may_spray:
        found.append(_with_herbicide(numbers, cut, small))
    return found


def strategy_lines(numbers: Numbers) -> list[str]:
    """Give the tables of the strategies."""
    lines = ["[[strategies]]", 'name = "no action"', 'why = "What all the others are measured against."', ""]
    for plan in plans(numbers):
        lines += ["[[strategies]]", f'name = "{plan.name}"', f'why = "{plan.why}"', ""]
        for task in plan.tasks:
            lines += ["[[strategies.tasks]]", *task, ""]
    return lines


def _with_herbicide(numbers: Numbers, cut: tuple[str, ...], small: tuple[str, ...]) -> Plan:
    treat = (
        'name = "fruiting hosts, before the fruit is ripe"',
        'treatment = "cut-and-treat"  # rates: from the label of the product, never from here',
        'targets = "fruiting"',
        'order = "most fruit per hour"',
        'seasons = ["winter", "spring", "summer"]',
        'instead = "cut"  # on no-spray ground',
        _FOLLOW_UP,
    )
    spray = (
        'name = "mats, with herbicide where it may be used"',
        'treatment = "foliar-spray"',
        'order = "outlying patches first"',
        'seasons = ["winter"]',
        'instead = "pull"  # on unfit days and no-spray ground',
        'not_until = "no known fruiting host in the unit"',
        'follow_up = { every = 4, clean = 2, treatment = "spot-spray" }',
    )
    why = "As before, with herbicide where and when a licensed crew may use it, by the label."
    return Plan("stop the seed, then outlying patches", why, (_scout(0.1), treat, cut, spray, small))


def _scout(share: float) -> tuple[str, ...]:
    return ('treatment = "scout"', 'seasons = ["winter"]  # when an evergreen vine stands out', f"share = {share}")


def _new_ground(numbers: Numbers) -> str:
    """Cap new ground at what half the hours of a year can pull: the other half goes into coming back."""
    effort = load_treatment("pull").parameters["hours_per_area"].value
    if not isinstance(effort, float):
        raise AssertionError("hours_per_area of pull is a number")
    worked = VOLUNTEER_PACE * numbers.volunteer_hours + numbers.paid_hours
    area = max(10, round(0.5 * worked / effort, -1))
    return f"new_ground = {area:.0f}  # m2 a year: what about half the hours can pull, so that one can come back"


def _hours(total: float, shares: tuple[float, ...]) -> str:
    """Split a year's hours over the seasons so that they add up exactly."""
    parts = [round(total * share, 1) for share in shares[:3]]
    parts.append(round(total - sum(parts), 6))
    names = ("winter", "spring", "summer", "autumn")
    told = ", ".join(f"{name} = {part:g}" for name, part in zip(names, parts, strict=True))
    return f"hours = {{ {told} }}  # {total:g} a year; how they fall on the seasons is assumed"


def _list(names: tuple[str, ...]) -> str:
    return "[" + ", ".join(f'"{name}"' for name in names) + "]"
