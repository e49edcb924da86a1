"""A crew: people with hours in each season, and the treatments that they may do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.times import MOST_SEASONS, Years, by_season, span_of_years
from spreadsim.inputs.treatment import Treatment
from spreadsim.schema import SEASONS

Hours = float | Mapping[str, float] | Iterable[float]


@dataclass(frozen=True, init=False)
class Crew:
    """A crew.

    Attributes
    ----------
    name : str
        Short name, such as ``"staff"``.
    hours : tuple of four floats
        Hours planned in winter, spring, summer and autumn.
    may : tuple of str
        Names of the treatments it may do, or ``("all",)``.
    volunteers : bool
        Whether they are volunteers: ``"all"`` then leaves out herbicides, and a treatment may kill less.
    pace : float
        Work done in an hour, relative to staff.
    turnout : float
        Share of the planned hours that come, on average.
    price : float
        Currency per hour.
    paid : bool
        Whether the price is cash; if not, it is counted as a match.
    people : float
        How many work at a time: on few days that are fit for it, more of them do more.
    turnout_spread : float
        Standard deviation of the turnout from season to season, 0 to 1.
    session_hours : float or None
        Hours that a session lasts; None: no sessions.
    setup_hours : float
        Hours of each session that go into setting up and putting away; less than `session_hours`.
    leader : str or None
        Name of the crew whose hours lead this one; None: it needs none.
    people_per_leader : float
        How many one leader leads.
    walking_minutes : float
        Walking and setting down, for each block of 10 m that is first visited in a season.
    minimum_charge : float
        Currency: the least that a paid crew costs in a season in which it works at all, leading others included.
    lead_seasons : int
        Seasons from the start until it can first come.
    years : tuple of (int, int or None), or None
        First and last year in which it is there, from 1, both included; None: all years, or no end.
    """

    name: str
    hours: tuple[float, float, float, float]
    may: tuple[str, ...]
    volunteers: bool = False
    pace: float = 1.0
    turnout: float = 1.0
    price: float = 0.0
    paid: bool = True
    people: float = 1.0
    turnout_spread: float = 0.0
    session_hours: float | None = None
    setup_hours: float = 0.0
    leader: str | None = None
    people_per_leader: float = 9.0
    walking_minutes: float = 0.0
    minimum_charge: float = 0.0
    lead_seasons: int = 0
    years: Years = None

    def __init__(
        self,
        name: str,
        hours: Hours,
        may: str | Iterable[str] = ("all",),
        *,
        volunteers: bool = False,
        pace: float = 1.0,
        turnout: float = 1.0,
        price: float = 0.0,
        paid: bool = True,
        people: float = 1.0,
        turnout_spread: float = 0.0,
        session_hours: float | None = None,
        setup_hours: float = 0.0,
        leader: str | None = None,
        people_per_leader: float = 9.0,
        walking_minutes: float = 0.0,
        minimum_charge: float = 0.0,
        lead_seasons: int = 0,
        years: Sequence[int | None] | None = None,
    ) -> None:
        """Check and freeze a crew.

        Parameters
        ----------
        name : str
            Short name.
        hours : float, mapping or four numbers
            Hours in every season; by season (those not named: none); or from winter to autumn.
        may : str or list of str
            A treatment, treatments, or ``"all"``.
        volunteers, pace, turnout, price, paid, people, turnout_spread, session_hours, setup_hours, leader, \
        people_per_leader, walking_minutes, minimum_charge, lead_seasons, years
            See the class.

        Raises
        ------
        InputError
            For all values that are not allowed.
        """
        check = Check(f'Crew "{name}"')
        allowed = check.words("may", [may] if isinstance(may, str) else may)
        if "all" in allowed and len(allowed) > 1:
            check.add("may", list(allowed), 'either "all" or names of treatments')
        values: dict[str, Any] = {
            "name": check.text("name", name, empty=False),
            "hours": by_season(check, "hours", hours),
            "may": allowed,
            "volunteers": check.flag("volunteers", volunteers),
            "pace": check.number("pace", pace, 0, 2, above=True),
            "turnout": check.number("turnout", turnout, 0, 1.5),
            "price": check.number("price", price, 0),
            "paid": check.flag("paid", paid),
            "people": check.number("people", people, 0, 1000, above=True),
            "turnout_spread": check.number("turnout_spread", turnout_spread, 0, 1),
            "setup_hours": check.number("setup_hours", setup_hours, 0, 24),
            "people_per_leader": check.number("people_per_leader", people_per_leader, 0, 1000, above=True),
            "walking_minutes": check.number("walking_minutes", walking_minutes, 0, 600),
            "minimum_charge": check.number("minimum_charge", minimum_charge, 0),
            "lead_seasons": check.whole("lead_seasons", lead_seasons, 0, MOST_SEASONS),
            "years": span_of_years(check, years),
        }
        if session_hours is not None:
            values["session_hours"] = check.number("session_hours", session_hours, 0, 24, above=True)
        if session_hours is None and values["setup_hours"] > 0:
            check.add("setup_hours", setup_hours, "0, unless session_hours says how long a session lasts")
        elif values["setup_hours"] >= (values.get("session_hours") or math.inf):
            check.add("setup_hours", setup_hours, f"less than session_hours ({values['session_hours']:g})")
        if leader is not None:
            values["leader"] = check.text("leader", leader, empty=False)
            if values["leader"] and leader == name:
                check.add("leader", leader, "the name of another crew")
        check.done()
        for key, value in values.items():
            object.__setattr__(self, key, value)

    def may_do(self, treatment: Treatment) -> bool:
        """Tell whether the crew may do a treatment; volunteers use herbicides only where `may` names them."""
        if self.may == ("all",):
            return not (self.volunteers and treatment.herbicide)
        return treatment.name in self.may

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain = {name: getattr(self, name) for name in self.__dataclass_fields__}
        plain["years"] = None if self.years is None else list(self.years)
        return plain | {"hours": dict(zip(SEASONS, self.hours, strict=True)), "may": list(self.may)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Crew:
        """Make a crew of what `to_dict` gave."""
        return cls(**data)
