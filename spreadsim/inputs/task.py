"""A task: a treatment with its targets, order, seasons, hours and follow-up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, asdict, dataclass
from types import MappingProxyType
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.times import MOST_SEASONS, Years, span_of_years
from spreadsim.inputs.treatment import Treatment
from spreadsim.schema import SEASONS

TARGETS = ("all", "fruiting", "climbing")

# The orders in which targets may be worked, by what the treatment acts on; the first is the usual one.
_GROUND = ("largest first", "outlying patches first", "by unit", "walking sweep", "nearest access first")
ORDERS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "stems": (
            "fruiting first",
            "most fruit per hour",
            "outlying patches first",
            "by unit",
            "walking sweep",
            "nearest access first",
        ),
        "mat": _GROUND,
        "natives": _GROUND,
        "sources": ("nearest access first",),
        "search": ("walking sweep", "by unit", "nearest access first"),
    }
)
ALL_ORDERS = tuple(dict.fromkeys(order for orders in ORDERS.values() for order in orders))
CLEAN = "two clean visits"  # for planting: ground whose last two visits found no vine
CONDITIONS = ("no known fruiting host in the unit", "no known fruiting host on the site", CLEAN)


def kind_of_work(treatment: Treatment) -> str:
    """Tell what a treatment goes to.

    Returns
    -------
    str
        ``"stems"`` (hosts), ``"mat"`` (ground with vine), ``"natives"`` (ground to plant), ``"sources"``
        (planted shrubs outside) or ``"search"``.
    """
    if "stems" in treatment.acts_on:
        return "stems"
    for alone in ("search", "natives", "sources"):
        if treatment.acts_on == {alone}:
            return alone
    return "mat"


@dataclass(frozen=True)
class FollowUp:
    """Coming back to what was treated.

    Attributes
    ----------
    every : int
        Seasons between visits, at least 1.
    clean : int
        Clean visits in a row after which a place is closed, at least 1.
    treatment : str or None
        The treatment of the visits; None for the task's own.
    """

    every: int = 4
    clean: int = 2
    treatment: str | None = None

    def __post_init__(self) -> None:
        """Check everything."""
        check = Check("FollowUp")
        check.whole("every", self.every, 1, 400)
        check.whole("clean", self.clean, 1, 100)
        if self.treatment is not None:
            check.text("treatment", self.treatment, empty=False)
        check.done()


@dataclass(frozen=True)
class Task:
    """One kind of work in a strategy.

    Attributes
    ----------
    treatment : str
        Name of the treatment.
    name : str or None
        What to call the task; None: as the treatment (see `label`).
    targets : str
        ``"all"``; for treatments of stems also ``"fruiting"`` or ``"climbing"``.
    order : str or None
        In which order targets are worked, see `ORDERS`; None: the usual one (see `order_for`).
    units : tuple of str
        Units of the site to work in; none: all of it.
    seasons : tuple of str
        Seasons to work in; none: those of the treatment.
    years : tuple of (int, int or None), or None
        First and last year, from 1, both included; None: all years, or no end.
    share : float
        Largest share of a season's crew hours.
    cap : float or None
        Largest number of hours in a season.
    new_ground : float or None
        Largest area newly opened in a year, m2.
    follow_up : FollowUp or None
        Coming back; None: never.
    not_until : str or None
        Condition to wait for, one of `CONDITIONS`.
    instead : str or None
        Treatment on days that are unfit for this one.
    crews : tuple of str
        Crews that do it; none: all that may.
    haul_out : bool
        Whether what is pulled is carried out.
    permit_seasons : int
        Seasons from the start until the permit or notice that it needs has run.
    """

    treatment: str
    _: KW_ONLY
    name: str | None = None
    targets: str = "all"
    order: str | None = None
    units: tuple[str, ...] = ()
    seasons: tuple[str, ...] = ()
    years: Years = None
    share: float = 1.0
    cap: float | None = None
    new_ground: float | None = None
    follow_up: FollowUp | None = None
    not_until: str | None = None
    instead: str | None = None
    crews: tuple[str, ...] = ()
    haul_out: bool = False
    permit_seasons: int = 0

    def __post_init__(self) -> None:
        """Check everything and put it in its proper types."""
        check = Check(f'Task "{self.name or self.treatment}"')
        check.text("treatment", self.treatment, empty=False)
        for field in ("name", "instead"):
            if getattr(self, field) is not None:
                check.text(field, getattr(self, field), empty=False)
        check.choice("targets", self.targets, TARGETS)
        for field, names in (("order", ALL_ORDERS), ("not_until", CONDITIONS)):
            if getattr(self, field) is not None:
                check.choice(field, getattr(self, field), names)
        seasons = check.words("seasons", self.seasons, SEASONS)
        values: dict[str, Any] = {
            "units": check.words("units", self.units),
            "crews": check.words("crews", self.crews),
            "seasons": tuple(season for season in SEASONS if season in seasons),
            "years": span_of_years(check, self.years),
            "share": check.number("share", self.share, 0, 1),
            "haul_out": check.flag("haul_out", self.haul_out),
            "permit_seasons": check.whole("permit_seasons", self.permit_seasons, 0, MOST_SEASONS),
        }
        for field in ("cap", "new_ground"):
            if getattr(self, field) is not None:
                values[field] = check.number(field, getattr(self, field), 0)
        if self.follow_up is not None and not isinstance(self.follow_up, FollowUp):
            check.add("follow_up", self.follow_up, "a FollowUp")
        check.done()
        for field, value in values.items():
            object.__setattr__(self, field, value)

    @property
    def label(self) -> str:
        """What to call the task."""
        return self.name or self.treatment

    def order_for(self, treatment: Treatment) -> str:
        """Give the order of work: the task's, or the usual one of its treatment."""
        return self.order or ORDERS[kind_of_work(treatment)][0]

    def seasons_for(self, treatment: Treatment) -> tuple[str, ...]:
        """Give the seasons of work: the task's, or those of its treatment."""
        return self.seasons or treatment.seasons

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain = asdict(self)
        for field in ("units", "seasons", "crews"):
            plain[field] = list(plain[field])
        return plain | {"years": None if self.years is None else list(self.years)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Task:
        """Make a task of what `to_dict` gave."""
        follow_up = data["follow_up"]
        return cls(**{**data, "follow_up": None if follow_up is None else FollowUp(**follow_up)})
