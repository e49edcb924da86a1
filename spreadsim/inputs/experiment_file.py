"""Reading an experiment from a TOML file, or from outcomes that carry the experiment they came from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.cross_checks import Parts, check_names, check_parts
from spreadsim.inputs.embed import unembed
from spreadsim.inputs.experiment import MOST_YEARS, Experiment, check_settings
from spreadsim.inputs.file_models import ExperimentTable, WeatherTable, take
from spreadsim.inputs.layers_file import open_netcdf
from spreadsim.inputs.paths import beside
from spreadsim.inputs.site import Site
from spreadsim.inputs.site_file import build_site
from spreadsim.inputs.strategy_tables import Found, read_crews, read_strategies
from spreadsim.inputs.toml import read_toml
from spreadsim.inputs.treatment import Treatment, load_treatment, treatment_names
from spreadsim.inputs.vine import Vine, load_vine, vine_names
from spreadsim.inputs.weather import Weather

_PARTS = ("vine", "site", "treatments", "parameters", "weather", "crews", "strategies")
_NAMES = "a parameter of the vine (mat.front_speed) or of a treatment (cut.stem_kill)"
_HDF5 = b"\x89HDF\r\n\x1a\n"


def read_experiment(path: str | Path) -> Experiment:
    """Read an experiment.

    Parameters
    ----------
    path : str or Path
        A TOML file, or outcomes (NetCDF) written by spreadsim: the experiment that they came from.

    Returns
    -------
    Experiment

    Raises
    ------
    InputError
        Everything that is wrong with it and with the files that it names, one line each, such as
        ``experiment.toml: strategies[2].tasks[0].share: found 1.4, allowed 0 to 1``. Counting starts at 0.
    """
    path = Path(path)
    if _is_netcdf(path):
        check = Check(str(path))
        dataset = open_netcdf(path, check)
        check.done()
        try:
            return unembed(dataset)
        except InputError as error:
            check.problems.absorb(error, file=str(path))
            raise InputError(*check.problems.found) from error
    return _Reader(path, read_toml(path)).read()


def _is_netcdf(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(_HDF5)) == _HDF5
    except (OSError, ValueError):
        return path.suffix == ".nc"


class _Reader:
    """Reads the parts of an experiment one after the other, noting everything that is wrong."""

    def __init__(self, path: Path, data: Mapping[str, Any]) -> None:
        self.path = path
        self.check = Check(str(path))
        # What is wrong at the top must not hide what is wrong further down.
        self.values, _ = take(ExperimentTable, data, self.check)

    def read(self) -> Experiment:
        settings = {name: value for name, value in self.values.items() if name not in _PARTS}
        check_settings(self.check, settings)
        treatments = self._treatments(self.values["treatments"])
        vine = self._profile(load_vine, self.values.get("vine"), vine_names(), "vine")
        vine, treatments = self._parameters(self.values["parameters"], vine, treatments)
        site = self._site(self.values.get("site"))
        weather = self._weather(self.values["weather"])
        crews = read_crews(self.values["crews"], self.check)
        found = read_strategies(self.values["strategies"], self.check)
        self._cross(crews, found, treatments, site)
        self.check.done()
        strategies = [one.strategy for one in found]
        parts: dict[str, Any] = {
            "site": site,
            "vine": vine,
            "crews": crews,
            "strategies": strategies,
            "treatments": treatments,
        }
        try:
            return Experiment(**parts, **settings, weather=weather or Weather(), path=self.path)
        except InputError as error:
            self.check.problems.absorb(error, file=str(self.path))
            raise InputError(*self.check.problems.found) from error

    def _treatments(self, names: list[str]) -> list[Treatment | None]:
        shipped = treatment_names()
        own = [
            self._profile(load_treatment, name, shipped, f"treatments[{k}]") for k, name in enumerate(names)
        ]
        check_names(self.check, "treatments", own)
        return own

    def _profile(self, load: Any, name: object, shipped: tuple[str, ...], place: str) -> Any:
        """Load a profile that is shipped or lies beside the experiment."""
        if not isinstance(name, str):  # noted already
            return None
        if name in shipped:
            return load(name)
        if not name.endswith(".toml"):
            self.check.add(place, name, f"{one_of(shipped)}, or the path of a TOML file")
            return None
        path = beside(self.path.parent, name, self.check, place)
        try:
            return None if path is None else load(path)
        except InputError as error:
            self.check.problems.absorb(error)
            return None

    def _parameters(
        self, values: Mapping[str, Any], vine: Vine | None, treatments: list[Treatment | None]
    ) -> tuple[Vine | None, list[Treatment | None]]:
        """Replace values of the vine, and of treatments, which then become own ones."""
        of_vine: dict[str, Any] = {}
        of_treatments: dict[str, dict[str, Any]] = {}
        own = {one.name: one for one in treatments if one is not None}
        for full, value in _flat(values).items():
            first, _, rest = full.partition(".")
            if first in own or first in treatment_names():
                of_treatments.setdefault(first, {})[rest] = value
            elif full not in (vine or load_vine(vine_names()[0])).parameters:
                self.check.add(f"parameters.{full}", value, _NAMES)
            else:
                of_vine[full] = value
        vine = None if vine is None else self._replaced(vine, of_vine, "parameters")
        for name, changes in of_treatments.items():
            old = own.get(name) or load_treatment(name)
            changed = self._replaced(old, changes, f"parameters.{name}")
            treatments = [one for one in treatments if one is None or one.name != name] + [changed or old]
        return vine, treatments

    def _replaced(self, profile: Any, values: Mapping[str, Any], place: str) -> Any:
        try:
            return profile.replace(values) if values else profile
        except InputError as error:
            self.check.problems.absorb(error, file=str(self.path), place=place)
            return None

    def _site(self, table: object) -> Site | None:
        if not isinstance(table, Mapping):  # noted already
            return None
        if "file" not in table:
            return build_site(table, self.path.parent, self.check, "site")
        for key in table:
            if key != "file":
                self.check.add(f"site.{key}", table[key], "no other key beside file")
        path = beside(self.path.parent, table["file"], self.check, "site.file")
        try:
            data = None if path is None else read_toml(path)
        except InputError as error:
            self.check.problems.absorb(error)
            return None
        if path is None:
            return None
        return build_site(data, path.parent, Check(str(path), self.check.problems))

    def _weather(self, table: Mapping[str, Any]) -> Weather | None:
        values, _ = take(WeatherTable, table, self.check, "weather")
        try:
            return Weather(values["fit_days"])
        except InputError as error:
            self.check.problems.absorb(error, file=str(self.path), place="weather")
            return None

    def _cross(
        self,
        crews: list[Crew | None],
        found: list[Found],
        treatments: list[Treatment | None],
        site: Site | None,
    ) -> None:
        """Check the parts against each other, as far as they could be read."""
        check_names(self.check, "crews", crews)
        check_names(self.check, "strategies", [one if one.name else None for one in found])
        if None in treatments:  # one could not be read, so that a name that is not known may be its
            return
        known: dict[str, Treatment | None] = {name: load_treatment(name) for name in treatment_names()}
        known |= {own.name: own for own in treatments if own is not None}
        tasks = [(one.name, one.tasks) for one in found]
        years = self.values["years"] if self.values["years"] > 0 else MOST_YEARS
        check_parts(self.check, Parts(crews, tasks, known, site.unit_names if site else None, years))


def _flat(values: Mapping[str, Any]) -> dict[str, Any]:
    """Give parameters by full name, whether the file has "mat.front_speed" in quotes or not."""
    flat: dict[str, Any] = {}
    for key, value in values.items():
        if "." not in key and isinstance(value, Mapping):
            flat |= {f"{key}.{inner}": item for inner, item in value.items()}
        else:
            flat[key] = value
    return flat
