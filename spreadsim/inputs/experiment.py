"""An experiment: a site, a vine, crews, and strategies to compare."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.cross_checks import Parts, check_names, check_parts
from spreadsim.inputs.event import Event
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.settings import SETTINGS, check_settings
from spreadsim.inputs.site import Site
from spreadsim.inputs.start import Start
from spreadsim.inputs.start_checks import check_start
from spreadsim.inputs.strategy import NO_ACTION, Strategy
from spreadsim.inputs.treatment import Treatment
from spreadsim.inputs.treatment_file import load_treatment, treatment_names
from spreadsim.inputs.vine import Vine
from spreadsim.inputs.weather import Weather

_LISTS: Mapping[str, type[Any]] = MappingProxyType(
    {"crews": Crew, "strategies": Strategy, "treatments": Treatment, "funds": Fund, "events": Event}
)

# maps of more than so many cells times years are not kept of every year: they would take hundreds of megabytes
_MANY_CELL_YEARS = 500_000


@dataclass(frozen=True)
class Experiment:
    """Everything that a comparison needs.

    Attributes
    ----------
    title : str
        Name for people.
    site : Site
        The ground.
    vine : Vine
        The species.
    crews : tuple of Crew
        Who works.
    strategies : tuple of Strategy
        What is compared; ``"no action"`` always comes first and is added where it is missing.
    treatments : tuple of Treatment
        Own ones; they go before a shipped one of the same name.
    years : int
        Length, 1 to 400.
    replicates : int
        Random worlds, 1 to 1,000,000.
    seed : int
        0 to 2**32 - 1: one word of the key of every draw.
    fixed_parameters : bool
        All parameters at their defaults in every replicate.
    map_years : tuple of int or None
        Years of which maps are kept, 0 for the start; None: all of a small site, else the start, every fifth year
        and the last (see `kept_map_years`).
    weather : Weather
        Days fit to spray.
    funds : tuple of Fund
        Dated money; none: money is no limit.
    events : tuple of Event
        Storms, gaps and removals of shrubs, planned or by chance.
    units : str
        ``"metric"`` or ``"us"``: how numbers are shown.
    currency : str
        Of all prices.
    price_year : int or None
        Of all prices.
    notice : str
        What must be said wherever results are shown.
    goals : mapping
        What strategies are to be judged by, as a table ``[goals]`` says it; `analysis.goals_of` checks it. It decides
        no number, and so is no part of what is compared either.
    start : Start or None
        Learned state to begin from, later than the map; None: the map. Years, tasks, funds and crews count from the
        map all the same.
    path : Path or None
        The file that it was read from; no part of what is compared.

    Raises
    ------
    InputError
        Everything that is wrong, also between the parts: unknown names, a task that no crew may do.
    """

    title: str
    site: Site
    vine: Vine
    crews: tuple[Crew, ...]
    strategies: tuple[Strategy, ...]
    _: KW_ONLY
    treatments: tuple[Treatment, ...] = ()
    years: int = 30
    replicates: int = 200
    seed: int = 1
    fixed_parameters: bool = False
    map_years: tuple[int, ...] | None = None
    weather: Weather = field(default_factory=Weather)
    funds: tuple[Fund, ...] = ()
    events: tuple[Event, ...] = ()
    units: str = "metric"
    currency: str = "USD"
    price_year: int | None = None
    notice: str = ""
    goals: Mapping[str, Any] = field(default_factory=dict, compare=False)
    start: Start | None = None
    path: Path | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        """Check everything, then put no action first."""
        check = Check(f'Experiment "{self.title}"')
        check_settings(check, {name: getattr(self, name) for name in SETTINGS})
        parts: dict[str, type] = {"site": Site, "vine": Vine, "weather": Weather}
        for name, kind in parts.items():
            if not isinstance(getattr(self, name), kind):
                check.add(name, getattr(self, name), f"a {kind.__name__}")
        for name, kind in _LISTS.items():
            object.__setattr__(self, name, check.instances(name, getattr(self, name), kind))
            if name != "events":
                check_names(check, name, getattr(self, name))
        object.__setattr__(self, "goals", _plain_goals(check, self.goals))
        if self.start is not None and not isinstance(self.start, Start):
            check.add("start", self.start, "a Start, or None")
        check.done()
        if self.map_years is not None:
            object.__setattr__(self, "map_years", tuple(sorted(self.map_years)))
        known = {name: self.treatment(name) for name in self.known_treatments()}
        tasks = [(strategy.name, strategy.tasks) for strategy in self.strategies]
        extent = (self.site.width, self.site.height)
        parts_of = Parts(self.crews, tasks, known, self.site.unit_names, self.years, self.funds, self.events, extent)
        check_parts(check, parts_of)
        if self.start is not None:
            vine = self.vine.parameters
            check_start(check, self.start, self.site, vine, parts_of)
        check.done()
        object.__setattr__(self, "strategies", _no_action_first(self.strategies))

    def treatment(self, name: str) -> Treatment:
        """Give a treatment by name, own ones before those shipped; an unknown name is an `InputError`."""
        for own in self.treatments:
            if own.name == name:
                return own
        if name in treatment_names():
            return load_treatment(name)
        check = Check(f'Experiment "{self.title}"')
        check.add("treatment", name, one_of(self.known_treatments()))
        raise InputError(*check.problems.found)

    def known_treatments(self) -> tuple[str, ...]:
        """Give the names of all treatments that a task may use, own ones first."""
        return tuple(dict.fromkeys([own.name for own in self.treatments] + list(treatment_names())))

    def kept_map_years(self) -> tuple[int, ...]:
        """Give the years of which maps are kept: those chosen, else by years and cells alone, so by nothing else."""
        every = 1 if (self.years + 1) * self.site.mat.size <= _MANY_CELL_YEARS else 5
        years = self.map_years or {*range(0, self.years + 1, every), self.years}
        first = self.first_year
        return tuple(sorted({first if year == 0 else year for year in years if year == 0 or year >= first}))

    @property
    def first_year(self) -> int:
        """The year at whose end the comparison begins; 0: with the map."""
        return 0 if self.start is None else self.start.years

    def to_dict(self) -> dict[str, Any]:
        """Give everything but the site, the start and the path as plain data that JSON can hold, exactly."""
        plain: dict[str, Any] = {name: getattr(self, name) for name in SETTINGS}
        plain |= {"vine": self.vine.to_dict(), "weather": self.weather.to_dict()}
        for name in _LISTS:
            plain[name] = [part.to_dict() for part in getattr(self, name)]
        return plain

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], site: Site) -> Experiment:
        """Make an experiment of what `to_dict` gave, and its site."""
        parts: dict[str, Any] = {name: data[name] for name in SETTINGS if name != "map_years"}
        parts["map_years"] = data.get("map_years")  # older outcomes have none
        for name, kind in _LISTS.items():  # outcomes of older versions have neither funds nor events
            parts[name] = tuple(kind.from_dict(part) for part in data.get(name, ()))
        vine, weather = Vine.from_dict(data["vine"]), Weather.from_dict(data["weather"])
        return cls(site=site, vine=vine, weather=weather, **parts)


def _plain_goals(check: Check, goals: object) -> dict[str, Any]:
    """Give a copy of plain data that JSON can hold, since it is embedded in the outcomes."""
    try:
        plain = json.loads(json.dumps(dict(goals), allow_nan=False))  # type: ignore[call-overload]
    except (TypeError, ValueError):
        check.add("goals", goals, "a table of texts, finite numbers, lists and tables")
        return {}
    return dict(plain)


def _no_action_first(strategies: tuple[Strategy, ...]) -> tuple[Strategy, ...]:
    named = [strategy for strategy in strategies if strategy.name == NO_ACTION]
    others = [strategy for strategy in strategies if strategy.name != NO_ACTION]
    return (*(named or [Strategy(NO_ACTION)]), *others)
