"""The few numbers that a steward knows, checked together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from spreadsim.errors import Said
from spreadsim.inputs.checks import Check
from spreadsim.inputs.units import ACRE, HECTARE, SYSTEMS
from spreadsim.starting.quantity import area_of, count_of, density_of, share_of

SPRAY = ("nobody", "paid", "everyone")
PROTECT = ("nothing", "water", "rare plants", "both")
BEYOND = ("nothing", "gardens", "mat", "both")
VINES = ("wintercreeper", "english-ivy")
MOST_AREA = 1000 * HECTARE
MOST_TREES = 200_000


@dataclass(frozen=True)
class Question:
    """One number to ask for.

    Attributes
    ----------
    text : str
        What is asked on a terminal.
    help : str
        What the number means, or where to get it.
    default : str
        Taken where nothing is said: invented, so the answer is only as good as that.
    us : str
        The same for people who work in acres.
    choices : tuple of str
        What may be answered, if not a number.
    """

    text: str
    help: str
    default: str
    us: str = ""
    choices: tuple[str, ...] = ()

    def usual(self, system: str) -> str:
        """Give the default in a system of units."""
        return self.us if self.us and system == "us" else self.default


QUESTIONS: Mapping[str, Question] = MappingProxyType(
    {
        "vine": Question("Which vine", "the species that creeps and climbs", "wintercreeper", choices=VINES),
        "area": Question("Area of the site", "such as 2.5 ha or 40 ac", "8 ha", "20 ac"),
        "canopy": Question("Canopy cover", "share of the sky that leaves hide in summer, such as 70 %", "70 %"),
        "trees": Question("Trees per area", "stems that could be climbed, such as 200/ha or 80/ac", "200/ha", "80/ac"),
        "mat": Question("Share of the ground under mat", "vine creeping on the ground, such as 4 %", "4 %"),
        "climbed": Question("Climbed trees", "trees with vine on the trunk, fruiting ones included", "40"),
        "fruiting": Question("Of these, fruiting", "those on which the vine bears flowers or berries", "10"),
        "volunteer_hours": Question("Volunteer hours a year", "people times hours, all year", "120"),
        "paid_hours": Question("Paid hours a year", "staff or contractor, all year", "40"),
        "spray": Question(
            "Who may use herbicide",
            "by licence and local rules; everyone: the volunteers as well",
            "nobody",
            choices=SPRAY,
        ),
        "spray_days": Question("Winter days fit to spray", "dry, mild and calm days, in a usual winter", "4"),
        "protect": Question("What must be protected", "no herbicide is used there", "nothing", choices=PROTECT),
        "beyond": Question(
            "What vine stands across the boundary",
            "gardens: planted vine that fruits; mat: vine on the ground that creeps in",
            "nothing",
            choices=BEYOND,
        ),
    }
)


@dataclass(frozen=True)
class Numbers:
    """What a site is invented from, in SI; made by `read_numbers`.

    Attributes
    ----------
    vine : str
        Name of a profile.
    area : float
        m2.
    canopy, mat : float
        Shares of the ground, 0-1.
    trees : float
        Per m2.
    climbed, fruiting : int
        Hosts; the fruiting are among the climbed.
    volunteer_hours, paid_hours : float
        A year.
    spray, protect, beyond : str
        Of `SPRAY`, `PROTECT` and `BEYOND`.
    spray_days : float
        In a winter.
    system : str
        ``"metric"`` or ``"us"``.
    asked : frozenset of str
        Which of them were told; the others are defaults.
    """

    vine: str
    area: float
    canopy: float
    trees: float
    mat: float
    climbed: int
    fruiting: int
    volunteer_hours: float
    paid_hours: float
    spray: str
    spray_days: float
    protect: str
    beyond: str
    system: str
    asked: frozenset[str]

    @property
    def tree_count(self) -> int:
        """How many hosts stand on the site."""
        return max(round(self.trees * self.area), 0)

    @property
    def may_spray(self) -> bool:
        """Whether a crew with hours may use herbicide."""
        return (self.spray != "nobody" and self.paid_hours > 0) or (self.spray == "everyone" and self.hours > 0)

    @property
    def hours(self) -> float:
        """Hours a year of all crews."""
        return self.volunteer_hours + self.paid_hours


def read_numbers(given: Mapping[str, Any], *, system: str = "metric", area: float | None = None) -> Numbers:
    """Read and check the numbers, with defaults where nothing is given.

    Parameters
    ----------
    given : mapping
        By the names of `QUESTIONS`: numbers, or texts with a unit; None as if it was not there.
    system : str
        ``"us"``: bare numbers are acres, and per acre.
    area : float, optional
        m2 inside a boundary, which then counts.

    Returns
    -------
    Numbers

    Raises
    ------
    InputError
        Everything that is wrong, also between them: more fruiting than climbed, more climbed than trees.
    """
    check = Check("")
    check.choice("units", system, SYSTEMS)
    told = {name: value for name, value in given.items() if value is not None}
    for name in told.keys() - QUESTIONS.keys():
        check.add(name, Said("a name that is not known"), ", ".join(QUESTIONS))
    values = {name: told.get(name, question.usual(system)) for name, question in QUESTIONS.items()}
    read: dict[str, Any] = {
        "vine": check.text("--vine", values["vine"], empty=False),
        "area": area_of(check, "--area", values["area"], system) if area is None else area,
        "canopy": share_of(check, "--canopy", values["canopy"]),
        "trees": density_of(check, "--trees", values["trees"], system),
        "mat": share_of(check, "--mat", values["mat"]),
        "spray_days": count_of(check, "--spray-days", values["spray_days"], 90),
    }
    for name in ("climbed", "fruiting"):
        number = count_of(check, f"--{name}", values[name])
        if number != int(number):
            check.add(f"--{name}", values[name], "a whole number of trees")
        read[name] = int(number)
    if "climbed" not in told and "fruiting" not in told:  # a small site has no room for the default
        read["climbed"] = min(read["climbed"], max(round(read["trees"] * read["area"]), 0) // 5)
    if "fruiting" not in told:  # a quarter of what is climbed, as the defaults have it
        read["fruiting"] = read["climbed"] // 4
    for name in ("volunteer_hours", "paid_hours"):
        read[name] = count_of(check, "--" + name.replace("_", "-"), values[name])
    for name, choices in (("spray", SPRAY), ("protect", PROTECT), ("beyond", BEYOND)):
        read[name] = check.choice(f"--{name}", values[name], choices)
    check.done()
    numbers = Numbers(**read, system=system, asked=frozenset(told))
    _check_together(check, numbers)
    check.done()
    return numbers


def in_acres(text: object) -> bool:
    """Tell whether somebody typed acres or square feet."""
    return isinstance(text, str) and any(part in text.lower() for part in ("ac", "sqft", "ft2"))


def _check_together(check: Check, numbers: Numbers) -> None:
    if not 200 <= numbers.area <= MOST_AREA:
        found = Said(f"{numbers.area / HECTARE:,.3g} ha ({numbers.area / ACRE:,.3g} acres)")
        check.add("--area", found, f"0.02 to {MOST_AREA / HECTARE:,.0f} ha")
    if numbers.tree_count > MOST_TREES:
        check.add("--trees", Said(f"{numbers.tree_count:,} trees on the site"), f"at most {MOST_TREES:,}")
    if numbers.trees > 1:
        check.add("--trees", Said(f"{numbers.trees * HECTARE:,.0f} a hectare"), "at most 10,000 a hectare")
    if numbers.fruiting > numbers.climbed:
        check.add("--fruiting", numbers.fruiting, f"at most the {numbers.climbed} that are climbed")
    if numbers.climbed > numbers.tree_count:
        check.add("--climbed", numbers.climbed, f"at most the {numbers.tree_count:,} trees of the site")
    if numbers.hours == 0:
        check.add("--volunteer-hours", Said("no hours of any crew"), "some hours, of volunteers or paid: who does it?")
