"""Reading an experiment from a TOML file, or from outcomes that carry the experiment they came from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.crew_table import read_crew_table
from spreadsim.inputs.cross_checks import Parts, check_names, check_parts, check_raw_names
from spreadsim.inputs.embed import PREFIX, unembed
from spreadsim.inputs.event import Event
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.file_models import ExperimentTable
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.layers_file import open_netcdf
from spreadsim.inputs.paths import beside
from spreadsim.inputs.profile_reader import ProfileReader
from spreadsim.inputs.settings import MOST_YEARS, SETTINGS, check_settings
from spreadsim.inputs.site import Site
from spreadsim.inputs.site_file import build_site
from spreadsim.inputs.start import Start
from spreadsim.inputs.start_file import read_start
from spreadsim.inputs.strategy_tables import Found, read_crews, read_events, read_funds, read_strategies
from spreadsim.inputs.taking import take
from spreadsim.inputs.toml import read_toml
from spreadsim.inputs.treatment import Treatment
from spreadsim.inputs.treatment_file import load_treatment, treatment_names
from spreadsim.inputs.weather import Weather
from spreadsim.inputs.weather_file import read_weather

_HDF5 = b"\x89HDF\r\n\x1a\n"


def read_experiment(path: str | Path) -> Experiment:
    """Read an experiment.

    Parameters
    ----------
    path : str or Path
        A TOML file, or outcomes (NetCDF or Zarr) written by spreadsim: the experiment that they came from. With
        ``units = "us"`` in it, lengths of ``[[events]]`` are in feet, and ``[weather]`` and its CSV file in degF,
        miles per hour and inches; so is a site that stands in it and says no ``units``. The file of a site says its
        own.

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
    if _is_outcomes(path):
        check = Check(str(path))
        dataset = open_netcdf(path, check, PREFIX)
        check.done()
        try:
            return unembed(dataset)
        except InputError as error:
            check.problems.absorb(error, file=str(path))
            raise check.problems.error() from error
    return _Reader(path, read_toml(path)).read()


def _is_outcomes(path: Path) -> bool:
    try:
        if (path / "zarr.json").exists():
            return True
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
        self.us = self.values["units"] == "us"

    def read(self) -> Experiment:
        settings = {name: self.values[name] for name in SETTINGS if name in self.values}
        check_settings(self.check, settings)
        profiles = ProfileReader(self.path.parent, self.check)
        treatments = profiles.treatments(self.values["treatments"])
        vine = profiles.vine(self.values.get("vine"))
        vine, treatments = profiles.parameters(self.values["parameters"], vine, treatments)
        site = self._site(self.values.get("site"))
        start = self._start(self.values["start"], site)
        weather = read_weather(self.values["weather"], self.path.parent, self.check, us=self.us)
        crews = self._crews(self.values["crews"])
        funds = read_funds(self.values["funds"], self.check)
        events = read_events(self.values["events"], self.check, unit="ft" if self.us else "m")
        found = read_strategies(self.values["strategies"], self.check)
        self._cross(crews, found, treatments, site, funds, events)
        self.check.done()
        parts: dict[str, Any] = {
            "site": site,
            "vine": vine,
            "crews": crews,
            "strategies": [one.strategy for one in found],
            "treatments": treatments,
            "funds": funds,
            "events": events,
            "goals": self.values["goals"],
            "start": start,
        }
        try:
            return Experiment(**parts, **settings, weather=weather or Weather(), path=self.path)
        except InputError as error:
            self.check.problems.absorb(error, file=str(self.path))
            raise self.check.problems.error() from error

    def _crews(self, given: object) -> list[Crew | None]:
        """Read crews of tables, or of the file that stands there instead."""
        if isinstance(given, str) or (isinstance(given, Mapping) and "file" in given):
            return read_crew_table(given, self.path.parent, self.check, "crews")
        if not isinstance(given, list):
            self.check.add("crews", given, 'tables [[crews]], or a file such as "survey.xlsx"')
            return [None]
        return read_crews(given, self.check)

    def _site(self, table: object) -> Site | None:
        if not isinstance(table, Mapping):  # noted already
            return None
        if "file" not in table:
            table = {"units": self.values["units"], **table}  # what the file says of itself holds within it
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

    def _start(self, name: object, site: Site | None) -> Start | None:
        """Read the learned state that a file holds, if one is named."""
        path = None if name is None else beside(self.path.parent, name, self.check, "start")
        if path is None or site is None:
            return None
        try:
            return read_start(path, site)
        except InputError as error:
            self.check.problems.absorb(error)
            return None

    def _cross(
        self,
        crews: list[Crew | None],
        found: list[Found],
        treatments: list[Treatment | None],
        site: Site | None,
        funds: list[Fund | None],
        events: list[Event | None],
    ) -> None:
        """Check the parts against each other, as far as they could be read."""
        check_names(self.check, "crews", crews)
        check_names(self.check, "funds", funds)
        check_names(self.check, "strategies", [one if one.name else None for one in found])
        if None in treatments:  # one could not be read, so that a name that is not known may be its
            return
        known: dict[str, Treatment | None] = {name: load_treatment(name) for name in treatment_names()}
        known |= {own.name: own for own in treatments if own is not None}
        tasks = [(one.name, one.tasks) for one in found]
        years = self.values["years"] if self.values["years"] > 0 else MOST_YEARS
        units, extent = (None, None) if site is None else (site.unit_names, (site.width, site.height))
        check_parts(self.check, Parts(crews, tasks, known, units, years, funds, events, extent))
        for place, table, made in self._tables(crews, found):
            if made is None:
                check_raw_names(self.check, place, table, known)

    def _tables(self, crews: list[Crew | None], found: list[Found]) -> Iterator[tuple[str, object, object]]:
        """Give the place and the text of every crew and task, beside what was made of it."""
        given = self.values["crews"] if isinstance(self.values["crews"], list) else []
        yield from ((f"crews[{k}]", *both) for k, both in enumerate(zip(given, crews, strict=False)))
        strategies = self.values["strategies"] if isinstance(self.values["strategies"], list) else []
        for k, (table, one) in enumerate(zip(strategies, found, strict=False)):
            tasks = table.get("tasks") if isinstance(table, Mapping) else None
            texts = tasks if isinstance(tasks, list) else []
            for t, both in enumerate(zip(texts, one.tasks, strict=False)):
                yield (f"strategies[{k}].tasks[{t}]", *both)
