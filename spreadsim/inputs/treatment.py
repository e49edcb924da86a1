"""A treatment: what it acts on, what it kills, costs and harms, and where and when it may be used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from spreadsim.errors import MISSING, InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.limits import check_limits
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.parameter_sets import check_parameters, parameters_from_dict, replace_values
from spreadsim.schema import SEASONS

ACTS_ON = ("stems", "mat", "seedlings", "search", "natives", "sources")
_ALONE = ("natives", "sources")  # nothing can be done to them together with something else

# The parameters that the model knows, with the unit it takes each in.
ROLES: Mapping[str, str] = MappingProxyType(
    {
        "stem_kill": "1",
        "stem_kill_volunteers": "1",
        "base_kill": "1",
        "mat_kill": "1",
        "seedling_kill": "1",
        "kill_variation": "1",
        "hours_per_host": "h/host",
        "hours_per_area": "h/m2",
        "hours_floor": "1",
        "hauling_share": "1",
        "reroots": "1",
        "ring_radius": "m",
        "native_loss_dormant": "1",
        "native_loss_growing": "1",
        "crop_prevented_ripe": "1",
        "material_per_area": "currency/m2",
        "material_per_host": "currency/host",
        "fit_hours_per_day": "h",
        "cryptic_share": "1",
        "leaf_off_boost": "1",
        "clumping_factor": "1",
        "search_time_constant_mat": "min/ha",
        "search_time_constant_climbing": "min/ha",
        "search_time_constant_seedling": "min/ha",
        "incidental_finds": "1",
        "misidentified": "1",
        "cover_years": "yr",
        "hours_per_visit": "h",
        "largest_patch": "m2",
        "plant_survival": "1",
        "consent": "1",
        "consent_delay": "yr",
        "volume_per_area": "m3/m2",
    }
)
_FLAGS = ("needs_fit_weather", "not_on_sensitive", "disturbs", "herbicide")
KEYS = ("name", "title", "acts_on", "seasons", *_FLAGS, "cautions", "parameters")


@dataclass(frozen=True)
class Treatment:
    """A treatment.

    Attributes
    ----------
    name, title : str
        Short name, and name for people.
    acts_on : frozenset of str
        Any of ``"stems"``, ``"mat"``, ``"seedlings"`` and ``"search"``; or one of ``"natives"`` (planting) and
        ``"sources"`` (planted shrubs beyond the boundary) alone.
    seasons : tuple of str
        The seasons in which it may be used, in the order of the year.
    needs_fit_weather : bool
        Only on days fit to spray.
    not_on_sensitive : bool
        Not on sensitive ground.
    disturbs : bool
        Disturbs the ground, so that growth and seedlings are faster there for a while.
    herbicide : bool
        Uses a herbicide; volunteers don't, unless their crew names it.
    cautions : tuple of str
        What must be said wherever it is shown.
    parameters : mapping of str to Parameter
        By role (see `ROLES`), in SI; read-only. A role that is absent is 0, but ``stem_kill_volunteers``
        is then as ``stem_kill`` and ``seedling_kill`` as ``mat_kill``.

    Raises
    ------
    InputError
        If anything in it is not allowed.
    """

    name: str
    title: str
    acts_on: frozenset[str]
    seasons: tuple[str, ...] = SEASONS
    needs_fit_weather: bool = False
    not_on_sensitive: bool = False
    disturbs: bool = False
    herbicide: bool = False
    cautions: tuple[str, ...] = ()
    parameters: Mapping[str, Parameter] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check everything, sort the seasons and freeze the parameters."""
        check = Check(f'Treatment "{self.name}"')
        check.text("name", self.name, empty=False)
        check.text("title", self.title, empty=False)
        acts_on = check.words("acts_on", self.acts_on, ACTS_ON)
        seasons = check.words("seasons", self.seasons, SEASONS)
        for place, words in (("acts_on", acts_on), ("seasons", seasons)):
            if not words and not len(check.problems):
                check.add(place, list(words), "at least one")
        for part in _ALONE:
            if part in acts_on and len(acts_on) > 1:
                check.add("acts_on", list(acts_on), f'"{part}" alone, or a list without it')
        for flag in _FLAGS:
            check.flag(flag, getattr(self, flag))
        cautions = check.words("cautions", self.cautions)
        check_parameters(self.parameters, check)
        for name, parameter in self.parameters.items():
            if name not in ROLES:
                check.add(f"parameters.{name}", parameter.value, one_of(ROLES))
            elif parameter.unit != ROLES[name]:
                check.add(f"parameters.{name}.unit", parameter.unit, f'"{ROLES[name]}"')
            elif not isinstance(parameter.value, float):
                check.add(f"parameters.{name}.value", parameter.value, "a finite number")
        check_limits(self.parameters, check)
        check.done()
        object.__setattr__(self, "acts_on", frozenset(acts_on))
        object.__setattr__(self, "seasons", tuple(season for season in SEASONS if season in seasons))
        object.__setattr__(self, "cautions", cautions)
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))

    def __iter__(self) -> Iterator[str]:
        """Go through the names of the parameters."""
        return iter(self.parameters)

    def __hash__(self) -> int:
        """Hash by name and values."""
        return hash((self.name, self.acts_on, self.seasons, tuple(self.parameters.values())))

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle with a plain dictionary, since a read-only view has no pickle."""
        values = [getattr(self, key) for key in KEYS]
        return type(self), (*values[:-1], dict(self.parameters))

    def __getitem__(self, role: str) -> Parameter:
        """Give the parameter of a role."""
        if role not in self.parameters:
            check = Check(f'Treatment "{self.name}"')
            check.add(f"parameters.{role}", MISSING, one_of(self.parameters))
            raise InputError(*check.problems.found)
        return self.parameters[role]

    def number(self, role: str) -> float:
        """Give the default of a role in SI; what stands in for it where it is absent."""
        stand_in = {"stem_kill_volunteers": "stem_kill", "seedling_kill": "mat_kill"}
        if role in self.parameters:
            return self.parameters[role].number
        return self.number(stand_in[role]) if role in stand_in else 0.0

    def replace(self, values: Mapping[str, Any], *, check_ranges: bool = True) -> Treatment:
        """Give the same treatment with other values; as `Vine.replace`, in SI."""
        thing = f'Treatment "{self.name}"'
        return replace(self, parameters=replace_values(self.parameters, values, thing, check_ranges))

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        plain: dict[str, Any] = {key: getattr(self, key) for key in KEYS}
        plain["acts_on"] = [part for part in ACTS_ON if part in self.acts_on]
        plain |= {"seasons": list(self.seasons), "cautions": list(self.cautions)}
        plain["parameters"] = {name: parameter.to_dict() for name, parameter in self.parameters.items()}
        return plain

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Treatment:
        """Make a treatment of what `to_dict` gave."""
        parameters = parameters_from_dict(data["parameters"])
        return cls(**{**data, "acts_on": frozenset(data["acts_on"]), "parameters": parameters})
