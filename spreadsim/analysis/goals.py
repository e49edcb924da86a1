"""What one cares about: weights, limits, an order of goals, and money at a discount."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import Scale
from spreadsim.errors import InputError, Problems
from spreadsim.inputs.checks import Check
from spreadsim.inputs.toml import read_toml

NET_PRESENT_COST = "net_present_cost"
OUTCOMES = tuple(measure.name for measure in MEASURES)
_LARGEST = 1e15


@dataclass(frozen=True)
class Limit:
    """Something that is not to happen.

    Attributes
    ----------
    outcome : str
        One of `OUTCOMES` (hours and cost are those of each year); "" for a treatment that is not wanted.
    under, most, least : float or None
        What is allowed: less than `under`, at most `most`, at least `least`; exactly one is given for an outcome.
    by : int or None
        The year at whose end it counts, and after it; None: every year from 1 on.
    no : str
        A treatment that is not wanted, such as ``"foliar-spray"``; ``"spray"`` means each whose name ends in it.
    unit : str
        Only in this unit; "" for the whole site.
    often : float
        Share of worlds in which it may be broken and the strategy still be chosen.
    """

    outcome: str = ""
    under: float | None = None
    most: float | None = None
    least: float | None = None
    by: int | None = None
    no: str = ""
    unit: str = ""
    often: float = 0.1

    def words(self, system: str = "metric") -> str:
        """Say the limit in words, in the units of a system, "metric" or "us"."""
        if self.no:
            return f"no {self.no}" + (f" in {self.unit}" if self.unit else "")
        bounds = {"under": self.under, "at most": self.most, "at least": self.least}
        word, number = next((word, number) for word, number in bounds.items() if number is not None)
        when = "in every year" if self.by is None else f"from the end of year {self.by} on"
        measure = next(measure for measure in MEASURES if measure.name == self.outcome)
        amount = f"{number:,g}"
        if measure.kind in ("area", "share"):
            scale = Scale([number], measure.kind, system, levels=[number])
            amount = scale.with_unit(scale.text(number))
        elif measure.kind == "hours":
            amount += " h"
        return f"{measure.title} {word} {amount} {when}"


@dataclass(frozen=True)
class Goals:
    """What strategies are judged by; lower scores are better.

    Attributes
    ----------
    weights : mapping
        Outcome (`OUTCOMES` or ``"net_present_cost"``) to what one unit more of it is worth avoiding, in
        units that are the user's (money, points); of native cover, what one more is worth having. All
        numbers 0 or more.
    order : tuple of str
        Outcomes from the most important; a later one counts only among strategies that the earlier ones cannot tell
        apart. Not together with weights.
    limits : tuple of Limit
        What is not to happen.
    year : int
        Year that counts; negative ones count from the last.
    discount : float
        Rate a year, such as 0.03.
    hour_value : float
        What an hour of work is worth beside the cash that it costs, in money.
    unpaid : bool
        Whether the value of unpaid hours in the dataset (`match`) counts as cost.
    """

    weights: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    order: tuple[str, ...] = ()
    limits: tuple[Limit, ...] = ()
    year: int = -1
    discount: float = 0.03
    hour_value: float = 0.0
    unpaid: bool = False


DEFAULT = Goals(order=("seeds_exported", "infested_area"))


def make_goals(table: Mapping[str, Any], source: str = "goals") -> Goals:
    """Make goals of plain data, as a TOML table gives them.

    Parameters
    ----------
    table
        Keys as the attributes of `Goals`; `limits` is a list of tables with the attributes of `Limit`.
    source
        What messages name.

    Raises
    ------
    InputError
        Everything that is wrong with it.
    """
    check = Check(source)
    _unknown(check, "", table, Goals)
    weights, order = table.get("weights", {}), table.get("order", [])
    if not isinstance(weights, Mapping):
        check.add("weights", weights, "a table of outcomes and numbers")
        weights = {}
    allowed = (*OUTCOMES, NET_PRESENT_COST)
    weighed = {}
    for name, number in weights.items():
        check.choice(f"weights.{name}", name, allowed)
        weighed[str(name)] = check.number(f"weights.{name}", number, 0, _LARGEST)
    goals = Goals(
        weights=MappingProxyType(weighed),
        order=check.words("order", order, allowed),
        limits=_limits(check, table.get("limits", [])),
        year=check.whole("year", table.get("year", -1), -10_000, 10_000),
        discount=check.number("discount", table.get("discount", 0.03), 0, 1),
        hour_value=check.number("hour_value", table.get("hour_value", 0.0), 0, _LARGEST),
        unpaid=check.flag("unpaid", table.get("unpaid", False)),
    )
    if weighed and goals.order:
        check.add("order", list(goals.order), "either weights or an order of goals, not both")
    if weighed and not any(weighed.values()):
        check.add("weights", dict(weighed), "at least one weight above 0")
    check.done()
    return goals


def read_goals(path: str | Path) -> Goals:
    """Read the table ``[goals]`` of a TOML file: one of its own, or an experiment.

    Raises
    ------
    InputError
        The file cannot be read, has no such table, or what is in it is not allowed.
    """
    data = read_toml(path)
    if not isinstance(data.get("goals"), Mapping):
        raise InputError(f"{path}: goals: found nothing, allowed a table [goals]")
    try:
        return make_goals(data["goals"], str(path))
    except InputError as error:
        problems = Problems()
        problems.absorb(error, place="goals")
        raise problems.error() from error


def _limits(check: Check, tables: object) -> tuple[Limit, ...]:
    if not isinstance(tables, Sequence) or isinstance(tables, str):
        check.add("limits", tables, "a list of tables, each [[goals.limits]]")
        return ()
    return tuple(one for at, table in enumerate(tables) if (one := _limit(check, f"limits[{at}]", table)) is not None)


def _limit(check: Check, place: str, table: object) -> Limit | None:
    if not isinstance(table, Mapping):
        check.add(place, table, 'a table such as { outcome = "fruiting_hosts", under = 5, by = 5 }')
        return None
    _unknown(check, place + ".", table, Limit)
    bounds = {key: table[key] for key in ("under", "most", "least") if key in table}
    if ("outcome" in table) == ("no" in table):
        check.add(place, dict(table), "either an outcome or no = a treatment")
        return None
    if "outcome" in table:
        check.choice(f"{place}.outcome", table["outcome"], OUTCOMES)
        if len(bounds) != 1:
            check.add(place, ", ".join(bounds) or "no bound", "exactly one of under, most, least")
        if "unit" in table:
            check.add(
                f"{place}.unit", table["unit"], "a unit with no = a treatment only: outcomes are of the whole site"
            )
    elif bounds or "by" in table:
        check.add(place, dict(table), "no and, if wanted, unit and often")
    by = table.get("by")
    return Limit(
        outcome=str(table.get("outcome", "")),
        **{key: check.number(f"{place}.{key}", number, -_LARGEST, _LARGEST) for key, number in bounds.items()},
        by=None if by is None else check.whole(f"{place}.by", by, 1, 10_000),
        no=check.text(f"{place}.no", table.get("no", "")),
        unit=check.text(f"{place}.unit", table.get("unit", "")),
        often=check.number(f"{place}.often", table.get("often", 0.1), 0, 1),
    )


def _unknown(check: Check, place: str, table: Mapping[str, Any], kind: type[Any]) -> None:
    allowed: Iterable[str] = kind.__dataclass_fields__
    for key in table:
        if key not in allowed:
            check.add(f"{place}{key}", table[key], f"only the keys {', '.join(allowed)}")
