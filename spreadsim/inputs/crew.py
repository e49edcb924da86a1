"""A crew: people with hours in each season, and the treatments that they may do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from spreadsim.errors import one_of
from spreadsim.inputs.checks import Check
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
        volunteers, pace, turnout, price, paid, people
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
        values = {
            "name": check.text("name", name, empty=False),
            "hours": by_season(check, "hours", hours),
            "may": allowed,
            "volunteers": check.flag("volunteers", volunteers),
            "pace": check.number("pace", pace, 0, 2, above=True),
            "turnout": check.number("turnout", turnout, 0, 1.5),
            "price": check.number("price", price, 0),
            "paid": check.flag("paid", paid),
            "people": check.number("people", people, 0, 1000, above=True),
        }
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
        return plain | {"hours": dict(zip(SEASONS, self.hours, strict=True)), "may": list(self.may)}

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Crew:
        """Make a crew of what `to_dict` gave."""
        return cls(**data)


def by_season(check: Check, place: str, values: Any) -> tuple[float, float, float, float]:
    """Check numbers of at least 0 by season.

    Parameters
    ----------
    check : Check
        Where to note problems.
    place : str
        The place named there.
    values : float, mapping or four numbers
        One for every season; by season, 0 where not named; or in the order of the year.

    Returns
    -------
    tuple of four floats
        From winter to autumn.
    """
    if isinstance(values, Mapping):
        for season in values:
            if season not in SEASONS:
                check.add(f"{place}.{season}", values[season], one_of(SEASONS))
        four = [check.number(f"{place}.{season}", values.get(season, 0.0), 0) for season in SEASONS]
    elif isinstance(values, Iterable) and not isinstance(values, str):
        listed = list(values)
        if len(listed) != len(SEASONS):
            check.add(place, listed, "four numbers, from winter to autumn")
            return 0.0, 0.0, 0.0, 0.0
        four = [check.number(f"{place}[{index}]", value, 0) for index, value in enumerate(listed)]
    else:
        four = [check.number(place, values, 0)] * len(SEASONS)
    return four[0], four[1], four[2], four[3]
